package rate

import (
	"context"
	"courson/store/peers"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func wkt(o Outline) string {
	var polygons []string
	for _, p := range o {
		var rings []string
		for _, r := range p {
			rings = append(rings, wktRing(r))
		}
		polygons = append(polygons, "("+strings.Join(rings, ",")+")")
	}
	return "MULTIPOLYGON(" + strings.Join(polygons, ",") + ")"
}

func wktRing(r []XY) string {
	var places []string
	for _, p := range r {
		places = append(places, fmt.Sprintf("%.9f %.9f", p.X, p.Y))
	}
	return "(" + strings.Join(places, ",") + ")"
}

// cellAlone is the ground of a vine drawn by itself: half a row and half a vine
// spacing either way, turned with the block.
func cellAlone(s scene, r, n int) []XY {
	x, y := s.place(r, n)
	sin, cos := math.Sincos(s.azimuthDeg * math.Pi / 180)
	var out []XY
	for _, k := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}} {
		across, along := k[0]*s.rowM/2, k[1]*s.vineM/2
		out = append(out, XY{x + across*cos + along*sin, y + along*cos - across*sin})
	}
	return out
}

// Outlines are valid, share no ground, and are what ST_Union makes of the cells,
// but for the rounding to whole millimetres.
func TestPostGIS_Outlines(t *testing.T) {
	c := peers.PostGIS(t, "rate")
	for name, s := range map[string]scene{
		"plain":     {rows: 14, vines: 25, rowM: 2, vineM: 1, azimuthDeg: 17},
		"staggered": {rows: 14, vines: 25, rowM: 2.4, vineM: 0.9, azimuthDeg: 130, stagger: true, short: true},
		"road":      {rows: 14, vines: 25, rowM: 2, vineM: 1, roadAt: 9, roadM: 4},
	} {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(2, 2))
			cells := make([][]string, 4)
			z := zonesFrom(t, s, func(r, n int) uint8 {
				zone := uint8(1 + rng.IntN(3))
				cells[zone] = append(cells[zone], "POLYGON("+wktRing(cellAlone(s, r, n))+")")
				return zone
			})
			for k, o := range z.Outlines() {
				var valid bool
				var difference, length float64
				require.NoError(t, c.QueryRow(context.Background(), `WITH o AS (SELECT ST_GeomFromText($1) AS g),
					u AS (SELECT ST_UnaryUnion(ST_Collect(ST_GeomFromText(w))) AS g FROM unnest($2::text[]) w)
					SELECT ST_IsValid(o.g), ST_Area(ST_SymDifference(o.g, u.g)), ST_Perimeter(u.g) FROM o, u`,
					wkt(o), cells[k+1]).Scan(&valid, &difference, &length))
				require.True(t, valid)
				assert.LessOrEqual(t, difference, 0.0015*length, "zone %d", k+1)
			}
			requireApart(t, c, z.Outlines())
		})
	}
	t.Run("bent, surveyed, short, a road", func(t *testing.T) {
		rng := rand.New(rand.NewPCG(3, 3))
		z := zonesFrom(t, scene{rows: 21, vines: 40, rowM: 2, vineM: 1, jitterM: 0.1, stagger: true, short: true, roadAt: 13, roadM: 5, radiusM: 120, alternate: true, azimuthDeg: 61},
			func(_, _ int) uint8 { return uint8(1 + rng.IntN(3)) })
		requireApart(t, c, z.Outlines())
	})
}

// requireApart wants valid outlines without common ground, whose union has the
// area of all and no slit between them.
func requireApart(t *testing.T, c *pgx.Conn, outlines []Outline) {
	var texts []string
	var sum float64
	for _, o := range outlines {
		texts = append(texts, wkt(o))
		sum += o.AreaM2()
	}
	var valid bool
	var overlap, all, closed float64
	require.NoError(t, c.QueryRow(context.Background(), `WITH o AS (SELECT k, ST_GeomFromText(w) AS g FROM unnest($1::text[]) WITH ORDINALITY AS x(w, k)),
		u AS (SELECT ST_UnaryUnion(ST_Collect(g)) AS g FROM o)
		SELECT (SELECT bool_and(ST_IsValid(g)) FROM o),
			(SELECT sum(ST_Area(ST_Intersection(a.g, b.g))) FROM o a JOIN o b ON a.k < b.k),
			(SELECT ST_Area(g) FROM u),
			(SELECT ST_Area(ST_Buffer(ST_Buffer(g, 0.02, 'join=mitre'), -0.02, 'join=mitre')) FROM u)`, texts).Scan(&valid, &overlap, &all, &closed))
	require.True(t, valid)
	assert.LessOrEqual(t, overlap, 1e-6)
	assert.InDelta(t, sum, all, 1e-6*sum)
	assert.InDelta(t, all, closed, 2e-3*all, "closing slits of 4 cm adds nothing")
}
