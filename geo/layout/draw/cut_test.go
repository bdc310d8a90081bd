package draw_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/store/peers"
)

// field is a block of 20 × 40 m.
func field() frame.MultiPolygon {
	return frame.MultiPolygon{{{{X: 0, Y: 0}, {X: 20, Y: 0}, {X: 20, Y: 40}, {X: 0, Y: 40}}}}
}

func areaOf(mp frame.MultiPolygon) (m2 float64) {
	for _, pg := range mp {
		m2 += pg.Area()
	}
	return m2
}

func TestCut_Ground(t *testing.T) {
	hole := field()
	hole[0] = append(hole[0], frame.Ring{{X: 5, Y: 15}, {X: 5, Y: 25}, {X: 15, Y: 25}, {X: 15, Y: 15}}) // 10 × 10 m in the middle
	for _, c := range []struct {
		name        string
		line        frame.Line
		ground      frame.MultiPolygon
		left, right float64
		parts       [2]int
	}{
		{"to the north, short", frame.Line{{X: 5, Y: 10}, {X: 5, Y: 11}}, field(), 200, 600, [2]int{1, 1}},
		{"to the south: the sides change", frame.Line{{X: 5, Y: 11}, {X: 5, Y: 10}}, field(), 600, 200, [2]int{1, 1}},
		{"to the east, from far outside", frame.Line{{X: -500, Y: 30}, {X: 500, Y: 30}}, field(), 200, 600, [2]int{1, 1}},
		{"across the corner", frame.Line{{X: 0, Y: 10}, {X: 10, Y: 0}}, field(), 750, 50, [2]int{1, 1}},
		{"with a step", frame.Line{{X: 10, Y: -1}, {X: 10, Y: 20}, {X: 15, Y: 20}, {X: 15, Y: 41}}, field(), 500, 300, [2]int{1, 1}},
		{"into the block and out on the same side", frame.Line{{X: -5, Y: 10}, {X: 10, Y: 10}, {X: 10, Y: 30}, {X: -5, Y: 30}}, field(), 200, 600, [2]int{1, 1}},
		{"through a hole", frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, hole, 350, 350, [2]int{1, 1}},
		{"beside a hole", frame.Line{{X: 0, Y: 10}, {X: 20, Y: 10}}, hole, 500, 200, [2]int{1, 1}},
		{"two areas", frame.Line{{X: 0, Y: 20}, {X: 20, Y: 20}}, append(field(), frame.Polygon{{{X: 30, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 10}, {X: 30, Y: 10}}}), 400, 500, [2]int{1, 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			cut, err := draw.NewCut(c.line, c.ground)
			require.NoError(t, err)
			left, right, err := cut.Ground(c.ground)
			require.NoError(t, err)
			assert.InDelta(t, c.left, areaOf(left), 1e-6)
			assert.InDelta(t, c.right, areaOf(right), 1e-6)
			assert.Equal(t, c.parts, [2]int{len(left), len(right)})
			for _, pg := range append(left, right...) {
				assert.Positive(t, pg[0].SignedArea(), "outer rings are wound anticlockwise")
				for _, r := range pg[1:] {
					assert.Negative(t, r.SignedArea())
				}
			}
		})
	}
}

func TestCut_Refused(t *testing.T) {
	for _, c := range []struct {
		name string
		line frame.Line
		says string
	}{
		{"nothing", nil, "two points or more"},
		{"one point", frame.Line{{X: 1, Y: 1}, {X: 1, Y: 1}}, "two points or more"},
		{"beside the block", frame.Line{{X: 25, Y: 0}, {X: 25, Y: 1}}, "does not cross it"},
		{"a loop", frame.Line{{X: 0, Y: 0}, {X: 20, Y: 20}, {X: 20, Y: 0}, {X: 0, Y: 20}}, "crosses itself"},
		{"there and back", frame.Line{{X: 4, Y: 0}, {X: 1, Y: 1}, {X: 4, Y: 0}}, "crosses itself"},
		{"its ends bend outwards", frame.Line{{X: 5, Y: 0}, {X: 10, Y: 20}, {X: 15, Y: 20}, {X: 10, Y: 0}, {X: 9, Y: -4}}, ""},
		{"led on, it crosses itself", frame.Line{{X: 0, Y: 10}, {X: 10, Y: 12}, {X: 10, Y: 20}, {X: 5, Y: 14}}, "crosses itself"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := draw.NewCut(c.line, field())
			if c.says == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, draw.ErrCut)
			assert.Contains(t, err.Error(), c.says)
		})
	}
}

func TestCut_Side(t *testing.T) {
	for _, c := range []struct {
		line frame.Line
		word string
		left bool
		err  error
	}{
		{frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, "W", true, nil},
		{frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, "east", false, nil},
		{frame.Line{{X: 10, Y: 40}, {X: 10, Y: 0}}, "W", false, nil},
		{frame.Line{{X: 0, Y: 10}, {X: 20, Y: 30}}, "NW", true, nil},
		{frame.Line{{X: 0, Y: 10}, {X: 20, Y: 30}}, "S", false, nil},
		{frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, "N", false, layout.ErrSideUnclear},
		{frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, "", false, layout.ErrSideUnclear},
		{frame.Line{{X: 10, Y: 0}, {X: 10, Y: 40}}, "up", false, layout.ErrEnd},
	} {
		cut, err := draw.NewCut(c.line, field())
		require.NoError(t, err)
		left, err := cut.Side(here, c.word, field())
		require.ErrorIs(t, err, c.err, "%s", c.word)
		if err == nil {
			assert.Equal(t, c.left, left, "%v %s", c.line, c.word)
		}
	}
}

// Both sides together are the ground, no place is on both, rows fall apart at the line
// and lose nothing.
func TestCut_Any(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ground := frame.MultiPolygon{{star(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), rapid.IntRange(3, 12).Draw(t, "corners"))}}
		at := rapid.Float64Range(-250, 250)
		line := make(frame.Line, rapid.IntRange(2, 5).Draw(t, "points"))
		for i := range line {
			line[i] = frame.XY{X: at.Draw(t, "x"), Y: at.Draw(t, "y")}
		}
		cut, err := draw.NewCut(line, ground)
		if err != nil {
			t.Skip("no cut")
		}
		left, right, err := cut.Ground(ground)
		if err != nil {
			t.Fatal(err)
		}
		if whole, sum := areaOf(ground), areaOf(left)+areaOf(right); whole-sum > 0.2 || sum-whole > 1e-6 {
			t.Fatalf("%.6f m² became %.6f m²", whole, sum)
		}
		for range 20 {
			p := frame.XY{X: at.Draw(t, "px"), Y: at.Draw(t, "py")}
			for side, mp := range map[bool]frame.MultiPolygon{true: left, false: right} {
				if mp.Contains(p) && mp.BorderDist(p) > 0.01 && cut.Left(p) != side {
					t.Fatalf("%v lies on the other side", p)
				}
			}
		}
		row := frame.Line{{X: at.Draw(t, "ax"), Y: at.Draw(t, "ay")}, {X: at.Draw(t, "bx"), Y: at.Draw(t, "by")}}
		one, other := cut.Lines([]frame.Line{row})
		sum := 0.0
		for _, l := range append(one, other...) {
			sum += l.Length()
		}
		if diff := row.Length() - sum; diff > 0.1 || diff < -1e-6 {
			t.Fatalf("a row of %.3f m became %.3f m", row.Length(), sum)
		}
	})
}

func TestUnion(t *testing.T) {
	for _, c := range []struct {
		name  string
		b     frame.Ring
		area  float64
		parts int
	}{
		{"side by side", frame.Ring{{X: 20, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 40}, {X: 20, Y: 40}}, 1200, 1},
		{"overlapping by 20 cm", frame.Ring{{X: 19.8, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 40}, {X: 19.8, Y: 40}}, 1200, 1},
		{"a road between", frame.Ring{{X: 24, Y: 0}, {X: 34, Y: 0}, {X: 34, Y: 40}, {X: 24, Y: 40}}, 1200, 2},
		{"a border drawn twice, 3 cm apart", frame.Ring{{X: 20.03, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 40}, {X: 20.03, Y: 40}}, 1200, 1},
		{"a longer one, 20 cm apart", frame.Ring{{X: 20.2, Y: -10}, {X: 30, Y: -10}, {X: 30, Y: 50}, {X: 20.2, Y: 50}}, 800 + 9.8*60 + 0.2*40, 1},
		{"a corner near a side", frame.Ring{{X: 20.1, Y: 20}, {X: 30, Y: 10}, {X: 30, Y: 30}}, 800 + 9.9*10, 1},
		{"a border that does not quite meet, closed in", frame.Ring{{X: 20, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 40}, {X: 20, Y: 40}, {X: 20, Y: 30}, {X: 20.05, Y: 20}, {X: 20, Y: 10}}, 1200, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			both, err := draw.Union(field(), frame.MultiPolygon{{c.b}})
			require.NoError(t, err)
			assert.InDelta(t, c.area, areaOf(both), 3, "what was open between them is little")
			assert.Len(t, both, c.parts)
			for _, pg := range both {
				assert.Len(t, pg, 1, "no holes")
			}
		})
	}
}

// What lies on either side of a line is what ST_Split makes of the block, and the
// ground of two blocks what ST_Union does.
func TestCut_PostGIS(t *testing.T) {
	c := peers.PostGIS(t, "cut")
	rng := rand.New(rand.NewPCG(5, 5))
	for n := range 20 {
		a, b := star(rng, 3+n%9), star(rng, 3+(n+4)%9)
		line := frame.Line{{X: -20 + 40*rng.Float64(), Y: -300}, {X: -30 + 60*rng.Float64(), Y: -50 + 100*rng.Float64()}, {X: -20 + 40*rng.Float64(), Y: 300}}
		cut, err := draw.NewCut(line, frame.MultiPolygon{{a}})
		require.NoError(t, err)
		left, right, err := cut.Ground(frame.MultiPolygon{{a}})
		require.NoError(t, err)
		var west, east, both float64
		require.NoError(t, c.QueryRow(context.Background(), `WITH parts AS (SELECT (ST_Dump(ST_Split(ST_GeomFromText($1), ST_GeomFromText($2)))).geom g),
			side AS (SELECT g, ST_Intersects(ST_PointOnSurface(g), ST_GeomFromText($3)) w FROM parts)
			SELECT coalesce(sum(ST_Area(g)) FILTER (WHERE w), 0), coalesce(sum(ST_Area(g)) FILTER (WHERE NOT w), 0) FROM side`,
			wkt(a), wktLine(line), wkt(frame.Ring{line[0], line[1], line[2], {X: -1000, Y: 300}, {X: -1000, Y: -300}})).Scan(&west, &east))
		assert.InDelta(t, west, areaOf(left), 0.1, "corners %d", 3+n%9)
		assert.InDelta(t, east, areaOf(right), 0.1)
		require.NoError(t, c.QueryRow(context.Background(), `SELECT ST_Area(ST_Union(ST_GeomFromText($1), ST_GeomFromText($2)))`, wkt(a), wkt(b)).Scan(&both))
		union, err := draw.Union(frame.MultiPolygon{{a}}, frame.MultiPolygon{{b}})
		require.NoError(t, err)
		assert.InDelta(t, both, areaOf(union), 3.0, "small holes and gaps go")
	}
}

func wktLine(l frame.Line) string {
	text := wkt(frame.Ring(l)) // closed: cut back to the line
	return "LINESTRING" + text[len("POLYGON("):lastComma(text)] + ")"
}

func lastComma(s string) int {
	for i := len(s) - 1; i >= 0; i-- {
		if s[i] == ',' {
			return i
		}
	}
	return 0
}
