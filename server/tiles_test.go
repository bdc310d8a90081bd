package server

import (
	"bytes"
	"fmt"
	"image/png"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb/encoding/mvt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/tile"
	"courson/geo/vine"
)

func picturePath(t testing.TB, b testBlock, theme string, z uint8) string {
	at, err := tile.At(b.vines[0].Point[0], b.vines[0].Point[1], z)
	require.NoError(t, err)
	return fmt.Sprintf("/tiles/%s/2027/%s.png", theme, at)
}

// vinesIn decodes a tile with an independent reader and gives one attribute of
// its vines by id.
func vinesIn(t testing.TB, raw []byte, attribute string) map[vine.ID]any {
	t.Helper()
	layers, err := mvt.Unmarshal(raw)
	require.NoError(t, err)
	out := make(map[vine.ID]any)
	for _, l := range layers {
		if l.Name != tile.LayerVines {
			continue
		}
		for _, feature := range l.Features {
			id, ok := feature.ID.(float64)
			require.True(t, ok, "id of %v", feature)
			out[vine.ID(id)] = feature.Properties[attribute]
		}
	}
	return out
}

func TestTile_ShowsEvent(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		id := f.home.vines[7].ID
		path := tilePath(t, f.home, 18)
		before := f.get(path)
		require.Equal(t, http.StatusOK, before.status)
		require.Equal(t, float64(vine.NotStarted), vinesIn(t, before.body, "progress")[id])

		start := time.Now()
		ans := f.post(f.done(f.home, id))
		require.Equal(t, "stored", string(ans.Results[0].Result), ans.Results[0].Reason)
		after := f.get(path, "If-None-Match", before.header.Get("ETag"))
		took := time.Since(start)
		require.Equal(t, http.StatusOK, after.status)
		assert.NotEqual(t, before.header.Get("ETag"), after.header.Get("ETag"))
		progress := vinesIn(t, after.body, "progress")
		assert.Equal(t, float64(vine.Done), progress[id])
		assert.Equal(t, float64(vine.NotStarted), progress[f.home.vines[6].ID])
		assert.Less(t, took, 2*time.Second, "far above the 0.1 s that the benchmark measures")

		void := f.event(f.home, vine.KindVoid, map[string]any{"event": ans.Results[0].ID}, id)
		require.Equal(t, "stored", string(f.post(void).Results[0].Result))
		undone := f.get(path)
		assert.Equal(t, float64(vine.NotStarted), vinesIn(t, undone.body, "progress")[id], "taken back")
	})
}

func TestTile_TagChangesOnlyWhereTouched(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		paths := map[string]string{}
		for z := uint8(15); z <= 20; z++ {
			for name, b := range map[string]testBlock{"home": f.home, "far": f.far} {
				p := tilePath(t, b, z)
				paths[p] = name
			}
			paths[picturePath(t, f.far, "progress", z)] = "far"
			paths[picturePath(t, f.home, "progress", z)] = "home"
		}
		tags := map[string]string{}
		for p := range paths {
			a := f.get(p)
			require.Equal(t, http.StatusOK, a.status, p)
			tags[p] = a.header.Get("ETag")
			require.True(t, strings.HasPrefix(tags[p], `"`), "strong tag")
			assert.Equal(t, "no-cache", a.header.Get("Cache-Control"))
		}
		drawn := f.rendered()
		for p, tag := range tags {
			require.Equal(t, http.StatusNotModified, f.get(p, "If-None-Match", tag).status, p)
		}
		require.Equal(t, drawn, f.rendered(), "304 draws nothing")

		f.post(f.done(f.home, f.home.vines[0].ID))
		for p, tag := range tags {
			want := http.StatusNotModified
			if paths[p] == "home" {
				want = http.StatusOK
			}
			assert.Equal(t, want, f.get(p, "If-None-Match", tag).status, "%s of %s", p, paths[p])
		}
	})
}

// rendered counts the tiles drawn so far.
func (f *fixture) rendered() (n int) {
	for line := range strings.Lines(string(f.get("/metrics").body)) {
		var k int
		if strings.HasPrefix(line, "courson_tiles_rendered_total") {
			_, err := fmt.Sscanf(line[strings.Index(line, "} ")+2:], "%d", &k)
			require.NoError(f.t, err)
			n += k
		}
	}
	return n
}

func TestTile_KeptAndCompressed(t *testing.T) {
	f := newFixture(t)
	path := tilePath(t, f.home, 17)
	zipped := f.get(path)
	assert.Equal(t, "gzip", zipped.header.Get("Content-Encoding"))
	assert.Equal(t, "Accept-Encoding", zipped.header.Get("Vary"))
	drawn := f.rendered()
	plain := f.get(path, "Accept-Encoding", "gzip;q=0, identity")
	assert.Empty(t, plain.header.Get("Content-Encoding"))
	assert.Equal(t, zipped.body, plain.body)
	assert.NotEqual(t, zipped.header.Get("ETag"), plain.header.Get("ETag"))
	assert.Equal(t, http.StatusNotModified, f.get(path, "If-None-Match", plain.header.Get("ETag")).status)
	assert.Equal(t, drawn, f.rendered(), "kept, not drawn again")
}

func TestTile_TagOutlivesTheServer(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		path := tilePath(t, f.home, 17)
		tag := f.get(path).header.Get("ETag")
		_, again := serve(t, f.place.open(t))
		a := askAt(t, again.URL, http.MethodGet, path, nil, "If-None-Match", tag)
		assert.Equal(t, http.StatusNotModified, a.status)
	})
}

func TestTile_NothingThere(t *testing.T) {
	f := newFixture(t)
	a := f.get("/tiles/2027/17/0/0.mvt")
	assert.Equal(t, http.StatusNoContent, a.status)
	assert.Empty(t, a.body)
	assert.Equal(t, http.StatusNoContent, f.get("/tiles/vigour/2027/17/0/0.png").status)
}

func TestTile_NoSuchTile(t *testing.T) {
	f := newFixture(t)
	for _, path := range []string{
		"/tiles/1999/17/1/1.mvt", "/tiles/2029/17/1/1.mvt", "/tiles/2027/30/1/1.mvt", "/tiles/2027/1/2/0.mvt",
		"/tiles/2027/1/0/-1.mvt", "/tiles/2027/1/0/0.pbf", "/tiles/2027/1/0/0", "/tiles/2027/1/0/.mvt", "/tiles/2027/a/0/0.mvt",
		"/tiles/abc/1/0/0.mvt", "/tiles/2027/1/0/+0.mvt", "/tiles/2027/1/0/0@2x.mvt", "/tiles/condition/2027/1/0/0@3x.png",
		"/tiles/condition/2027/1/0/0.mvt", "/tiles/99999999999999999999/1/0/0.mvt",
	} {
		t.Run(path, func(t *testing.T) {
			a := f.get(path)
			require.Equal(t, http.StatusNotFound, a.status, "%s", a.body)
			a.problem(t)
		})
	}
}

func TestPicture_Sizes(t *testing.T) {
	f := newFixture(t)
	path := picturePath(t, f.home, "condition", 19)
	for _, c := range []struct {
		path string
		side int
	}{{path, 256}, {strings.Replace(path, ".png", "@2x.png", 1), 512}} {
		a := f.get(c.path)
		require.Equal(t, http.StatusOK, a.status, "%s", a.body)
		img, err := png.Decode(bytes.NewReader(a.body))
		require.NoError(t, err)
		assert.Equal(t, c.side, img.Bounds().Dx())
		assert.Equal(t, c.side, img.Bounds().Dy())
	}
}

func TestTileJSON(t *testing.T) {
	f := newFixture(t)
	var doc struct {
		TileJSON     string     `json:"tilejson"`
		Tiles        []string   `json:"tiles"`
		Bounds       [4]float64 `json:"bounds"`
		MinZoom      int        `json:"minzoom"`
		MaxZoom      int        `json:"maxzoom"`
		VectorLayers []struct {
			ID     string            `json:"id"`
			Fields map[string]string `json:"fields"`
		} `json:"vector_layers"`
	}
	f.get("/tiles/2027.json").into(t, &doc)
	assert.Equal(t, "3.0.0", doc.TileJSON)
	require.Len(t, doc.Tiles, 1)
	assert.Equal(t, f.web.URL+"/tiles/2027/{z}/{x}/{y}.mvt", doc.Tiles[0])
	assert.InDelta(t, homeAt[0], doc.Bounds[0], 1e-6)
	assert.InDelta(t, homeAt[1], doc.Bounds[1], 1e-6)

	// Every layer and attribute of a real tile is described.
	known := map[string]map[string]string{}
	for _, l := range doc.VectorLayers {
		known[l.ID] = l.Fields
	}
	at, err := tile.At(f.home.vines[0].Point[0], f.home.vines[0].Point[1], 18)
	require.NoError(t, err)
	path := strings.NewReplacer("{z}", fmt.Sprint(at.Z), "{x}", fmt.Sprint(at.X), "{y}", fmt.Sprint(at.Y)).Replace(doc.Tiles[0])
	layers, err := mvt.Unmarshal(f.get(strings.TrimPrefix(path, f.web.URL)).body)
	require.NoError(t, err)
	require.NotEmpty(t, layers)
	for _, l := range layers {
		require.Contains(t, known, l.Name)
		for _, feature := range l.Features {
			for name := range feature.Properties {
				assert.Contains(t, known[l.Name], name, "attribute of layer %s", l.Name)
			}
		}
	}
}

func TestTileJSON_PublicAddress(t *testing.T) {
	f := newFixture(t, func(c *Config) { c.PublicURL = "https://vines.example/" })
	var doc tileJSON
	f.get("/tiles/2027.json").into(t, &doc)
	assert.Equal(t, "https://vines.example/tiles/2027/{z}/{x}/{y}.mvt", doc.Tiles[0])
}
