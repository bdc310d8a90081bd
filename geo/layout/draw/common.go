package draw

import (
	"math"
	"slices"

	"courson/geo/frame"
)

// Common is the ground that two areas have in common, m², holes left out. It is
// exact but for rounding: the plane is cut into strips at the height of every
// corner and of every place where two sides meet, so that within a strip no side
// begins, ends or crosses another, and the common width changes evenly.
//
// Work is sides² + strips × sides.
func Common(a, b frame.MultiPolygon) float64 {
	if !near(a, b) {
		return 0
	}
	as, bs := sidesOf(a), sidesOf(b)
	heights := make([]float64, 0, len(as)+len(bs))
	for _, s := range append(slices.Clip(as), bs...) {
		heights = append(heights, s.low.Y, s.high.Y)
	}
	for _, s := range as {
		for _, o := range bs {
			if y, ok := s.meets(o); ok {
				heights = append(heights, y)
			}
		}
	}
	slices.Sort(heights)
	heights = slices.Compact(heights)
	var sum float64
	var xs, ys []float64
	for i := 1; i < len(heights); i++ {
		mid := heights[i-1] + (heights[i]-heights[i-1])/2
		xs, ys = across(xs[:0], as, mid), across(ys[:0], bs, mid)
		sum += width(xs, ys) * (heights[i] - heights[i-1])
	}
	return sum
}

// side is a side of an area, from its lower to its higher end.
type side struct{ low, high frame.XY }

func sidesOf(mp frame.MultiPolygon) []side {
	var out []side
	for _, pg := range mp {
		for _, r := range pg {
			for i, p := range r {
				q := r[(i+1)%len(r)]
				switch {
				case p.Y < q.Y:
					out = append(out, side{p, q})
				case p.Y > q.Y:
					out = append(out, side{q, p})
				}
			}
		}
	}
	return out
}

// at is where the side is at a height, east.
func (s side) at(y float64) float64 {
	return s.low.X + (s.high.X-s.low.X)*(y-s.low.Y)/(s.high.Y-s.low.Y)
}

// meets gives the height at which two sides cross within both.
func (s side) meets(o side) (y float64, ok bool) {
	lo, hi := max(s.low.Y, o.low.Y), min(s.high.Y, o.high.Y)
	if !(lo < hi) {
		return 0, false
	}
	below, above := s.at(lo)-o.at(lo), s.at(hi)-o.at(hi)
	if below*above >= 0 {
		return 0, false
	}
	return lo + (hi-lo)*below/(below-above), true
}

// across gives where the sides are met at a height, from west to east: every other
// stretch between lies inside.
func across(dst []float64, sides []side, y float64) []float64 {
	for _, s := range sides {
		if s.low.Y < y && y < s.high.Y {
			dst = append(dst, s.at(y))
		}
	}
	slices.Sort(dst)
	return dst
}

// width is how much of two sets of stretches is common.
func width(xs, ys []float64) (sum float64) {
	for i := 1; i < len(xs); i += 2 {
		for k := 1; k < len(ys); k += 2 {
			sum += max(0, min(xs[i], ys[k])-max(xs[i-1], ys[k-1]))
		}
	}
	return sum
}

// near tells whether the boxes around two areas overlap.
func near(a, b frame.MultiPolygon) bool {
	p, q := boxOf(a), boxOf(b)
	return p[0].X < q[1].X && q[0].X < p[1].X && p[0].Y < q[1].Y && q[0].Y < p[1].Y
}

// boxOf is the south-western and the north-eastern corner of the box around an area.
func boxOf(mp frame.MultiPolygon) [2]frame.XY {
	b := [2]frame.XY{{X: math.Inf(1), Y: math.Inf(1)}, {X: math.Inf(-1), Y: math.Inf(-1)}}
	for _, pg := range mp {
		for _, r := range pg {
			for _, p := range r {
				b[0] = frame.XY{X: min(b[0].X, p.X), Y: min(b[0].Y, p.Y)}
				b[1] = frame.XY{X: max(b[1].X, p.X), Y: max(b[1].Y, p.Y)}
			}
		}
	}
	return b
}
