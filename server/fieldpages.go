package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strings"
)

// The phone page works without a signal: a service worker keeps the shell, which
// is the page and every file it asks for. The shell's list is made here from the
// files themselves, so that none can be forgotten.
const (
	fieldPage     = "field.html"
	fieldManifest = "field/app.webmanifest"
	fieldWorker   = "field/sw.js"
	fieldTags     = "field/tags.html"
)

// getFieldPage answers /field with the phone page; which row is open stands in
// the part of the address that browsers keep to themselves.
func (s *Server) getFieldPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, fieldPage)
}

// getFieldTags answers /field/tags with the page that prints tags for the rows.
func (s *Server) getFieldTags(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, fieldTags)
}

// getFieldManifest answers what a phone asks before it installs the page.
func (s *Server) getFieldManifest(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, fieldManifest)
}

// getFieldWorker answers the service worker with the shell's list before it. Its
// bytes change whenever any file of the shell does, so phones notice.
func (s *Server) getFieldWorker(w http.ResponseWriter, r *http.Request) error {
	worker, ok := s.pages[fieldWorker]
	if !ok {
		return refuse(http.StatusNotFound, "", "there is no page %q", fieldWorker)
	}
	list, err := json.Marshal(shellOf(s.pages))
	if err != nil {
		return fmt.Errorf("list the phone page's files: %w", err)
	}
	body := fmt.Appendf(nil, "self.SHELL = %s;\n%s", list, worker.plain)
	h := w.Header()
	h.Set("Cache-Control", "no-cache")
	h.Set("Service-Worker-Allowed", "/field")
	a := reply{contentType: worker.contentType, tag: contentTag(body), plain: body}
	if a.zipped, err = s.zipper.zip(body); err != nil {
		return err
	}
	return a.send(w, r)
}

// shell is what the service worker keeps.
type shell struct {
	Version string      `json:"version"` // of the files together
	Files   [][2]string `json:"files"`   // address, and digest as in subresource integrity
}

// shellOf lists the phone page, its manifest, its icons and all files that these
// ask for.
func shellOf(pages map[string]page) shell {
	names := []string{fieldPage, fieldManifest}
	for name := range pages {
		if path.Dir(name) == "field" && path.Ext(name) == ".png" {
			names = append(names, name)
		}
	}
	slices.Sort(names[2:])
	for i := 0; i < len(names); i++ { // names grows
		for _, n := range askedFor(names[i], pages[names[i]].plain) {
			if _, ok := pages[n]; ok && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	whole := sha256.New()
	out := shell{Files: [][2]string{}}
	for _, name := range names {
		p, ok := pages[name]
		if !ok {
			continue
		}
		sum := sha256.Sum256(p.plain)
		fmt.Fprintf(whole, "%s %x\n", name, sum)
		out.Files = append(out.Files, [2]string{shellAddress(name), "sha256-" + base64.StdEncoding.EncodeToString(sum[:])})
	}
	out.Version = hex.EncodeToString(whole.Sum(nil)[:6])
	return out
}

// shellAddress gives the address that a file of the shell is asked for by.
func shellAddress(name string) string {
	switch name {
	case fieldPage:
		return "/field"
	case fieldManifest:
		return "/field/app.webmanifest"
	}
	return "/assets/" + name
}

var (
	asksInPage  = regexp.MustCompile(`(?:href|src)="/assets/([^"#?]+)"`)
	asksInCode  = regexp.MustCompile(`(?m)^(?:import|export)[^;]*?\bfrom "(\.[^"]+)";|^import "(\.[^"]+)";|\bimport\("(\.[^"]+)"\)`)
	asksInStyle = regexp.MustCompile(`url\("([^":]+)"\)`)
)

// askedFor gives the names of the files that a file asks for.
func askedFor(name string, body []byte) []string {
	var out []string
	beside := func(rel string) { out = append(out, path.Join(path.Dir(name), rel)) }
	switch path.Ext(name) {
	case ".html":
		for _, m := range asksInPage.FindAllSubmatch(body, -1) {
			out = append(out, string(m[1]))
		}
	case ".js", ".mjs":
		for _, m := range asksInCode.FindAllSubmatch(body, -1) {
			beside(string(bytes.Join(m[1:], nil)))
		}
	case ".css":
		for _, m := range asksInStyle.FindAllSubmatch(body, -1) {
			if !strings.HasPrefix(string(m[1]), "/") {
				beside(string(m[1]))
			}
		}
	}
	return out
}
