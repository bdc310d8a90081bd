package server

import (
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

// page is one file of the pages, compressed once at start.
type page struct{ reply }

// pageKind gives the media type of a file of the pages, and whether compressing
// it pays. The types are listed here because a machine's own table may lack or
// change them.
func pageKind(name string) (mime string, compress bool) {
	switch strings.ToLower(path.Ext(name)) {
	case ".html":
		return "text/html; charset=utf-8", true
	case ".js", ".mjs":
		return "text/javascript; charset=utf-8", true
	case ".css":
		return "text/css; charset=utf-8", true
	case ".json", ".map":
		return "application/json", true
	case ".webmanifest":
		return "application/manifest+json", true
	case ".svg":
		return "image/svg+xml", true
	case ".txt", ".md":
		return "text/plain; charset=utf-8", true
	case ".png":
		return "image/png", false
	case ".ico":
		return "image/x-icon", false
	case ".jpg", ".jpeg":
		return "image/jpeg", false
	case ".webp":
		return "image/webp", false
	case ".woff2":
		return "font/woff2", false
	case ".wasm":
		return "application/wasm", true
	}
	return "application/octet-stream", false
}

// readPages reads and compresses all files of the pages.
func readPages(files fs.FS, z *zipper) (map[string]page, error) {
	pages := make(map[string]page)
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		kind, compress := pageKind(name)
		p := page{reply{contentType: kind, tag: contentTag(body), plain: body}}
		if compress && len(body) >= smallest {
			if p.zipped, err = z.zip(body); err != nil {
				return err
			}
		}
		pages[name] = p
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read the pages: %w", err)
	}
	return pages, nil
}

// getMapPage answers / with the map.
func (s *Server) getMapPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "index.html")
}

// getReportPage answers /report with the report of a block; which one stands in
// the part of the address that browsers keep to themselves.
func (s *Server) getReportPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "report.html")
}

// getPruningPage answers /pruning with the pruning plan of a block, named as for
// the report.
func (s *Server) getPruningPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "pruning.html")
}

// getAsset answers /assets/… with a file of the pages. Browsers ask each time
// and mostly hear 304, so that no page is ever older than the server.
func (s *Server) getAsset(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, r.PathValue("*"))
}

func (s *Server) sendPage(w http.ResponseWriter, r *http.Request, name string) error {
	p, ok := s.pages[name]
	if !ok {
		return refuse(http.StatusNotFound, "", "there is no page %q", name)
	}
	return p.send(w, r)
}
