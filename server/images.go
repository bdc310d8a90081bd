package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/tile"
	"courson/server/work"
	"courson/store"
)

// imageFrom is the zoom from which images are drawn; an estate of a kilometre is a
// dozen pixels wide there.
const imageFrom = 10

// imageJSON is a kept image as pages and other programs read it.
type imageJSON struct {
	ID      string      `json:"id"`
	Index   string      `json:"index"`
	Sensor  string      `json:"sensor"`
	Day     string      `json:"day"`
	Season  int         `json:"season"`
	Source  string      `json:"source"`
	File    string      `json:"file"`
	By      string      `json:"by"`
	Made    time.Time   `json:"made"`
	PixelM  float64     `json:"pixel_m"` // the longer side of a pixel of the image
	DrawnM  float64     `json:"drawn_m"` // of what is drawn; larger where the image had too many pixels
	Least   float64     `json:"least"`
	Most    float64     `json:"most"`
	Bounds  [4]float64  `json:"bounds"`
	MinZoom int         `json:"min_zoom"`
	MaxZoom int         `json:"max_zoom"` // deeper tiles show the same pixels, larger
	Tiles   string      `json:"tiles"`
	Legend  tile.Legend `json:"legend"`
}

func imageAnswer(k *work.KeptImage) imageJSON {
	p := &k.Picture
	pixel := max(p.PixelM[0], p.PixelM[1])
	return imageJSON{ID: k.ID, Index: k.Index, Sensor: k.Sensor, Day: k.Day, Season: k.Season, Source: k.Source, File: k.File, By: k.By, Made: k.Made,
		PixelM: pixel, DrawnM: pixel * float64(p.Coarser), Least: p.Least, Most: p.Most, Bounds: p.Bounds, MinZoom: imageFrom, MaxZoom: imageUntil(pixel*float64(p.Coarser), p.Bounds),
		Tiles: "/api/images/" + k.ID + "/tiles/{z}/{x}/{y}.png", Legend: k.Legend()}
}

// imageUntil is the zoom at which a pixel of an image is about four pixels of a
// tile wide: drawn larger from there, its edges stay sharp to a quarter of it.
func imageUntil(pixelM float64, bounds [4]float64) int {
	across := 2 * math.Pi * 6378137 * math.Cos((bounds[1]+bounds[3])/2*math.Pi/180)
	z := math.Log2(4 * across / tile.PictureSide / max(pixelM, 1e-3))
	return int(min(max(math.Ceil(z), imageFrom), tile.MaxZoom))
}

// getImages answers /api/images: the images that can be drawn, the newest day first.
func (s *Server) getImages(w http.ResponseWriter, r *http.Request) error {
	list, err := work.KeptImages(r.Context(), s.cfg.Store)
	if err != nil {
		return err
	}
	out := make([]imageJSON, len(list))
	for i, k := range list {
		out[i] = imageAnswer(k)
	}
	return s.sendJSON(w, r, map[string]any{"images": out})
}

// imageAsked finds the image that a path names.
func (s *Server) imageAsked(r *http.Request) (*work.KeptImage, error) {
	k, err := work.KeptImageOf(r.Context(), s.cfg.Store, r.PathValue("id"))
	if errors.Is(err, store.ErrNotFound) {
		return nil, refuse(http.StatusNotFound, "id", "there is no image %.60q; /api/images lists them", r.PathValue("id"))
	}
	return k, err
}

// deleteImage answers DELETE /api/images/{id}: takes an image off the list. The
// values that vines have of it stay.
func (s *Server) deleteImage(w http.ResponseWriter, r *http.Request) error {
	k, err := s.imageAsked(r)
	if err != nil {
		return err
	}
	if err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error { return k.Remove(tx, s.whoAsks(r), s.cfg.Now()) }); err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// getImageTile answers /api/images/{id}/tiles/{z}/{x}/{y}.png and …@2x.png.
func (s *Server) getImageTile(w http.ResponseWriter, r *http.Request) error {
	y, ok := strings.CutSuffix(r.PathValue("y"), ".png")
	if !ok {
		return refuse(http.StatusNotFound, "", "tiles of images end in .png")
	}
	y, double := strings.CutSuffix(y, "@2x")
	at, err := tileOf(r, y)
	if err != nil {
		return err
	}
	k, err := s.imageAsked(r)
	if err != nil {
		return err
	}
	b := k.Picture.Bounds
	if at.Z < imageFrom || !at.Bounds().Intersects(orb.Bound{Min: orb.Point{b[0], b[1]}, Max: orb.Point{b[2], b[3]}}) {
		return noTile(w)
	}
	side := tile.PictureSide
	if double {
		side *= 2
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "image %d %s %s %v %d", writerVersion, k.ID, at, k.Limits, side))
	tag := hex.EncodeToString(sum[:12])
	if matchesTag(r, tag) {
		return reply{tag: tag}.send(w, r)
	}
	if kept, ok := s.tiles.get(tag); ok {
		return kept.send(w, r)
	}
	kept, err := s.drawImage(r.Context(), k, at, side, tag)
	if err != nil {
		return err
	}
	return kept.send(w, r)
}

// drawImage draws a tile of an image and keeps it.
func (s *Server) drawImage(ctx context.Context, k *work.KeptImage, at tile.Tile, side int, tag string) (*keptTile, error) {
	if err := s.drawing.Acquire(ctx, 1); err != nil {
		return nil, err
	}
	defer s.drawing.Release(1)
	lons, lats := at.Pixels(side)
	values, err := k.Picture.OnMap(lons, lats, func(level, column, line int) ([]uint16, error) {
		return s.pixels.part(ctx, s.cfg.Store, k, level, column, line)
	})
	if err != nil {
		return nil, fmt.Errorf("tile %s of image %s: %w", at, k.ID, err)
	}
	raw, err := tile.Surface(side, values, k.Limits)
	if err != nil {
		return nil, err
	}
	kept := &keptTile{tag: tag, empty: len(raw) == 0, tile: reply{contentType: "image/png", tag: tag, plain: raw}}
	s.tiles.put(kept)
	return kept, nil
}
