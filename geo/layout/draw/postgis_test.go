package draw_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/store/peers"
)

func wkt(r frame.Ring) string {
	var places []string
	for _, p := range append(r[:len(r):len(r)], r[0]) {
		places = append(places, fmt.Sprintf("%.9f %.9f", p.X, p.Y))
	}
	return "POLYGON((" + strings.Join(places, ",") + "))"
}

// star draws a block of n corners, some turned in.
func star(rng *rand.Rand, n int) frame.Ring {
	var r frame.Ring
	for i := range n {
		a := (float64(i) + 0.6*rng.Float64()) / float64(n) * 2 * math.Pi
		d := 40 + 160*rng.Float64()
		r = append(r, frame.XY{X: d * math.Cos(a), Y: d * math.Sin(a)})
	}
	return r
}

// Common ground is what ST_Intersection gives; and where all borders are kept free by
// the same distance, the rows are those that ST_Intersection leaves of their lines in
// the block without ST_Buffer of its border, whose round corners PostGIS draws as 128
// pieces a quarter.
func TestPostGIS(t *testing.T) {
	c := peers.PostGIS(t, "draw")
	rng := rand.New(rand.NewPCG(4, 4))
	for n := range 12 {
		a, b := star(rng, 3+n), star(rng, 12-n/2)
		for i := range b {
			b[i].X += 60
		}
		var area float64
		require.NoError(t, c.QueryRow(context.Background(), `SELECT ST_Area(ST_Intersection(ST_GeomFromText($1), ST_GeomFromText($2)))`, wkt(a), wkt(b)).Scan(&area))
		assert.InDelta(t, area, draw.Common(frame.MultiPolygon{{a}}, frame.MultiPolygon{{b}}), 1e-4)

		// The side ground is a slack less than the headland wanted of it: here they are one.
		o := draw.Order{BearingDeg: 360 * rng.Float64(), RowM: 2.5, HeadlandM: 5, SideM: 5 + draw.SideSlackM, Planting: layout.Spacing{VineM: 0.5}}
		m, err := draw.Rows(here, frame.MultiPolygon{{a}}, o)
		if err != nil {
			continue // no room, which other tests look at
		}
		var lines []string
		for _, r := range m.Rows {
			p, q := r.Row.Ends()
			d := frame.Dist(p, q)
			ux, uy := (q.X-p.X)/d, (q.Y-p.Y)/d
			lines = append(lines, fmt.Sprintf("LINESTRING(%.9f %.9f,%.9f %.9f)", p.X-500*ux, p.Y-500*uy, p.X+500*ux, p.Y+500*uy))
		}
		var length float64
		require.NoError(t, c.QueryRow(context.Background(), `WITH b AS (SELECT ST_GeomFromText($1) AS g), free AS (SELECT ST_Difference(g, ST_Buffer(ST_ExteriorRing(g), 5, 128)) AS g FROM b)
			SELECT sum(ST_Length(ST_Intersection(ST_GeomFromText(l), free.g))) FROM unnest($2::text[]) l, free`, wkt(a), lines).Scan(&length))
		assert.InDelta(t, length, m.LengthM(), 0.02*float64(len(lines)), "%d corners", 3+n)
	}
}
