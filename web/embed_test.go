package web

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func read(t *testing.T, name string) string {
	t.Helper()
	body, err := fs.ReadFile(Files(), name)
	require.NoError(t, err)
	return string(body)
}

// own gives the names of our own files with one of the endings.
func own(t *testing.T, endings ...string) []string {
	t.Helper()
	var names []string
	err := fs.WalkDir(Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasPrefix(name, "vendor/") {
			for _, e := range endings {
				if strings.HasSuffix(name, e) {
					names = append(names, name)
				}
			}
		}
		return err
	})
	require.NoError(t, err)
	require.NotEmpty(t, names)
	return names
}

func TestVendoredFilesAreUnchanged(t *testing.T) {
	lines := bufio.NewScanner(strings.NewReader(read(t, "vendor/SHA256SUMS")))
	listed := map[string]bool{}
	for lines.Scan() {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		require.True(t, ok, "line %q", lines.Text())
		got := sha256.Sum256([]byte(read(t, "vendor/"+name)))
		assert.Equal(t, sum, hex.EncodeToString(got[:]), name)
		listed[name] = true
	}
	err := fs.WalkDir(Files(), "vendor", func(name string, d fs.DirEntry, err error) error {
		if ext := path.Ext(name); ext == ".mjs" || ext == ".css" || ext == ".woff2" {
			assert.True(t, listed[strings.TrimPrefix(name, "vendor/")], "%s is not in SHA256SUMS", name)
		}
		return err
	})
	require.NoError(t, err)
}

func TestEveryFileAskedForIsThere(t *testing.T) {
	for _, page := range own(t, ".html") {
		for _, m := range regexp.MustCompile(`(?:href|src)="/assets/([^"]+)"`).FindAllStringSubmatch(read(t, page), -1) {
			_, err := fs.Stat(Files(), m[1])
			assert.NoError(t, err, "%s asks for %s", page, m[1])
		}
	}
	imports := regexp.MustCompile(`(?m)^(?:import|export)[^;]*? from "([^"]+)";`)
	for _, name := range own(t, ".js") {
		for _, m := range imports.FindAllStringSubmatch(read(t, name), -1) {
			assert.True(t, strings.HasPrefix(m[1], "."), "%s imports %s: only relative paths are served", name, m[1])
			_, err := fs.Stat(Files(), path.Join(path.Dir(name), m[1]))
			assert.NoError(t, err, "%s imports %s", name, m[1])
		}
	}
	urls := regexp.MustCompile(`url\("([^"]+)"\)`)
	for _, name := range own(t, ".css") {
		for _, m := range urls.FindAllStringSubmatch(read(t, name), -1) {
			_, err := fs.Stat(Files(), path.Join(path.Dir(name), m[1]))
			assert.NoError(t, err, "%s asks for %s", name, m[1])
		}
	}
}

// The pages must work without internet and under a policy without inline code.
func TestPagesAskNobodyElseAndHaveNothingInline(t *testing.T) {
	foreign := regexp.MustCompile(`(?i)\b(?:https?:)?//[a-z0-9-]+\.[a-z]`)
	for _, name := range own(t, ".js", ".css", ".html") {
		for n, line := range bytes.Split([]byte(read(t, name)), []byte("\n")) {
			assert.False(t, foreign.Match(line) && !bytes.Contains(line, []byte("http://www.w3.org/2000/svg")), "%s:%d names another host: %s", name, n+1, line)
		}
	}
	for _, name := range own(t, ".html") {
		page := read(t, name)
		assert.NotRegexp(t, `<style|\sstyle=|\son[a-z]+="`, page, name)
		assert.NotRegexp(t, `<script(?:\s[^>]*)?>[^<]`, page, name)
	}
	for _, name := range own(t, ".js") {
		assert.NotRegexp(t, `innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function`, read(t, name), name)
	}
}

// Rules for imports: lib touches no page, style no page either, and one file
// only names the vendored map library.
func TestModulesKeepToTheirRooms(t *testing.T) {
	page := regexp.MustCompile(`\b(?:document|window|navigator|localStorage|HTMLElement)\b[.\[(]`)
	comments := regexp.MustCompile(`(?s)/\*.*?\*/|//[^\n]*`)
	for _, name := range own(t, ".js") {
		code := comments.ReplaceAllString(read(t, name), "")
		if strings.HasPrefix(name, "lib/") {
			assert.NotRegexp(t, page, code, "%s is in lib and touches the page", name)
			assert.NotRegexp(t, `from "\.\./(?:map|style|text|vendor)/`, code, name)
		}
		if strings.HasPrefix(name, "style/") {
			assert.NotRegexp(t, `\bdocument[.\[]|from "\.\./(?:map|vendor)/`, code, name)
		}
		if name != "map/maplibre.js" {
			assert.NotContains(t, code, "vendor/maplibre", "%s names the map library", name)
		}
		assert.LessOrEqual(t, strings.Count(read(t, name), "\n"), 400, "%s has grown too long", name)
	}
}
