package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store/peers"
)

// gdalSees is what GDAL reads from a collection of the OGC API, as GeoJSON.
type gdalSees struct {
	Features []struct {
		ID         any
		Properties map[string]any
		Geometry   *struct {
			Type        string
			Coordinates json.RawMessage
		}
	}
}

// gdalReads lets GDAL's OAPIF driver read a collection.
func gdalReads(t *testing.T, base, layer string, options ...string) gdalSees {
	t.Helper()
	out := filepath.Join(t.TempDir(), layer+".geojson")
	args := append([]string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", out, "OAPIF:" + base + "/ogc", layer}, options...)
	said, err := exec.Command(peers.Program(t, "ogr2ogr"), args...).CombinedOutput()
	require.NoError(t, err, "%s", said)
	assert.Empty(t, string(said), "GDAL complains about %s", layer)
	raw, err := os.ReadFile(out)
	require.NoError(t, err)
	var sees gdalSees
	require.NoError(t, json.Unmarshal(raw, &sees))
	return sees
}

// listening notes which addresses a client asks for.
func listening(t *testing.T, h http.Handler) (base string, asked func() []string) {
	var mu sync.Mutex
	var list []string
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		list = append(list, r.URL.RequestURI())
		mu.Unlock()
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { web.CloseClientConnections(); web.Close() })
	return web.URL, func() []string {
		mu.Lock()
		defer mu.Unlock()
		got := list
		list = nil
		return got
	}
}

// TestOGC_GDAL reads everything with GDAL's OAPIF driver, a client that knows
// nothing of this server but the standard.
func TestOGC_GDAL(t *testing.T) {
	f, b := patchyEstate(t)
	f.post(f.event(b, vine.KindCondition, map[string]any{"condition": "dead", "cause": "frost"}, b.vines[599].ID))
	for _, code := range []string{"H3", "L1", "P1"} {
		f.ready(code)
	}
	kept := f.keep(t, "", compost(nil))
	base, asked := listening(t, f.server.Handler())
	blocks := []testBlock{f.home, f.far, b}

	t.Run("fields", func(t *testing.T) {
		for _, c := range ogcCollections() {
			said, err := exec.Command(peers.Program(t, "ogrinfo"), "-ro", "-so", "OAPIF:"+base+"/ogc", c.id).CombinedOutput()
			require.NoError(t, err, "%s", said)
			assert.NotContains(t, string(said), "ERROR")
			kinds := map[ogcKind]string{ogcText: "String", ogcWhole: "Integer", ogcNumber: "Real", ogcYesNo: "Integer(Boolean)"}
			for _, field := range c.fields {
				assert.Contains(t, string(said), fmt.Sprintf("\n%s: %s (", field.name, kinds[field.kind]), c.id)
			}
		}
	})
	t.Run("blocks", func(t *testing.T) {
		sees := gdalReads(t, base, "blocks")
		require.Len(t, sees.Features, 3)
		for i, code := range []string{"H3", "L1", "P1"} {
			p := sees.Features[i].Properties
			assert.Equal(t, code, p["code"])
			assert.EqualValues(t, rowM, p["row_spacing_m"])
			assert.EqualValues(t, vineM, p["vine_spacing_m"])
			var area [][][][2]float64
			require.NoError(t, json.Unmarshal(sees.Features[i].Geometry.Coordinates, &area))
			want := blocks[i].Outline[0][0]
			require.Len(t, area[0][0], len(want))
			for k := range want {
				samePlace(t, want[k], area[0][0][k])
			}
		}
	})
	t.Run("rows", func(t *testing.T) {
		sees := gdalReads(t, base, "rows", "-oo", "PAGE_SIZE=5")
		require.Len(t, sees.Features, 4+4+20)
		n := 0
		for _, blk := range blocks {
			for _, row := range blk.rows {
				assert.Equal(t, row.Label, sees.Features[n].Properties["row"])
				assert.InDelta(t, row.LengthM, sees.Features[n].Properties["length_m"], 0.001)
				var line [][2]float64
				require.NoError(t, json.Unmarshal(sees.Features[n].Geometry.Coordinates, &line))
				samePlace(t, row.Line[0][0], line[0])
				samePlace(t, row.Line[0][1], line[1])
				n++
			}
		}
	})
	t.Run("vines, in pages", func(t *testing.T) {
		asked()
		sees := gdalReads(t, base, "vines", "-oo", "PAGE_SIZE=70")
		require.Len(t, sees.Features, 680)
		pages := 0
		for _, address := range asked() {
			if strings.Contains(address, "after=") {
				pages++
			}
		}
		assert.Equal(t, 9, pages, "680 vines in pages of 70: nine after the first")
		n := 0
		for _, blk := range blocks {
			for k, v := range blk.vines {
				got := sees.Features[n]
				assert.Equal(t, fmt.Sprintf("%s/%s/%d", blk.Code, blk.rows[k/(len(blk.vines)/len(blk.rows))].Label, v.Number), got.Properties["address"])
				var at [2]float64
				require.NoError(t, json.Unmarshal(got.Geometry.Coordinates, &at))
				samePlace(t, v.Point, at)
				n++
			}
		}
		last := sees.Features[679].Properties
		assert.Equal(t, "dead", last["condition"])
		assert.Nil(t, last["vigour"])
		assert.Nil(t, last["leaf"])
	})
	t.Run("vines in a box", func(t *testing.T) {
		asked()
		p, q := f.home.vines[3].Point, f.home.vines[15].Point
		spat := []string{"-spat", fmt.Sprint(p[0] - 1e-6), fmt.Sprint(p[1] - 1e-6), fmt.Sprint(q[0] + 1e-6), fmt.Sprint(q[1] + 1e-6)}
		sees := gdalReads(t, base, "vines", spat...)
		var got []string
		for _, one := range sees.Features {
			got = append(got, one.Properties["address"].(string))
		}
		assert.Equal(t, []string{"H3/1/4", "H3/1/5", "H3/1/6", "H3/2/4", "H3/2/5", "H3/2/6"}, got)
		assert.Contains(t, strings.Join(asked(), "\n"), "bbox=", "the server picks, not GDAL")
	})
	t.Run("vines by a value", func(t *testing.T) {
		asked()
		sees := gdalReads(t, base, "vines", "-where", "vigour_basis = 'measured' AND block = 'P1'")
		assert.Len(t, sees.Features, 100)
		for _, one := range sees.Features {
			assert.NotNil(t, one.Properties["pruning_weight_g"])
		}
		assert.Contains(t, strings.Join(asked(), "\n"), "vigour_basis=measured", "the server picks, by what its description says")
	})
	t.Run("patches", func(t *testing.T) {
		sees := gdalReads(t, base, "patches")
		require.NotEmpty(t, sees.Features)
		p := sees.Features[0]
		assert.Equal(t, "MultiPolygon", p.Geometry.Type)
		assert.Equal(t, "weak", p.Properties["kind"])
		assert.Equal(t, "tested vine by vine", p.Properties["how"])
		assert.InDelta(t, 96*rowM*vineM/1e4, p.Properties["hectares"], 0.005, "the planted corner")
	})
	t.Run("zones", func(t *testing.T) {
		sees := gdalReads(t, base, "zones")
		require.Len(t, sees.Features, len(kept.View.Zones))
		for k, z := range kept.View.Zones {
			p := sees.Features[k]
			assert.Equal(t, "MultiPolygon", p.Geometry.Type)
			assert.EqualValues(t, z.Number, p.Properties["zone"])
			assert.InDelta(t, z.AreaM2/1e4, p.Properties["hectares"], 1e-4)
			assert.InDelta(t, kept.View.Rates.Zones[k].Rate, p.Properties["rate"], 1e-4)
			assert.Equal(t, "t/ha", p.Properties["unit"])
			assert.Contains(t, p.Properties["cautions"], "licensed adviser")
		}
	})
}

// samePlace allows the rounding to eight decimals, 1.1 mm, and the millimetre of
// the block's frame.
func samePlace(t *testing.T, want, got [2]float64) {
	t.Helper()
	assert.InDelta(t, want[0], got[0], 2e-8)
	assert.InDelta(t, want[1], got[1], 2e-8)
}
