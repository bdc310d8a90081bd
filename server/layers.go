package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strconv"
	"time"

	"courson/geo/stand"
	"courson/server/work"
	"courson/store"
)

// longestExport is how long a layer may take to be written, and to be sent.
const longestExport = 10 * time.Minute

// exportsAtOnce is how many layers are written at the same time; others wait.
const exportsAtOnce = 2

type layerJSON struct {
	Layer   work.Kind    `json:"layer"`
	Title   string       `json:"title"`
	What    string       `json:"what"`
	Columns []columnJSON `json:"columns"`
	Files   []fileJSON   `json:"files"`
	Styles  []fileJSON   `json:"styles"`
}

type columnJSON struct {
	Name  string `json:"name"`
	Kind  string `json:"kind"`
	Unit  string `json:"unit"`
	Title string `json:"title"`
}

type fileJSON struct {
	Name string `json:"name"` // of the format or theme
	Href string `json:"href"`
}

// getLayers answers /api/layers?season=&block=: what can be downloaded, in which
// formats, and what each format cannot hold.
func (s *Server) getLayers(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	query := "?season=" + strconv.Itoa(season)
	if code := r.URL.Query().Get("block"); code != "" {
		h, err := s.headAsked(r.Context(), code)
		if err != nil {
			return err
		}
		query += "&block=" + strconv.FormatInt(h.ID, 10)
	}
	e, err := s.stands.Estate(r.Context())
	if err != nil {
		return err
	}
	layers := []layerJSON{}
	for _, k := range work.LayerKinds() {
		l, err := work.LayerOf(k, season, e.USUnits)
		if err != nil {
			return err
		}
		out := layerJSON{Layer: k, Title: l.Title, What: l.What, Columns: []columnJSON{}, Files: []fileJSON{}, Styles: []fileJSON{}}
		for _, c := range l.Columns {
			out.Columns = append(out.Columns, columnJSON{c.Name, [...]string{"text", "whole", "number"}[c.Kind], c.Unit, c.Title})
		}
		for _, f := range work.Forms() {
			out.Files = append(out.Files, fileJSON{string(f.Form), "/api/layers/" + string(k) + "/" + string(f.Form) + query})
		}
		for _, theme := range work.StyleThemes(k) {
			out.Styles = append(out.Styles, fileJSON{theme, "/api/layers/" + string(k) + "/style.sld?season=" + strconv.Itoa(season) + "&theme=" + theme})
		}
		layers = append(layers, out)
	}
	return s.sendJSON(w, r, map[string]any{"season": season, "layers": layers, "formats": work.Forms()})
}

// getLayerStyle answers /api/layers/{layer}/style.sld?season=&theme=&fields=.
func (s *Server) getLayerStyle(w http.ResponseWriter, r *http.Request) error {
	kind, season, err := s.layerAsked(r)
	if err != nil {
		return err
	}
	e, err := s.stands.Estate(r.Context())
	if err != nil {
		return err
	}
	l, err := work.LayerOf(kind, season, e.USUnits)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	if f := q.Get("fields"); f != "" && f != "full" && f != "short" {
		return refuse(http.StatusBadRequest, "fields", "fields=%s: wanted is full or short (as shapefiles name them)", f)
	}
	body, err := work.StyleOf(l, kind, q.Get("theme"), q.Get("fields") == "short")
	if err != nil {
		return refuse(http.StatusNotFound, "theme", "%v", err)
	}
	return sendFile(w, r, l.Name+".sld", "application/vnd.ogc.sld+xml;version=1.1", body)
}

// layerAsked reads {layer} and ?season=.
func (s *Server) layerAsked(r *http.Request) (work.Kind, int, error) {
	kind := work.Kind(r.PathValue("layer"))
	season, err := s.seasonAsked(r)
	if err != nil {
		return kind, season, err
	}
	if _, err := work.LayerOf(kind, season, false); err != nil {
		return kind, season, refuse(http.StatusNotFound, "layer", "%v", err)
	}
	return kind, season, nil
}

// getLayer answers /api/layers/{layer}/{form}?season=&block=: a file. It is sent
// when it is whole, so that nobody gets half of one.
func (s *Server) getLayer(w http.ResponseWriter, r *http.Request) error {
	kind, season, err := s.layerAsked(r)
	if err != nil {
		return err
	}
	form, ok := work.InfoOf(work.Form(r.PathValue("form")))
	if !ok {
		return refuse(http.StatusNotFound, "form", "there is no format %q for layers; /api/layers lists them", r.PathValue("form"))
	}
	ctx, cancel := context.WithTimeout(r.Context(), longestExport)
	defer cancel()
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return err
	}
	job := work.ExportJob{What: kind, Form: form.Form, Season: season, USUnits: e.USUnits, Now: s.cfg.Now, Source: layerSource{s, r, season}}
	if code := r.URL.Query().Get("block"); code != "" {
		h, err := s.headAsked(ctx, code)
		if err != nil {
			return err
		}
		job.Blocks = []string{h.Code}
	}
	l, err := work.LayerOf(kind, season, e.USUnits)
	if err != nil {
		return err
	}
	name := l.Name
	if len(job.Blocks) > 0 {
		name = fileName(job.Blocks[0]) + "_" + name
	}
	if err := s.exporting.Acquire(ctx, 1); err != nil {
		return err
	}
	defer s.exporting.Release(1)
	return s.sendLayer(ctx, w, job, form, name+form.Suffix)
}

// fileName leaves of a text what every system takes as a file's name.
func fileName(s string) string {
	out := []byte(s)
	for i, c := range out {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-') {
			out[i] = '_'
		}
	}
	return string(out)
}

func (s *Server) sendLayer(ctx context.Context, w http.ResponseWriter, job work.ExportJob, form work.FormInfo, name string) error {
	f, err := os.CreateTemp("", "courson-layer-*")
	if err != nil {
		return fmt.Errorf("room for a layer: %w", err)
	}
	defer func() {
		f.Close()
		os.Remove(f.Name())
	}()
	if _, err := work.Export(ctx, s.cfg.Store, job, f); err != nil {
		return err
	}
	size, err := f.Seek(0, io.SeekCurrent)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return fmt.Errorf("read a layer back: %w", err)
	}
	if err := http.NewResponseController(w).SetWriteDeadline(time.Now().Add(longestExport)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return fmt.Errorf("give a layer its time: %w", err)
	}
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Type", form.Media)
	h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	h.Set("Content-Length", strconv.FormatInt(size, 10))
	w.WriteHeader(http.StatusOK)
	_, _ = io.Copy(w, f) // the client may be gone: nobody left to tell
	return nil
}

// layerSource gives what this server has worked out already.
type layerSource struct {
	s      *Server
	r      *http.Request
	season int
}

// Stand gives a block's vines.
func (l layerSource) Stand(ctx context.Context, b store.Block) (*stand.Stand, error) {
	v, err := l.s.stands.Stand(ctx, b.ID, l.season)
	if err != nil {
		return nil, err
	}
	return v.Stand, nil
}

// Findings gives what was found of a block, with its vines as they are now, or says
// that it is not ready.
func (l layerSource) Findings(ctx context.Context, b store.Block) (*work.Findings, error) {
	h, err := l.s.stands.Head(ctx, b.ID)
	if err != nil {
		return nil, err
	}
	f, err := l.s.readyFindings(l.r, h, l.season)
	if err != nil {
		return nil, err
	}
	now, err := l.Stand(ctx, b)
	if err != nil {
		return nil, err
	}
	out := *f
	if now.Ground == f.Stand.Ground && now.Stamp() == f.Found.Stamp {
		out.Stand = now
	}
	return &out, nil
}

// Replants gives what the record of a block says of gaps.
func (l layerSource) Replants(ctx context.Context, b store.Block) (*work.Replants, error) {
	r, _, err := l.s.planReplants(ctx, b.ID, l.season, nil)
	return r, err
}
