package server

import (
	"net/http"
	"testing"
	"time"

	"github.com/paulmach/orb/encoding/mvt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/tile"
)

// zonesIn decodes a tile with an independent reader and gives the rates of its
// zones by their numbers.
func zonesIn(t *testing.T, raw []byte) map[any]any {
	t.Helper()
	layers, err := mvt.Unmarshal(raw)
	require.NoError(t, err)
	out := map[any]any{}
	for _, l := range layers {
		if l.Name == tile.LayerZones {
			for _, f := range l.Features {
				assert.Equal(t, 2027.0, f.Properties["season"])
				out[f.Properties["zone"]] = f.Properties["rate"]
			}
		}
	}
	return out
}

// The version kept last is in the tiles, far out too, and changes their tag also
// where its rates alone are others; the totals count its vines.
func TestTile_Zones(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	assert.Empty(t, zonesIn(t, f.get(tilePath(t, b, 15)).body))
	tags := map[string]bool{}
	for _, most := range []float64{15, 12} {
		kept := f.keep(t, "", compost(map[string]any{"by_zone": []float64{most, 5}}))
		want := map[any]any{1.0: most, 2.0: 5.0}
		for _, z := range []uint8{12, 15} {
			path := tilePath(t, b, z)
			require.Eventually(t, func() bool {
				a := f.get(path)
				tags[a.header.Get("ETag")] = true
				return a.status == http.StatusOK && assert.ObjectsAreEqual(want, zonesIn(t, a.body))
			}, 20*time.Second, 20*time.Millisecond, "zones at zoom %d", z)
		}
		var one struct {
			Totals struct{ Zones []int }
		}
		f.get("/api/blocks/P1?season=2027").into(t, &one)
		require.Len(t, one.Totals.Zones, tile.MostZones+1)
		for k, z := range kept.View.Zones {
			assert.Equal(t, z.Living, one.Totals.Zones[k+1])
		}
	}
	assert.GreaterOrEqual(t, len(tags), 4)
}
