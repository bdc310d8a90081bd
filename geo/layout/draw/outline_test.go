package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout/draw"
)

func TestOutline(t *testing.T) {
	field := draw.Neighbour{Code: "H4", Ground: rectangle(100, 100)}
	for _, c := range []struct {
		name    string
		corners frame.Ring
		area    float64
		kinds   []draw.FaultKind
	}{
		{"a square beside the other", frame.Ring{{X: 100, Y: 0}, {X: 150, Y: 0}, {X: 150, Y: 50}, {X: 100, Y: 50}}, 2500, nil},
		{"clockwise, closed, with a corner twice", frame.Ring{{X: 100, Y: 0}, {X: 100, Y: 50}, {X: 100, Y: 50}, {X: 150, Y: 50}, {X: 150, Y: 0}, {X: 100, Y: 0}}, 2500, nil},
		{"two corners", frame.Ring{{X: 100, Y: 0}, {X: 150, Y: 0}}, 0, []draw.FaultKind{draw.TooFew}},
		{"one corner three times", frame.Ring{{X: 100, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 0}}, 0, []draw.FaultKind{draw.TooFew}},
		{"a bow", frame.Ring{{X: 100, Y: 0}, {X: 150, Y: 50}, {X: 150, Y: 0}, {X: 100, Y: 50}}, 0, []draw.FaultKind{draw.Crossing}},
		{"a garden bed", frame.Ring{{X: 200, Y: 0}, {X: 202, Y: 0}, {X: 202, Y: 2}, {X: 200, Y: 2}}, 4, []draw.FaultKind{draw.TooSmall}},
		{"a county", frame.Ring{{X: 200, Y: 0}, {X: 9000, Y: 0}, {X: 9000, Y: 9000}, {X: 200, Y: 9000}}, 8800 * 9000, []draw.FaultKind{draw.TooLarge}},
		{"half on the other", frame.Ring{{X: 75, Y: 0}, {X: 125, Y: 0}, {X: 125, Y: 50}, {X: 75, Y: 50}}, 2500, []draw.FaultKind{draw.Overlap}},
		{"within the other", frame.Ring{{X: 25, Y: 25}, {X: 75, Y: 25}, {X: 75, Y: 75}, {X: 25, Y: 75}}, 2500, []draw.FaultKind{draw.Overlap}},
	} {
		t.Run(c.name, func(t *testing.T) {
			area, faults := draw.Outline(c.corners, []draw.Neighbour{field})
			assert.InDelta(t, c.area, area, 1e-6)
			var kinds []draw.FaultKind
			for _, f := range faults {
				kinds = append(kinds, f.Kind)
				assert.False(t, f.Slight)
			}
			assert.Equal(t, c.kinds, kinds)
		})
	}
	_, faults := draw.Outline(frame.Ring{{X: 99.9, Y: 0}, {X: 150, Y: 0}, {X: 150, Y: 50}, {X: 99.9, Y: 50}}, []draw.Neighbour{field})
	require.Len(t, faults, 1)
	assert.True(t, faults[0].Slight, "two hands along one border")
	assert.InDelta(t, 5, faults[0].AreaM2, 1e-6)
	_, faults = draw.Outline(frame.Ring{{X: 0, Y: 0}, {X: 50, Y: 50}, {X: 50, Y: 0}, {X: 0, Y: 50}}, nil)
	assert.InDelta(t, 25, faults[0].At.X, 1e-6)
	assert.Equal(t, []int{0, 2}, []int{faults[0].SideA, faults[0].SideB})
}

// Common ground: with itself all of it, the same both ways, and for convex areas
// what cutting one by the sides of the other leaves (I. E. Sutherland, G. W.
// Hodgman, Reentrant polygon clipping, Communications of the ACM 17, 1974).
func TestCommon_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := polygon(t), polygon(t)
		for i := range b {
			b[i].X += 30
		}
		pa, pb := frame.MultiPolygon{{a}}, frame.MultiPolygon{{b}}
		area := math.Abs(a.SignedArea())
		if got := draw.Common(pa, pa); math.Abs(got-area) > 1e-6*area {
			t.Fatalf("with itself %g of %g m²", got, area)
		}
		if x, y := draw.Common(pa, pb), draw.Common(pb, pa); math.Abs(x-y) > 1e-6*area {
			t.Fatalf("%g m² one way, %g m² the other", x, y)
		}
		tri := frame.Ring{b[0], b[len(b)/3], b[2*len(b)/3]}
		if tri.SignedArea() < 1 {
			return
		}
		want := math.Abs(cut(a, tri).SignedArea())
		if got := draw.Common(pa, frame.MultiPolygon{{tri}}); math.Abs(got-want) > 1e-5*max(area, 1) {
			t.Fatalf("%g m² in common, %g m² by cutting", got, want)
		}
	})
}

// cut leaves of an area what lies within a convex one, drawn counter-clockwise.
func cut(area, convex frame.Ring) frame.Ring {
	for i := range convex {
		a, b := convex[i], convex[(i+1)%len(convex)]
		left := func(p frame.XY) float64 { return (b.X-a.X)*(p.Y-a.Y) - (b.Y-a.Y)*(p.X-a.X) }
		var out frame.Ring
		for k, p := range area {
			q := area[(k+1)%len(area)]
			lp, lq := left(p), left(q)
			if lp >= 0 {
				out = append(out, p)
			}
			if lp*lq < 0 {
				out = append(out, frame.Between(p, q, lp/(lp-lq)))
			}
		}
		area = out
	}
	return area
}
