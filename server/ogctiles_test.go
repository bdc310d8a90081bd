package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/color"
	"image/png"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/tile"
	"courson/store/peers"
)

type tilesetSeen struct {
	Title, DataType, CRS, TileMatrixSetURI, TileMatrixSetID string
	Links                                                   []struct {
		Href, Rel, Type string
		Templated       bool
	}
	Layers      []struct{ ID, MinTileMatrix, MaxTileMatrix string }
	BoundingBox *struct {
		LowerLeft, UpperRight [2]float64
		CRS                   string
	}
	TileMatrixSetLimits []tileLimits
}

func (s tilesetSeen) link(rel string) string {
	for _, l := range s.Links {
		if l.Rel == rel {
			return l.Href
		}
	}
	return ""
}

// fill fills a template in (RFC 6570, level 1).
func fill(template string, at tile.Tile) string {
	return strings.NewReplacer("{tileMatrix}", strconv.Itoa(int(at.Z)), "{tileRow}", fmt.Sprint(at.Y), "{tileCol}", fmt.Sprint(at.X)).Replace(template)
}

func (f *fixture) own(href string) string {
	f.t.Helper()
	path, ok := strings.CutPrefix(href, f.web.URL)
	require.True(f.t, ok, href)
	return path
}

// TestOGCTiles_Requirements goes through the requirements of the classes that
// /ogc/conformance names: Open Geospatial Consortium, OGC API - Tiles - Part 1:
// Core, 20-057, and Two Dimensional Tile Matrix Set and Tile Set Metadata,
// 17-083r4.
func TestOGCTiles_Requirements(t *testing.T) {
	f := newFixture(t)
	at, err := tile.At(f.home.vines[0].Point[0], f.home.vines[0].Point[1], 17)
	require.NoError(t, err)
	var landing struct{ Links []ogcLink }
	f.get("/ogc").into(t, &landing)
	rels := map[string]string{}
	for _, l := range landing.Links {
		rels[l.Rel] = l.Href
	}
	var lists [2]struct{ Tilesets []tilesetSeen }
	f.get(f.own(rels[relVectors])).into(t, &lists[0])
	f.get(f.own(rels[relMaps])).into(t, &lists[1])
	vectors, maps := lists[0].Tilesets, lists[1].Tilesets
	each := func(check func(t *testing.T, listed, set tilesetSeen)) func(*testing.T) {
		return func(t *testing.T) {
			for _, listed := range append(append([]tilesetSeen{}, vectors...), maps...) {
				var set tilesetSeen
				f.get(f.own(listed.link("self"))).into(t, &set)
				check(t, listed, set)
			}
		}
	}
	for _, c := range []struct {
		requirement string
		check       func(t *testing.T)
	}{
		{"core/conformance", func(t *testing.T) {
			var said struct{ ConformsTo []string }
			f.get("/ogc/conformance").into(t, &said)
			assert.Subset(t, said.ConformsTo, tilesConformance())
		}},
		{"core/tc-op, tc-success", each(func(t *testing.T, _, set tilesetSeen) {
			a := f.get(f.own(fill(set.link("item"), at)))
			require.Equal(t, http.StatusOK, a.status, "%s", a.body)
			want := "/tiles/2027/%s.mvt"
			if set.DataType == "map" {
				theme := strings.Split(f.own(set.link("self")), "/")[3]
				want = "/tiles/" + theme + "/2027/%s.png"
			}
			assert.Equal(t, f.get(fmt.Sprintf(want, at.String())).body, a.body, "the tile that the page gets")
		})},
		{"core/tc-error", func(t *testing.T) {
			for path, status := range map[string]int{
				"/ogc/tiles/WebMercatorQuad/3/0/0":                       http.StatusNoContent, // nothing there
				"/ogc/tiles/WebMercatorQuad/3/8/0":                       http.StatusNotFound,  // beyond the matrix
				"/ogc/tiles/WebMercatorQuad/23/0/0":                      http.StatusNotFound,
				"/ogc/tiles/WebMercatorQuad/x/0/0":                       http.StatusNotFound,
				"/ogc/tiles/WorldCRS84Quad/3/0/0":                        http.StatusNotFound,
				"/ogc/tiles/WorldCRS84Quad":                              http.StatusNotFound,
				"/ogc/tileMatrixSets/WorldCRS84Quad":                     http.StatusNotFound,
				"/ogc/styles/weather/map/tiles":                          http.StatusNotFound,
				"/ogc/styles/weather/map/tiles/WebMercatorQuad/3/0/0":    http.StatusNotFound,
				"/ogc/styles/vigour/map/tiles/WebMercatorQuad/3/0/0":     http.StatusNoContent,
				"/ogc/tiles?season=1999":                                 http.StatusNotFound,
				"/ogc/tiles/WebMercatorQuad?seasons=2027":                http.StatusBadRequest, // no such parameter
				"/ogc/tiles/WebMercatorQuad?season=2027&season=2026":     http.StatusBadRequest,
				"/ogc/styles/vigour/map/tiles/WebMercatorQuad?season=20": http.StatusNotFound,
			} {
				assert.Equal(t, status, f.get(path).status, path)
			}
		}},
		{"tileset/desc-links", each(func(t *testing.T, _, set tilesetSeen) {
			assert.Equal(t, webMercatorQuadURI, set.TileMatrixSetURI)
			assert.Equal(t, "http://www.opengis.net/def/crs/EPSG/0/3857", set.CRS)
			for _, l := range set.Links {
				assert.Equal(t, l.Rel == "item", l.Templated)
			}
			require.Equal(t, http.StatusOK, f.get(f.own(set.link(relScheme))).status)
			require.Len(t, set.TileMatrixSetLimits, 23)
			l := set.TileMatrixSetLimits[17]
			assert.Equal(t, "17", l.TileMatrix)
			assert.True(t, l.MinTileRow <= at.Y && at.Y <= l.MaxTileRow && l.MinTileCol <= at.X && at.X <= l.MaxTileCol)
			require.NotNil(t, set.BoundingBox)
			assert.Equal(t, crs84, set.BoundingBox.CRS)
			assert.Less(t, set.BoundingBox.LowerLeft[0], set.BoundingBox.UpperRight[0])
		})},
		{"tilesets-list/tileset-links", func(t *testing.T) {
			require.Len(t, vectors, 1)
			require.Len(t, maps, len(tile.Themes()))
			for _, theme := range tile.Themes() {
				var one struct{ Tilesets []tilesetSeen }
				f.get("/ogc/styles/"+string(theme)+"/map/tiles?season=2028").into(t, &one)
				require.Len(t, one.Tilesets, 1)
				assert.Contains(t, one.Tilesets[0].link("item"), "?season=2028", "the season goes along")
				assert.Contains(t, one.Tilesets[0].Title, "2028")
			}
		}},
		{"dataset-tilesets/landingpage", func(t *testing.T) {
			assert.Equal(t, f.web.URL+"/ogc/tiles", rels[relVectors])
			assert.Equal(t, f.web.URL+"/ogc/map/tiles", rels[relMaps])
			assert.Equal(t, f.web.URL+"/ogc/tileMatrixSets", rels[relSchemes])
		}},
		{"mvt/content", func(t *testing.T) {
			assert.Equal(t, "vector", vectors[0].DataType)
			assert.Equal(t, "application/vnd.mapbox-vector-tile", f.get(f.own(fill(vectors[0].link("item"), at))).header.Get("Content-Type"))
			var set tilesetSeen
			f.get(f.own(vectors[0].link("self"))).into(t, &set)
			var names []string
			for _, l := range set.Layers {
				names = append(names, l.ID)
			}
			assert.ElementsMatch(t, []string{"blocks", "zones", "patches", "rows", "vines", "row_labels", "block_labels"}, names)
		}},
		{"png/content", func(t *testing.T) {
			for _, set := range maps {
				assert.Equal(t, "map", set.DataType)
				a := f.get(f.own(fill(set.link("item"), at)))
				assert.Equal(t, "image/png", a.header.Get("Content-Type"))
				assert.Equal(t, "\x89PNG\r\n\x1a\n", string(a.body[:8]), "the signature (ISO/IEC 15948, 5.2)")
			}
		}},
		{"tms/json-tilematrixset", func(t *testing.T) {
			var sets struct {
				TileMatrixSets []struct {
					ID    string
					Links []ogcLink
				}
			}
			f.get(f.own(rels[relSchemes])).into(t, &sets)
			require.Len(t, sets.TileMatrixSets, 1)
			var set struct {
				ID, URI      string
				TileMatrices []tileMatrix
			}
			f.get(f.own(sets.TileMatrixSets[0].Links[0].Href)).into(t, &set)
			assert.Equal(t, webMercatorQuad, set.ID)
			// OGC 17-083r4, annex D.1, WebMercatorQuad: identifier, scale denominator and
			// cell size, from memory; they follow from the Earth's radius of 6,378,137 m and
			// pixels of 0.28 mm.
			for z, want := range map[int][2]float64{0: {559082264.028717, 156543.033928041}, 1: {279541132.014358, 78271.5169640204}, 18: {2132.72958384978, 0.597164283559817}} {
				m := set.TileMatrices[z]
				assert.Equal(t, strconv.Itoa(z), m.ID)
				assert.InEpsilon(t, want[0], m.ScaleDenominator, 1e-9)
				assert.InEpsilon(t, want[1], m.CellSize, 1e-9)
				assert.Equal(t, 1<<z, m.MatrixWidth)
				assert.InDelta(t, -20037508.342789, m.PointOfOrigin[0], 1e-5)
				assert.InDelta(t, 20037508.342789, m.PointOfOrigin[1], 1e-5)
			}
		}},
	} {
		t.Run(c.requirement, c.check)
	}
}

// TestOGCTiles_AnswersFit compares the answers with their description.
func TestOGCTiles_AnswersFit(t *testing.T) {
	f := newFixture(t)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	for path, real := range map[string]string{
		"/ogc/tileMatrixSets":                    "/ogc/tileMatrixSets",
		"/ogc/tileMatrixSets/{scheme}":           "/ogc/tileMatrixSets/WebMercatorQuad",
		"/ogc/tiles":                             "/ogc/tiles",
		"/ogc/tiles/{scheme}":                    "/ogc/tiles/WebMercatorQuad",
		"/ogc/map/tiles":                         "/ogc/map/tiles",
		"/ogc/styles/{theme}/map/tiles":          "/ogc/styles/vigour/map/tiles",
		"/ogc/styles/{theme}/map/tiles/{scheme}": "/ogc/styles/vigour/map/tiles/WebMercatorQuad",
		"/api/layers":                            "/api/layers?season=2027&block=H3",
	} {
		t.Run(path, func(t *testing.T) {
			s := d.Paths[path]["get"].Responses["200"].Content["application/json"].Schema
			require.NotNil(t, s)
			var answer any
			f.get(real).into(t, &answer)
			d.fits(t, s, answer, "answer")
		})
	}
}

// TestOGCTiles_GDAL looks at the pictures of a tile set with GDAL, by nothing but
// the template, the tiling scheme and the origin at the top left: every pixel is
// that of the page's tile.
func TestOGCTiles_GDAL(t *testing.T) {
	f := newFixture(t)
	base, asked := listening(t, f.server.Handler())
	at, err := tile.At(f.home.vines[0].Point[0], f.home.vines[0].Point[1], 17)
	require.NoError(t, err)
	var set tilesetSeen
	f.get("/ogc/styles/condition/map/tiles/WebMercatorQuad").into(t, &set)
	address := base + f.own(strings.NewReplacer("{tileMatrix}", "${z}", "{tileRow}", "${y}", "{tileCol}", "${x}").Replace(set.link("item")))
	const half = "20037508.342789244"
	dir := t.TempDir()
	service, picture := filepath.Join(dir, "service.xml"), filepath.Join(dir, "out.png")
	require.NoError(t, os.WriteFile(service, []byte(`<GDAL_WMS><Service name="TMS"><ServerUrl>`+address+`</ServerUrl></Service><DataWindow><UpperLeftX>-`+half+`</UpperLeftX><UpperLeftY>`+half+
		`</UpperLeftY><LowerRightX>`+half+`</LowerRightX><LowerRightY>-`+half+`</LowerRightY><TileLevel>17</TileLevel><TileCountX>1</TileCountX><TileCountY>1</TileCountY><YOrigin>top</YOrigin></DataWindow>`+
		`<Projection>EPSG:3857</Projection><BlockSizeX>256</BlockSizeX><BlockSizeY>256</BlockSizeY><BandsCount>4</BandsCount></GDAL_WMS>`), 0o600))
	said, err := exec.Command(peers.Program(t, "gdal_translate"), "-q", "-of", "PNG", "-srcwin", fmt.Sprint(256*at.X), fmt.Sprint(256*at.Y), "256", "256", service, picture).CombinedOutput()
	require.NoError(t, err, "%s", said)
	assert.Contains(t, asked(), f.own(f.web.URL+fmt.Sprintf("/ogc/styles/condition/map/tiles/WebMercatorQuad/17/%d/%d", at.Y, at.X)))
	raw, err := os.ReadFile(picture)
	require.NoError(t, err)
	got, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	want, err := png.Decode(bytes.NewReader(f.get(picturePath(t, f.home, "condition", 17)).body))
	require.NoError(t, err)
	require.Equal(t, want.Bounds(), got.Bounds())
	drawn := 0
	for y := range 256 {
		for x := range 256 {
			a, b := color.NRGBAModel.Convert(want.At(x, y)).(color.NRGBA), color.NRGBAModel.Convert(got.At(x, y)).(color.NRGBA)
			if a.A > 0 {
				drawn++
				require.Equal(t, a, b, "%d %d", x, y)
			} else {
				require.Zero(t, b.A)
			}
		}
	}
	assert.Greater(t, drawn, 100)
}

// TestTileJSON_GDAL opens the vector tiles with GDAL's MVT driver through their
// TileJSON alone, and sees every vine once.
func TestTileJSON_GDAL(t *testing.T) {
	f := newFixture(t)
	base, _ := listening(t, f.server.Handler())
	b := f.home.Outline.Bound().Pad(0.0001)
	args := []string{"-f", "GeoJSON", "/vsistdout/", "MVT:" + base + "/tiles/2027/18", "vines", "-oo", "TILE_EXTENSION=mvt", "-oo", "METADATA_FILE=" + base + "/tiles/2027.json", "-t_srs", "EPSG:4326",
		"-spat", fmt.Sprint(b.Min[0]), fmt.Sprint(b.Min[1]), fmt.Sprint(b.Max[0]), fmt.Sprint(b.Max[1]), "-spat_srs", "EPSG:4326"}
	out, err := exec.Command(peers.Program(t, "ogr2ogr"), args...).Output()
	require.NoError(t, err)
	var sees gdalSees
	require.NoError(t, json.Unmarshal(out, &sees))
	seen := map[string]int{}
	for _, v := range sees.Features {
		seen[fmt.Sprint(v.Properties["block"], "/", v.Properties["row"], "/", v.Properties["number"])]++
	}
	require.Len(t, seen, len(f.home.vines))
	for address, n := range seen {
		assert.Equal(t, 1, n, address)
	}
}

// TestOGCAPI_OpenAPI30: the class oas30 of OGC API - Features (17-069r4, clause
// 9): a description in OpenAPI 3.0 with nothing that 3.0 does not know.
func TestOGCAPI_OpenAPI30(t *testing.T) {
	f := newFixture(t)
	a := f.get("/ogc/api?f=oas30")
	require.Equal(t, http.StatusOK, a.status)
	assert.Equal(t, "application/vnd.oai.openapi+json;version=3.0", a.header.Get("Content-Type"))
	var landing struct{ Links []ogcLink }
	f.get("/ogc").into(t, &landing)
	linked := false
	for _, l := range landing.Links {
		linked = linked || l.Rel == "service-desc" && l.Type == openAPI30Type && f.own(l.Href) == "/ogc/api?f=oas30"
	}
	assert.True(t, linked)
	var d, full map[string]any
	require.NoError(t, json.Unmarshal(a.body, &d))
	require.NoError(t, json.Unmarshal(f.get("/ogc/api?f=oas31").body, &full))
	assert.Regexp(t, `^3\.0\.`, d["openapi"])
	assert.Equal(t, len(full["paths"].(map[string]any)), len(d["paths"].(map[string]any)))
	only31 := []string{"const", "examples", "if", "then", "else", "prefixItems", "contains", "$defs", "unevaluatedProperties", "webhooks", "jsonSchemaDialect", "patternProperties", "propertyNames", "contentMediaType", "contentEncoding"}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch v := v.(type) {
		case []any:
			for i, x := range v {
				walk(fmt.Sprint(path, "/", i), x)
			}
		case map[string]any:
			if _, ok := v["$ref"]; ok {
				assert.Len(t, v, 1, "%s: nothing stands beside a reference", path)
			}
			if !strings.HasSuffix(path, "/properties") {
				_, list := v["type"].([]any)
				assert.False(t, list, "%s: a type is one word", path)
				_, bound := v["exclusiveMinimum"].(float64)
				assert.False(t, bound, "%s: exclusiveMinimum is true or false", path)
				for _, key := range only31 {
					assert.NotContains(t, v, key, path)
				}
			}
			for key, x := range v {
				walk(path+"/"+key, x)
			}
		}
	}
	walk("", d)
	assert.Equal(t, http.StatusBadRequest, f.get("/ogc/api?f=oas2").status)
}

func TestAsOpenAPI30(t *testing.T) {
	var v any
	require.NoError(t, json.Unmarshal([]byte(`{"a": {"type": ["string", "null"]}, "b": {"type": ["string", "integer"]}, "c": {"const": 3}, "d": [{"$ref": "#/x", "description": "y"}]}`), &v))
	want, err := json.Marshal(asOpenAPI30(v))
	require.NoError(t, err)
	assert.JSONEq(t, `{"a": {"type": "string", "nullable": true}, "b": {"oneOf": [{"type": "string"}, {"type": "integer"}]}, "c": {"enum": [3]}, "d": [{"$ref": "#/x"}]}`, string(want))
}
