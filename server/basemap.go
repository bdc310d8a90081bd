package server

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path"
	"strconv"
	"strings"
)

// BaseMap is the picture under the vines, for those who have one. Without it
// the map draws on a plain ground and asks nobody for anything.
type BaseMap struct {
	// Tiles is either a URL template of XYZ tiles, with {z}, {x} and {y}, which
	// the page then loads straight from there; or a folder or zip file on this
	// machine holding z/x/y.png (or .jpg, .jpeg, .webp), served under /base.
	Tiles       string
	Attribution string // shown on the map
	MaxZoom     int    // deepest zoom there is; 0: as the folder shows, or 19 for a URL
}

// baseMap is a BaseMap looked at and opened. The zero value is none.
type baseMap struct {
	template    string // what the page asks
	host        string // scheme and host of a foreign template
	attribution string
	maxZoom     int
	files       fs.FS // local tiles
	close       func() error
}

// baseKinds are the pictures a local base map may hold, in order of preference.
var baseKinds = [...]struct{ ext, mime string }{
	{"png", "image/png"}, {"webp", "image/webp"}, {"jpg", "image/jpeg"}, {"jpeg", "image/jpeg"},
}

const defaultBaseZoom = 19

func openBaseMap(cfg BaseMap) (*baseMap, error) {
	b := &baseMap{attribution: cfg.Attribution, maxZoom: cfg.MaxZoom, close: func() error { return nil }}
	var err error
	switch {
	case cfg.Tiles == "":
		return b, nil
	case strings.Contains(cfg.Tiles, "://"):
		err = b.useURL(cfg.Tiles)
	default:
		err = b.useFiles(cfg.Tiles)
	}
	if err != nil {
		return nil, fmt.Errorf("base map %s: %w", cfg.Tiles, err)
	}
	return b, nil
}

func (b *baseMap) useURL(template string) error {
	u, err := url.Parse(template)
	if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" || u.User != nil {
		return errors.New("not an http or https address")
	}
	if strings.ContainsAny(u.Host, "{};, '\"") {
		return errors.New("the host name may not hold a placeholder; write one host")
	}
	for _, p := range []string{"{z}", "{x}", "{y}"} {
		if !strings.Contains(template, p) {
			return fmt.Errorf("%s is missing; write it like https://HOST/PATH/{z}/{x}/{y}.png", p)
		}
	}
	b.template, b.host = template, u.Scheme+"://"+u.Host
	if b.maxZoom == 0 {
		b.maxZoom = defaultBaseZoom
	}
	return nil
}

func (b *baseMap) useFiles(name string) error {
	info, err := os.Stat(name)
	if err != nil {
		return err
	}
	if info.IsDir() {
		root, err := os.OpenRoot(name) // no link leads out of it
		if err != nil {
			return err
		}
		b.files, b.close = root.FS(), root.Close
	} else {
		z, err := zip.OpenReader(name)
		if err != nil {
			return fmt.Errorf("neither a folder nor a zip file: %w", err)
		}
		b.files, b.close = z, z.Close
	}
	deepest, err := deepestZoom(b.files)
	if err != nil {
		_ = b.close()
		return err
	}
	b.template = "/base/{z}/{x}/{y}"
	if b.maxZoom == 0 {
		b.maxZoom = deepest
	}
	return nil
}

// deepestZoom looks at the numbered folders on top.
func deepestZoom(files fs.FS) (int, error) {
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		return 0, err
	}
	deepest := -1
	for _, e := range entries {
		if z, err := strconv.Atoi(e.Name()); err == nil && e.IsDir() {
			deepest = max(deepest, z)
		}
	}
	if deepest < 0 {
		return 0, errors.New("no folders named by zoom; tiles are looked for as z/x/y.png")
	}
	return deepest, nil
}

// origin is the foreign origin that the page must be let load from, "" if none.
func (b *baseMap) origin() string { return b.host }

type baseMapJSON struct {
	Tiles       string `json:"tiles"`
	Attribution string `json:"attribution"`
	MaxZoom     int    `json:"max_zoom"`
}

// json describes it for the page; nil where there is none.
func (b *baseMap) json() *baseMapJSON {
	if b.template == "" {
		return nil
	}
	return &baseMapJSON{Tiles: b.template, Attribution: b.attribution, MaxZoom: b.maxZoom}
}

// getBase serves one tile of a local base map.
func (s *Server) getBase(w http.ResponseWriter, r *http.Request) error {
	t, err := tileOf(r, r.PathValue("y"))
	if err != nil {
		return err
	}
	if s.base.files == nil {
		return refuse(http.StatusNotFound, "", "no base map is set up on this server")
	}
	for _, kind := range baseKinds {
		name := path.Join(strconv.Itoa(int(t.Z)), strconv.Itoa(int(t.X)), strconv.Itoa(int(t.Y))+"."+kind.ext)
		body, err := readBounded(s.base.files, name)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return fmt.Errorf("base map tile %s: %w", name, err)
		}
		w.Header().Set("Cache-Control", "max-age=86400")
		return reply{contentType: kind.mime, tag: contentTag(body), plain: body}.send(w, r)
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// maxBaseTile is the largest picture that is served, in bytes.
const maxBaseTile = 8 << 20

func readBounded(files fs.FS, name string) ([]byte, error) {
	f, err := files.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	body, err := io.ReadAll(io.LimitReader(f, maxBaseTile+1))
	if err != nil {
		return nil, err
	}
	if len(body) > maxBaseTile {
		return nil, fmt.Errorf("larger than %d bytes", maxBaseTile)
	}
	return body, nil
}
