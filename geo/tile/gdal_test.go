package tile

import (
	"courson/store/peers"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestGDAL: GDAL's vector tile driver reads a written tile, layer by layer,
// with the same features and attributes, and puts the vines where they stand.
func TestGDAL(t *testing.T) {
	tool := peers.Program(t, "ogr2ogr")
	v := plots()[0].view(t)
	g := v.Stand.Ground
	lon, lat := FromWorld(g.WX[400], g.WY[400])
	tl, err := At(lon, lat, 18)
	require.NoError(t, err)
	raw := Render(tl, []BlockView{v}, Options{})
	read, err := readStrictly(raw)
	require.NoError(t, err)

	// GDAL takes the address from the path: z/x/y.mvt.
	dir := filepath.Join(t.TempDir(), "18", strconv.Itoa(int(tl.X)))
	require.NoError(t, os.MkdirAll(dir, 0o755))
	path := filepath.Join(dir, strconv.Itoa(int(tl.Y))+".mvt")
	require.NoError(t, os.WriteFile(path, raw, 0o644))

	for _, l := range read.layers {
		out := filepath.Join(t.TempDir(), l.name+".geojson")
		cmd := exec.Command(tool, "-f", "GeoJSON", "-oo", "CLIP=NO", "-t_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=9", out, path, l.name)
		said, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", said)
		assert.Empty(t, string(said), "GDAL complains about layer %s", l.name)
		body, err := os.ReadFile(out)
		require.NoError(t, err)
		var fc struct {
			Features []struct {
				Properties map[string]any
				Geometry   struct {
					Type        string
					Coordinates json.RawMessage
				}
			}
		}
		require.NoError(t, json.Unmarshal(body, &fc))
		require.Equal(t, len(l.features), len(fc.Features), l.name)
		if l.name != LayerVines {
			continue
		}
		byID := map[int]int{}
		for i, id := range g.ID {
			byID[int(id)] = i
		}
		for _, f := range fc.Features {
			i, ok := byID[whole(t, f.Properties["mvt_id"])]
			require.True(t, ok)
			assert.EqualValues(t, g.Number[i], f.Properties["number"])
			assert.EqualValues(t, v.Stand.Condition[i], f.Properties["condition"])
			assert.Equal(t, g.Rows[g.Row[i]].Label, f.Properties["row"])
			var at [2]float64
			require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &at))
			wantLon, wantLat := FromWorld(g.WX[i], g.WY[i])
			// Half a unit at zoom 18 is 1.7e-7 degrees of longitude.
			assert.InDelta(t, wantLon, at[0], 1.8e-7)
			assert.InDelta(t, wantLat, at[1], 1.8e-7)
		}
	}
}
