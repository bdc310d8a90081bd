package postgis

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/ewkb"
)

// TestCodec_AgainstGoGeom has a second library of the registries read what we
// write (EWKB as PostGIS documents it): same type, system and numbers.
func TestCodec_AgainstGoGeom(t *testing.T) {
	for name, c := range map[string]struct {
		ours orb.Geometry
		want geom.T
	}{
		"point":   {orb.Point{-66.4, -38.9}, geom.NewPointFlat(geom.XY, []float64{-66.4, -38.9}).SetSRID(srid)},
		"cut row": {orb.MultiLineString{{{1, 2}, {3, 4}}, {{5, 6}, {7, 8}, {9, 10}}}, geom.NewMultiLineStringFlat(geom.XY, []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, []int{4, 10}).SetSRID(srid)},
		"block with a hole": {
			orb.MultiPolygon{{{{0, 0}, {9, 0}, {9, 9}, {0, 0}}, {{1, 1}, {2, 2}, {2, 1}, {1, 1}}}},
			geom.NewMultiPolygonFlat(geom.XY, []float64{0, 0, 9, 0, 9, 9, 0, 0, 1, 1, 2, 2, 2, 1, 1, 1}, [][]int{{8, 16}}).SetSRID(srid)},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ewkb.Unmarshal(encode(t, c.ours))
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
}
