package server

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"courson/geo/tile"
	"courson/server/stands"
)

// writerVersion is part of every tile's tag: raise it whenever the same stand
// makes other bytes.
const writerVersion = 3

const vectorType = "application/vnd.mapbox-vector-tile"

// tileRequest is what a tile's address asks for.
type tileRequest struct {
	tile   tile.Tile
	season int
	theme  string // "" for a vector tile
	double bool   // picture of 512 px

	operation string // whose progress is shown; "" pruning
}

// tag names the tile's content: what was asked for, which blocks it shows and
// at what revision, and which version of the writer made it. It is known
// without drawing.
func (q tileRequest) tag(heads []*stands.Head, found []string) string {
	h := sha256.New()
	fmt.Fprintf(h, "%d %s %d %s %t %q", writerVersion, q.tile, q.season, q.theme, q.double, q.operation)
	var word [8]byte
	for i, b := range heads {
		fmt.Fprintf(h, " %q", found[i])
		for _, v := range [...]uint64{uint64(b.ID), uint64(b.Revision), uint64(b.GroundRev), b.Print} {
			binary.LittleEndian.PutUint64(word[:], v)
			h.Write(word[:])
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// getVectorTile answers /tiles/{season}/{z}/{x}/{y}.mvt.
func (s *Server) getVectorTile(w http.ResponseWriter, r *http.Request) error {
	y, ok := strings.CutSuffix(r.PathValue("y"), ".mvt")
	if !ok {
		return refuse(http.StatusNotFound, "", "tiles end in .mvt, or start with a theme and end in .png")
	}
	t, err := tileOf(r, y)
	if err != nil {
		return err
	}
	season, err := s.seasonOf(r.Context(), r.PathValue("season"))
	if err != nil {
		return err
	}
	q := tileRequest{tile: t, season: season}
	if q.operation, err = operationShown(r); err != nil {
		return err
	}
	return s.answerTile(w, r, q)
}

// getPicture answers /tiles/{theme}/{season}/{z}/{x}/{y}.png and …@2x.png.
func (s *Server) getPicture(w http.ResponseWriter, r *http.Request) error {
	y, ok := strings.CutSuffix(r.PathValue("y"), ".png")
	if !ok {
		return refuse(http.StatusNotFound, "", "pictures of a theme end in .png")
	}
	q := tileRequest{theme: r.PathValue("theme")}
	y, q.double = strings.CutSuffix(y, "@2x")
	if !tile.Theme(q.theme).Valid() {
		return refuse(http.StatusNotFound, "theme", "there is no theme %q", q.theme)
	}
	var err error
	if q.tile, err = tileOf(r, y); err != nil {
		return err
	}
	if q.season, err = s.seasonOf(r.Context(), r.PathValue("season")); err != nil {
		return err
	}
	if q.operation, err = operationShown(r); err != nil {
		return err
	}
	return s.answerTile(w, r, q)
}

// tileOf reads a tile address from the path.
func tileOf(r *http.Request, y string) (tile.Tile, error) {
	t, err := tile.Parse(r.PathValue("z"), r.PathValue("x"), y)
	if err != nil {
		return t, refuse(http.StatusNotFound, "", "%v", err)
	}
	return t, nil
}

// answerTile sends a tile: 304 where the client has it, 204 where nothing is,
// from the kept ones if it is among them, else drawn.
func (s *Server) answerTile(w http.ResponseWriter, r *http.Request, q tileRequest) error {
	ctx := r.Context()
	s.desk.Look(q.season)
	heads, err := s.headsOn(ctx, q)
	if err != nil {
		return err
	}
	tag := q.tag(heads, s.stampsOf(heads, q.season))
	switch {
	case len(heads) == 0:
		return noTile(w)
	case matchesTag(r, tag):
		s.metrics.kept.WithLabelValues("not modified").Inc()
		return reply{tag: tag, zipped: zippedAsNeeded(q)}.send(w, r)
	}
	if k, ok := s.tiles.get(tag); ok {
		s.metrics.kept.WithLabelValues("kept").Inc()
		return k.send(w, r)
	}
	k, err := s.drawTile(ctx, q, heads)
	if err != nil {
		return fmt.Errorf("tile %s season %d: %w", q.tile, q.season, err)
	}
	return k.send(w, r)
}

// stampsOf gives the findings that blocks show in a season.
func (s *Server) stampsOf(heads []*stands.Head, season int) []string {
	out := make([]string, len(heads))
	for i, h := range heads {
		out[i] = s.stands.Stamp(h.ID, season)
	}
	return out
}

// zippedAsNeeded marks vector tiles as having a compressed form.
func zippedAsNeeded(q tileRequest) []byte {
	if q.theme == "" {
		return []byte{}
	}
	return nil
}

func (k *keptTile) send(w http.ResponseWriter, r *http.Request) error {
	if k.empty {
		return noTile(w)
	}
	return k.tile.send(w, r)
}

func noTile(w http.ResponseWriter) error {
	w.Header().Set("Cache-Control", "no-cache")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// headsOn gives the blocks whose bounds a tile and its margin meet. Shapes reach
// a 64th of a tile over its edge, the marks and labels of a picture 3/16.
func (s *Server) headsOn(ctx context.Context, q tileRequest) ([]*stands.Head, error) {
	b := q.tile.Bounds()
	margin := (b.Max[0] - b.Min[0]) / 64
	if q.theme != "" {
		margin *= 12
	}
	return s.stands.TouchingHeads(ctx, b.Pad(margin))
}

// drawTile draws, compresses and keeps a tile. At most as many are drawn at
// once as there are processors. The tag that is sent names the revisions that
// were drawn, which may be newer than those first seen.
func (s *Server) drawTile(ctx context.Context, q tileRequest, heads []*stands.Head) (*keptTile, error) {
	s.waiting.Add(1)
	defer s.waiting.Add(-1)
	drawings, err := s.drawingsOf(ctx, heads, q)
	if err != nil {
		return nil, err
	}
	if err := s.drawing.Acquire(ctx, 1); err != nil {
		return nil, err
	}
	defer s.drawing.Release(1)
	blocks := make([]tile.BlockView, len(drawings))
	drawn, found := make([]*stands.Head, len(drawings)), make([]string, len(drawings))
	for i := range drawings {
		blocks[i], drawn[i], found[i] = drawings[i].BlockView, &drawings[i].Head, drawings[i].Found
	}
	k := &keptTile{tag: q.tag(drawn, found)}
	if err := s.draw(k, q, blocks); err != nil {
		return nil, err
	}
	s.tiles.put(k)
	return k, nil
}

// longestWay is how long background work waits at most each time it gives way.
const longestWay = 20 * time.Millisecond

// giveWay lets tiles be drawn before background work goes on.
func (s *Server) giveWay() {
	for until := time.Now().Add(longestWay); s.waiting.Load() > 0 && time.Now().Before(until); {
		time.Sleep(time.Millisecond)
	}
}

func (s *Server) draw(k *keptTile, q tileRequest, blocks []tile.BlockView) error {
	k.tile.tag = k.tag
	if q.theme == "" {
		s.metrics.rendered.WithLabelValues("mvt").Inc()
		raw := s.renderer.Vector(q.tile, blocks, tile.Options{})
		k.empty = len(raw) == 0
		k.tile.contentType = vectorType
		var err error
		k.tile.zipped, err = s.zipper.zip(raw)
		return err
	}
	scale := 1
	if q.double {
		scale = 2
	}
	png, err := s.renderer.PNG(q.tile, tile.Theme(q.theme), scale, blocks)
	k.tile.contentType, k.tile.plain, k.empty = "image/png", png, len(png) == 0
	return err
}

// tileJSON is TileJSON 3.0.0.
type tileJSON struct {
	TileJSON     string       `json:"tilejson"`
	Name         string       `json:"name"`
	Scheme       string       `json:"scheme"`
	Tiles        []string     `json:"tiles"`
	VectorLayers []tile.Layer `json:"vector_layers"`
	MinZoom      int          `json:"minzoom"`
	MaxZoom      int          `json:"maxzoom"`
	Bounds       [4]float64   `json:"bounds"`
	Center       [3]float64   `json:"center"`
}

// getTileJSON answers /tiles/{season}.json.
func (s *Server) getTileJSON(w http.ResponseWriter, r *http.Request) error {
	name, ok := strings.CutSuffix(r.PathValue("season"), ".json")
	if !ok {
		return refuse(http.StatusNotFound, "", "tiles are described at /tiles/SEASON.json")
	}
	season, err := s.seasonOf(r.Context(), name)
	if err != nil {
		return err
	}
	e, err := s.stands.Estate(r.Context())
	if err != nil {
		return err
	}
	b, err := s.estateBounds(r.Context())
	if err != nil {
		return err
	}
	doc := tileJSON{TileJSON: "3.0.0", Name: fmt.Sprintf("%s %d", e.Name, season), Scheme: "xyz",
		Tiles:        []string{s.ownURL(r) + "/tiles/" + strconv.Itoa(season) + "/{z}/{x}/{y}.mvt"},
		VectorLayers: tile.VectorLayers(), MinZoom: 0, MaxZoom: tile.MaxZoom, Bounds: [4]float64{-180, -tile.MaxLatitude, 180, tile.MaxLatitude}}
	if !b.IsEmpty() {
		doc.Bounds = [4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
		c := b.Center()
		doc.Center = [3]float64{c[0], c[1], overviewZoom}
	}
	return s.sendJSON(w, r, doc)
}

// overviewZoom shows an estate of about a kilometre.
const overviewZoom = 15

// ownURL is how clients reach this server: the configured address, else what
// the request itself says.
func (s *Server) ownURL(r *http.Request) string {
	switch {
	case s.cfg.PublicURL != "":
		return strings.TrimSuffix(s.cfg.PublicURL, "/")
	case r.TLS != nil:
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// seasonOf reads a season from a path or query and checks that there is one.
func (s *Server) seasonOf(ctx context.Context, text string) (int, error) {
	season, err := strconv.Atoi(text)
	if err != nil {
		return 0, refuse(http.StatusNotFound, "season", "%q is not a season", text)
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return 0, err
	}
	if !span.holds(season) {
		return 0, refuse(http.StatusNotFound, "season", "there is no season %d; known are %s", season, span)
	}
	return season, nil
}
