package draw_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
)

var here = frame.New(orb.Point{8.12, 49.21})

func rectangle(w, h float64) frame.MultiPolygon {
	return frame.MultiPolygon{{{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}}}
}

func side(t testing.TB, word string) layout.End {
	t.Helper()
	e, err := layout.ParseEnd(word)
	require.NoError(t, err)
	return e
}

// A rectangle worked by hand: 50 m wide, 100 m long. At 2 m there are 25 rows, the
// first 1 m from the edge; 6 m of headland at either end leave 88 m; from 0.5 m
// on, every metre, there are 88 vines. The ground of the rows is 25 × 88 m × 2 m =
// 4400 m², the rectangle without its headlands: 50 m × 88 m.
func TestRows_Rectangle(t *testing.T) {
	o := draw.Order{BearingDeg: 0, RowM: 2, HeadlandM: 6, SideM: -1, Planting: layout.Spacing{VineM: 1, StartM: 0.5, EndM: 0.5}}
	m, err := draw.Rows(here, rectangle(50, 100), o)
	require.NoError(t, err)
	require.Equal(t, 25, len(m.Rows))
	assert.Equal(t, 2200, m.Vines())
	assert.InDelta(t, 2200, m.LengthM(), 1e-4)
	assert.InDelta(t, 4400, m.LengthM()*o.RowM, 1e-4)
	for i, r := range m.Rows {
		a, b := r.Row.Ends()
		assert.InDelta(t, 1+2*float64(i), a.X, 1e-6)
		assert.InDelta(t, 6, a.Y, 1e-6)
		assert.InDelta(t, 94, b.Y, 1e-6)
		assert.InDelta(t, 6.5, r.Places[0].At.Y, 1e-6)
	}
}

// The same rectangle in other words.
func TestRows_Choices(t *testing.T) {
	plain := draw.Order{RowM: 2, HeadlandM: 6, SideM: -1, Planting: layout.Spacing{VineM: 1}}
	for _, c := range []struct {
		name   string
		change func(o *draw.Order)
		rows   int
		firstX float64 // of the row most to the west
		length float64 // of each
		missed int
	}{
		{"south to north is north to south", func(o *draw.Order) { o.BearingDeg = 180 }, 25, 1, 88, 0},
		{"ten from the west", func(o *draw.Order) { o.Count, o.Side = 10, side(t, "W") }, 10, 1, 88, 0},
		{"ten from the east", func(o *draw.Order) { o.Count, o.Side = 10, side(t, "E") }, 10, 31, 88, 0},
		{"more than fit", func(o *draw.Order) { o.Count, o.Side = 30, side(t, "W") }, 25, 1, 88, 5},
		{"four metres free at the sides", func(o *draw.Order) { o.SideM = 4 }, 22, 4, 88, 0},
		{"from a line in the middle, both ways", func(o *draw.Order) { o.Line = frame.Line{{X: 24.5, Y: 40}, {X: 24.5, Y: 60}} }, 25, 0.5 + 1 - 1, 88, 0},
		{"from a line, three to the east", func(o *draw.Order) {
			o.Line, o.Count, o.Side = frame.Line{{X: 24.5, Y: 40}, {X: 24.5, Y: 60}}, 3, side(t, "E")
		}, 3, 24.5, 88, 0},
		{"from a line, three to the west", func(o *draw.Order) {
			o.Line, o.Count, o.Side = frame.Line{{X: 24.5, Y: 40}, {X: 24.5, Y: 60}}, 3, side(t, "W")
		}, 3, 20.5, 88, 0},
		{"no headland", func(o *draw.Order) { o.HeadlandM = 0 }, 25, 1, 100, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := plain
			c.change(&o)
			if o.Line != nil && o.Count == 0 {
				o.SideM = 0.25 // the rows beside the line lie at 0.5, 2.5 …
			}
			m, err := draw.Rows(here, rectangle(50, 100), o)
			require.NoError(t, err)
			require.Equal(t, c.rows, len(m.Rows))
			assert.Equal(t, c.missed, m.Missed)
			west := math.Inf(1)
			for _, r := range m.Rows {
				a, _ := r.Row.Ends()
				west = min(west, a.X)
				assert.InDelta(t, c.length, r.Row.LengthM(), 1e-6)
			}
			assert.InDelta(t, c.firstX, west, 1e-6)
		})
	}
}

func TestRows_Refused(t *testing.T) {
	plain := draw.Order{RowM: 2, SideM: -1, Planting: layout.Spacing{VineM: 1}}
	for _, c := range []struct {
		name   string
		change func(o *draw.Order)
		is     error
	}{
		{"no row spacing", func(o *draw.Order) { o.RowM = 0 }, layout.ErrSpacing},
		{"no vine spacing", func(o *draw.Order) { o.Planting.VineM = math.NaN() }, layout.ErrSpacing},
		{"a headland below nothing", func(o *draw.Order) { o.HeadlandM = -1 }, layout.ErrOffset},
		{"no bearing", func(o *draw.Order) { o.BearingDeg = math.Inf(1) }, draw.ErrOrder},
		{"a headland that fills the block", func(o *draw.Order) { o.HeadlandM = 50 }, draw.ErrNothing},
		{"rows wider apart than the block", func(o *draw.Order) { o.RowM = 60 }, draw.ErrNothing},
		{"a side along the rows", func(o *draw.Order) { o.Count, o.Side = 3, side(t, "N") }, layout.ErrSideUnclear},
		{"a line of one place", func(o *draw.Order) { o.Line = frame.Line{{X: 5, Y: 5}, {X: 5, Y: 5}} }, layout.ErrZeroLength},
		{"too many rows", func(o *draw.Order) { o.RowM = 0.001 }, layout.ErrTooMany},
		{"a bend that rows beside it cannot follow", func(o *draw.Order) {
			o.Line = frame.Line{{X: 5, Y: 40}, {X: 5, Y: 50}, {X: 8, Y: 50.5}, {X: 8, Y: 60}}
		}, draw.ErrOrder},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := plain
			c.change(&o)
			_, err := draw.Rows(here, rectangle(50, 100), o)
			assert.ErrorIs(t, err, c.is)
		})
	}
}

// polygon draws a block of 3 to 9 corners around a middle, some of them turned in.
func polygon(t *rapid.T) frame.Ring {
	n := rapid.IntRange(3, 9).Draw(t, "corners")
	var r frame.Ring
	for i := range n {
		a := (float64(i) + rapid.Float64Range(-0.3, 0.3).Draw(t, "turn")) / float64(n) * 2 * math.Pi
		d := rapid.Float64Range(20, 70).Draw(t, "reach")
		r = append(r, frame.XY{X: d * math.Cos(a), Y: d * math.Sin(a)})
	}
	return r
}

// along is the angle between two bearings of lines.
func along(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 180)) }

// Whatever the block: rows lie exactly a spacing apart, to 1 mm; everywhere within
// the block and its headland, and each end touches the headland, so that no ground
// is given away; rows × spacing is the ground left by the headland, to within one
// row spacing along the rim.
func TestRows_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		block := frame.MultiPolygon{{polygon(t)}}
		o := draw.Order{
			BearingDeg: rapid.Float64Range(0, 360).Draw(t, "bearing"), RowM: rapid.Float64Range(1, 4).Draw(t, "rows"),
			HeadlandM: rapid.Float64Range(0, 10).Draw(t, "headland"), SideM: rapid.Float64Range(0, 3).Draw(t, "side"),
			Planting: layout.Spacing{VineM: rapid.Float64Range(0.7, 3).Draw(t, "vines")},
		}
		m, err := draw.Rows(here, block, o)
		if err != nil {
			t.Skip(err) // a block without room
		}
		s, c := math.Sincos(o.BearingDeg * math.Pi / 180)
		across := func(p frame.XY) float64 { return p.X*c - p.Y*s }
		first, _ := m.Rows[0].Row.Ends()
		for _, r := range m.Rows {
			for _, part := range r.Row.Parts {
				for _, p := range part {
					k := (across(p) - across(first)) / o.RowM
					if off := math.Abs(k-math.Round(k)) * o.RowM; off > 1e-3 {
						t.Fatalf("a row lies %g m off its place", off)
					}
				}
				middle, _ := part.At(part.Length() / 2)
				if gap, ok := free(block, o, middle); !ok || gap < -1e-6 {
					t.Fatalf("middle of a row: inside %v, %g m of its headland taken", ok, -gap)
				}
				for _, p := range []frame.XY{part[0], part[len(part)-1]} {
					if gap, _ := free(block, o, p); math.Abs(gap) > 1e-5 {
						t.Fatalf("a row ends %g m from its headland", gap)
					}
				}
			}
			for _, p := range r.Places {
				if gap, _ := free(block, o, p.At); gap < -1e-5 {
					t.Fatalf("vine %d stands %g m within the headland", p.Number, -gap)
				}
			}
		}
	})
}

// free gives how much further than wanted a place is from the border, m, whichever
// side of it is short of most.
func free(block frame.MultiPolygon, o draw.Order, p frame.XY) (gap float64, inside bool) {
	gap = math.Inf(1)
	r := block[0][0]
	for i := range r {
		a, b := r[i], r[(i+1)%len(r)]
		wanted := o.HeadlandM
		if along(frame.Azimuth(a, b), o.BearingDeg) < 30 {
			wanted = max(0, o.SideM-draw.SideSlackM)
		}
		at, _ := frame.NearestOnSegment(p, a, b)
		gap = min(gap, frame.Dist(at, p)-wanted)
	}
	return gap, block.Contains(p)
}

// Rows × spacing over a block without headland is its area, to within one spacing
// of ground along its width: the rule by which row metres are counted (10,000 m² ÷
// row spacing = metres of row per hectare, as in every planting table).
func TestRows_Area(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ring := polygon(t)
		o := draw.Order{BearingDeg: rapid.Float64Range(0, 180).Draw(t, "bearing"), RowM: rapid.Float64Range(1, 3).Draw(t, "rows"), SideM: 0,
			Planting: layout.Spacing{VineM: 0.5}}
		m, err := draw.Rows(here, frame.MultiPolygon{{ring}}, o)
		if err != nil {
			t.Skip(err)
		}
		area := math.Abs(ring.SignedArea())
		// The trapezoid rule over the width: off by at most the spacing times the
		// change of the length across, which is at most twice the extent for each corner.
		bound := o.RowM * 140 * float64(len(ring))
		if off := math.Abs(m.LengthM()*o.RowM - area); off > bound {
			t.Fatalf("%.0f m of rows at %.2f m for %.0f m²", m.LengthM(), o.RowM, area)
		}
	})
}

// Rows along a bend keep their distance from it everywhere.
func TestRows_Bent(t *testing.T) {
	o := draw.Order{Line: frame.Line{{X: 20, Y: 10}, {X: 24, Y: 50}, {X: 34, Y: 90}}, RowM: 2, HeadlandM: 5, SideM: -1, Planting: layout.Spacing{VineM: 1.2}}
	m, err := draw.Rows(here, rectangle(60, 100), o)
	require.NoError(t, err)
	require.Greater(t, len(m.Rows), 15)
	for i := 1; i < len(m.Rows); i++ {
		a, b := m.Rows[i-1].Row, m.Rows[i].Row
		if len(a.Parts) != 1 || len(b.Parts) != 1 {
			continue
		}
		at, _ := b.Parts[0].At(b.LengthM() / 3)
		if h := a.Nearest(at); h.Beyond == 0 {
			assert.InDelta(t, 2, h.Dist, 1e-3)
		}
	}
}
