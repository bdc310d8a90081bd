package server

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"

	"github.com/paulmach/orb"

	"courson/geo/tile"
)

// OGC API - Tiles - Part 1: Core, version 1.0.0 (OGC 20-057), with the tiling
// scheme and the metadata of Two Dimensional Tile Matrix Set and Tile Set
// Metadata, version 2.0 (OGC 17-083r4). Which requirement is tested where stands
// in ogctiles_test.go.

const (
	webMercatorQuad    = "WebMercatorQuad"
	webMercatorQuadURI = "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"
	webMercatorCRS     = "http://www.opengis.net/def/crs/EPSG/0/3857"

	relSchemes = "http://www.opengis.net/def/rel/ogc/1.0/tiling-schemes"
	relScheme  = "http://www.opengis.net/def/rel/ogc/1.0/tiling-scheme"
	relVectors = "http://www.opengis.net/def/rel/ogc/1.0/tilesets-vector"
	relMaps    = "http://www.opengis.net/def/rel/ogc/1.0/tilesets-map"
)

// tilesConformance names the classes of tiles that are implemented whole.
func tilesConformance() []string {
	const base, tms = "http://www.opengis.net/spec/ogcapi-tiles-1/1.0/conf/", "http://www.opengis.net/spec/tms/2.0/conf/"
	return []string{base + "core", base + "tileset", base + "tilesets-list", base + "dataset-tilesets", base + "mvt", base + "png",
		tms + "tilematrixset", tms + "json-tilematrixset", tms + "tilesetmetadata", tms + "json-tilesetmetadata"}
}

// tileLinks are what the landing page says of tiles.
func (s *Server) tileLinks(r *http.Request) []ogcLink {
	base := s.ogcURL(r)
	return []ogcLink{{Href: base + "/tiles", Rel: relVectors, Type: "application/json", Title: "Vector tiles"},
		{Href: base + "/map/tiles", Rel: relMaps, Type: "application/json", Title: "Pictures, by theme"},
		{Href: base + "/tileMatrixSets", Rel: relSchemes, Type: "application/json", Title: "Tiling schemes"}}
}

type tileMatrix struct {
	ID               string     `json:"id"`
	ScaleDenominator float64    `json:"scaleDenominator"`
	CellSize         float64    `json:"cellSize"`
	CornerOfOrigin   string     `json:"cornerOfOrigin"`
	PointOfOrigin    [2]float64 `json:"pointOfOrigin"`
	TileWidth        int        `json:"tileWidth"`
	TileHeight       int        `json:"tileHeight"`
	MatrixWidth      int        `json:"matrixWidth"`
	MatrixHeight     int        `json:"matrixHeight"`
}

// pixelSize is the side of a pixel that scales are told for, m (OGC 17-083r4, 6.1).
const pixelSize = 0.00028

// tileMatrices are the zooms of WebMercatorQuad (OGC 17-083r4, annex D.1).
func tileMatrices() (out []tileMatrix) {
	const half = math.Pi * 6378137
	for z := range tile.MaxZoom + 1 {
		n := 1 << z
		cell := 2 * half / 256 / float64(n)
		out = append(out, tileMatrix{strconv.Itoa(z), cell / pixelSize, cell, "topLeft", [2]float64{-half, half}, 256, 256, n, n})
	}
	return out
}

func (s *Server) schemeLink(r *http.Request, rel string) ogcLink {
	return ogcLink{Href: s.ogcURL(r) + "/tileMatrixSets/" + webMercatorQuad, Rel: rel, Type: "application/json", Title: webMercatorQuad}
}

// getTileMatrixSets answers /ogc/tileMatrixSets.
func (s *Server) getTileMatrixSets(w http.ResponseWriter, r *http.Request) error {
	if _, err := ogcParams(r); err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"tileMatrixSets": []any{map[string]any{"id": webMercatorQuad, "title": webMercatorQuad, "uri": webMercatorQuadURI,
		"crs": webMercatorCRS, "links": []ogcLink{s.schemeLink(r, "self")}}}})
}

// getTileMatrixSet answers /ogc/tileMatrixSets/{scheme}.
func (s *Server) getTileMatrixSet(w http.ResponseWriter, r *http.Request) error {
	if _, err := ogcParams(r); err != nil {
		return err
	}
	if err := schemeAsked(r); err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"id": webMercatorQuad, "title": webMercatorQuad, "uri": webMercatorQuadURI, "crs": webMercatorCRS,
		"orderedAxes": []string{"E", "N"}, "wellKnownScaleSet": "http://www.opengis.net/def/wkss/OGC/1.0/GoogleMapsCompatible", "tileMatrices": tileMatrices()})
}

func schemeAsked(r *http.Request) error {
	if id := r.PathValue("scheme"); id != webMercatorQuad {
		return refuse(http.StatusNotFound, "scheme", "there is no tiling scheme %q; there is %s", id, webMercatorQuad)
	}
	return nil
}

// templateLink is a link whose address has names in braces to be filled in.
type templateLink struct {
	ogcLink
	Templated bool `json:"templated"`
}

// tileset is the vector tiles, or the pictures of a theme.
type tileset struct {
	theme  tile.Theme // "" vector tiles
	season int
	query  string // as it was asked for, with its question mark
}

// tilesetAsked reads {theme} and ?season=.
func (s *Server) tilesetAsked(r *http.Request) (t tileset, err error) {
	q, err := ogcParams(r, "season")
	if err != nil {
		return t, err
	}
	if t.theme = tile.Theme(r.PathValue("theme")); t.theme != "" && !t.theme.Valid() {
		return t, refuse(http.StatusNotFound, "theme", "there is no theme %q", t.theme)
	}
	if t.season, err = s.seasonAsked(r); err == nil && q.Has("season") {
		t.query = "?" + url.Values{"season": {strconv.Itoa(t.season)}}.Encode()
	}
	return t, err
}

// path is where the tilesets are listed, below /ogc.
func (t tileset) path() string {
	if t.theme == "" {
		return "/tiles"
	}
	return "/styles/" + string(t.theme) + "/map/tiles"
}

func (t tileset) kind() (dataType, mediaType, title string) {
	if t.theme == "" {
		return "vector", vectorType, "Blocks, rows, vines, patches and zones"
	}
	return "map", "image/png", tile.Legends(nil)[t.theme].Title
}

// head is what lists and the tileset itself say.
func (s *Server) tilesetHead(r *http.Request, t tileset) map[string]any {
	kind, media, title := t.kind()
	self := s.ogcURL(r) + t.path() + "/" + webMercatorQuad
	return map[string]any{"title": title + ", season " + strconv.Itoa(t.season), "dataType": kind, "crs": webMercatorCRS, "tileMatrixSetURI": webMercatorQuadURI,
		"links": []any{ogcLink{Href: self + t.query, Rel: "self", Type: "application/json", Title: title}, s.schemeLink(r, relScheme),
			templateLink{ogcLink{Href: self + "/{tileMatrix}/{tileRow}/{tileCol}" + t.query, Rel: "item", Type: media, Title: "Tiles"}, true}}}
}

// getTilesets answers /ogc/tiles, /ogc/map/tiles and /ogc/styles/{theme}/map/tiles.
func (s *Server) getTilesets(w http.ResponseWriter, r *http.Request) error {
	t, err := s.tilesetAsked(r)
	if err != nil {
		return err
	}
	return s.sendTilesets(w, r, t.path()+t.query, t)
}

func (s *Server) getMapTilesets(w http.ResponseWriter, r *http.Request) error {
	t, err := s.tilesetAsked(r)
	if err != nil {
		return err
	}
	var all []tileset
	for _, theme := range tile.Themes() {
		all = append(all, tileset{theme, t.season, t.query})
	}
	return s.sendTilesets(w, r, "/map/tiles"+t.query, all...)
}

func (s *Server) sendTilesets(w http.ResponseWriter, r *http.Request, self string, sets ...tileset) error {
	list := []any{}
	for _, t := range sets {
		list = append(list, s.tilesetHead(r, t))
	}
	return s.sendJSON(w, r, map[string]any{"tilesets": list, "links": []ogcLink{{Href: s.ogcURL(r) + self, Rel: "self", Type: "application/json", Title: "Tile sets"}}})
}

type tileLimits struct {
	TileMatrix string `json:"tileMatrix"`
	MinTileRow uint32 `json:"minTileRow"`
	MaxTileRow uint32 `json:"maxTileRow"`
	MinTileCol uint32 `json:"minTileCol"`
	MaxTileCol uint32 `json:"maxTileCol"`
}

// getTileset answers /ogc/tiles/{scheme} and /ogc/styles/{theme}/map/tiles/{scheme}.
func (s *Server) getTileset(w http.ResponseWriter, r *http.Request) error {
	t, err := s.tilesetAsked(r)
	if err != nil {
		return err
	}
	if err := schemeAsked(r); err != nil {
		return err
	}
	b, err := s.estateBounds(r.Context())
	if err != nil {
		return err
	}
	doc := s.tilesetHead(r, t)
	doc["tileMatrixSetId"] = webMercatorQuad
	if t.theme == "" {
		layers := []any{}
		kinds := map[string]int{tile.LayerBlocks: 2, tile.LayerPatches: 2, tile.LayerZones: 2, tile.LayerRows: 1}
		for _, l := range tile.VectorLayers() {
			layers = append(layers, map[string]any{"id": l.ID, "description": l.Description, "dataType": "vector", "geometryDimension": kinds[l.ID],
				"minTileMatrix": strconv.Itoa(l.MinZoom), "maxTileMatrix": strconv.Itoa(l.MaxZoom)})
		}
		doc["layers"] = layers
	}
	if !b.IsEmpty() {
		doc["boundingBox"] = map[string]any{"lowerLeft": []float64{b.Min[0], b.Min[1]}, "upperRight": []float64{b.Max[0], b.Max[1]}, "crs": crs84}
		if doc["tileMatrixSetLimits"], err = limitsOf(b.Pad(ogcMargin)); err != nil {
			return err
		}
	}
	return s.sendJSON(w, r, doc)
}

// limitsOf tells which tiles may hold something, at every zoom.
func limitsOf(b orb.Bound) (out []tileLimits, err error) {
	for z := range tile.MaxZoom + 1 {
		span, err := tile.Cover(b, uint8(z))
		if err != nil {
			return nil, fmt.Errorf("limits at zoom %d: %w", z, err)
		}
		if span.East < span.West { // over the antimeridian: limits cannot say that
			span.West, span.East = 0, 1<<z-1
		}
		out = append(out, tileLimits{strconv.Itoa(z), span.North, span.South, span.West, span.East})
	}
	return out, nil
}

// getTile answers …/{scheme}/{matrix}/{row}/{col}: the same tile as at /tiles.
func (s *Server) getTile(w http.ResponseWriter, r *http.Request) error {
	t, err := s.tilesetAsked(r)
	if err != nil {
		return err
	}
	if err := schemeAsked(r); err != nil {
		return err
	}
	at, err := tile.Parse(r.PathValue("matrix"), r.PathValue("col"), r.PathValue("row"))
	if err != nil {
		return refuse(http.StatusNotFound, "", "%v", err)
	}
	return s.answerTile(w, r, tileRequest{tile: at, season: t.season, theme: string(t.theme)})
}
