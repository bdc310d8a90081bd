package server

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/web"
)

func pagesOf(t *testing.T, files fstest.MapFS) map[string]page {
	t.Helper()
	var z zipper
	pages, err := readPages(files, &z)
	require.NoError(t, err)
	return pages
}

func TestShell_HoldsAllThatIsAskedFor(t *testing.T) {
	files := fstest.MapFS{
		"field.html":            {Data: []byte(`<link href="/assets/field/a.css"><script src="/assets/field/main.js">`)},
		"field/app.webmanifest": {Data: []byte(`{}`)},
		"field/icon-192.png":    {Data: []byte("png")},
		"field/a.css":           {Data: []byte(`@font-face { src: url("../vendor/letters.woff2"); }`)},
		"field/main.js":         {Data: []byte("import { a } from \"../lib/a.js\";\nimport {\n\tb,\n} from \"./b.js\";\nconst c = await import(\"./c.js\");\n")},
		"field/b.js":            {Data: []byte("export { a } from \"../lib/a.js\";\n")},
		"field/c.js":            {Data: []byte("1")}, "field/sw.js": {Data: []byte("2")}, "map/other.js": {Data: []byte("3")},
		"lib/a.js": {Data: []byte("4")}, "vendor/letters.woff2": {Data: []byte("5")},
	}
	names := func(s shell) []string {
		var out []string
		for _, f := range s.Files {
			out = append(out, f[0])
		}
		return out
	}
	first := shellOf(pagesOf(t, files))
	assert.ElementsMatch(t, []string{"/field", "/field/app.webmanifest", "/assets/field/icon-192.png", "/assets/field/a.css", "/assets/field/main.js",
		"/assets/field/b.js", "/assets/field/c.js", "/assets/lib/a.js", "/assets/vendor/letters.woff2"}, names(first))
	assert.Equal(t, first, shellOf(pagesOf(t, files)), "the same files, the same list")

	files["map/other.js"] = &fstest.MapFile{Data: []byte("changed")}
	assert.Equal(t, first.Version, shellOf(pagesOf(t, files)).Version, "not of the phone page")
	files["lib/a.js"] = &fstest.MapFile{Data: []byte("changed")}
	assert.NotEqual(t, first.Version, shellOf(pagesOf(t, files)).Version)
}

// The digest of "abc" is that of FIPS 180-2, appendix B.1, in base64 as
// Subresource Integrity writes it.
func TestShell_Digest(t *testing.T) {
	s := shellOf(pagesOf(t, fstest.MapFS{"field.html": {Data: []byte("abc")}}))
	assert.Equal(t, [][2]string{{"/field", "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0="}}, s.Files)
}

func TestFieldPages(t *testing.T) {
	pages := web.Files()
	f := newFixture(t, func(c *Config) { c.Pages = pages })
	for path, kind := range map[string]string{"/field": "text/html; charset=utf-8", "/field/tags": "text/html; charset=utf-8",
		"/field/sw.js": "text/javascript; charset=utf-8", "/field/app.webmanifest": "application/manifest+json"} {
		a := f.get(path)
		require.Equal(t, http.StatusOK, a.status, path)
		assert.Equal(t, kind, a.header.Get("Content-Type"), path)
		assert.Equal(t, "no-cache", a.header.Get("Cache-Control"), path)
	}
	worker := f.get("/field/sw.js")
	assert.Equal(t, "/field", worker.header.Get("Service-Worker-Allowed"))
	m := regexp.MustCompile(`^self\.SHELL = (.*);\n`).FindSubmatch(worker.body)
	require.NotNil(t, m)
	var s shell
	require.NoError(t, json.Unmarshal(m[1], &s))
	for _, file := range s.Files {
		a := f.get(file[0])
		require.Equal(t, http.StatusOK, a.status, file[0])
		assert.NotContains(t, file[0], "/api/")
	}
	var manifest struct {
		ID, Scope, Display string
		StartURL           string `json:"start_url"`
		Icons              []struct{ Src, Sizes, Purpose string }
	}
	f.get("/field/app.webmanifest").into(t, &manifest)
	assert.Equal(t, "/field /field /field standalone", strings.Join([]string{manifest.ID, manifest.Scope, manifest.StartURL, manifest.Display}, " "))
	purposes := map[string]bool{}
	for _, icon := range manifest.Icons {
		assert.Equal(t, http.StatusOK, f.get(icon.Src).status, icon.Src)
		purposes[icon.Sizes+" "+icon.Purpose] = true
	}
	assert.Equal(t, map[string]bool{"192x192 any": true, "512x512 any": true, "512x512 maskable": true}, purposes)
}
