// Package rings makes closed outlines from pieces of border on a grid of whole
// steps, on which equal places are equal and nothing is lost by rounding.
package rings

import (
	"cmp"
	"slices"
)

// Spot is a place on the grid. Products of two differences must fit an int64.
type Spot struct{ X, Y int64 }

// Minus is the way from b to a.
func (a Spot) Minus(b Spot) Spot { return Spot{a.X - b.X, a.Y - b.Y} }

// Cross is above 0 where b lies to the left of a.
func (a Spot) Cross(b Spot) int64 { return a.X*b.Y - a.Y*b.X }

// Dot is above 0 where b lies less than a quarter turn from a.
func (a Spot) Dot(b Spot) int64 { return a.X*b.X + a.Y*b.Y }

// Compare orders spots by X, then Y.
func Compare(a, b Spot) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) }

// Step is a piece of border, walked with the ground on its left.
type Step struct{ From, To Spot }

// Trace walks the border. At a spot with more than one way on it stays with the
// ground that it walks along; a ring that comes to a spot again is parted there, so
// that no ring touches itself. Steps must cross nowhere and come into every spot as
// often as they leave it; they are put in order. Outer rings run anticlockwise,
// holes clockwise.
func Trace(steps []Step) [][]Spot {
	slices.SortFunc(steps, func(s, t Step) int { return cmp.Or(Compare(s.From, t.From), Compare(s.To, t.To)) })
	first := make(map[Spot]int32, len(steps))
	for i, s := range steps {
		if i == 0 || steps[i-1].From != s.From {
			first[s.From] = int32(i)
		}
	}
	used := make([]bool, len(steps))
	var rings [][]Spot
	for i := range steps {
		var walk []Spot
		for k := i; k >= 0 && !used[k]; k = wayOn(steps, used, first, k) {
			used[k] = true
			walk = append(walk, steps[k].From)
		}
		rings = partAtRepeats(rings, walk)
	}
	return rings
}

// wayOn is the first unused way clockwise from the way back; -1 for none.
func wayOn(steps []Step, used []bool, first map[Spot]int32, k int) int {
	at := steps[k].To
	back := steps[k].From.Minus(at)
	best := -1
	i, ok := first[at]
	for ; ok && int(i) < len(steps) && steps[i].From == at; i++ {
		if !used[i] && (best < 0 || clockwiseBefore(back, steps[i].To.Minus(at), steps[best].To.Minus(at))) {
			best = int(i)
		}
	}
	return best
}

// clockwiseBefore tells whether, turning clockwise from r, one comes to a before b.
func clockwiseBefore(r, a, b Spot) bool {
	if ha, hb := quarter(r, a), quarter(r, b); ha != hb {
		return ha < hb
	}
	return a.Cross(b) < 0
}

// quarter orders directions clockwise from r: less than half a turn, half, more,
// r itself.
func quarter(r, d Spot) int {
	switch c := r.Cross(d); {
	case c < 0:
		return 0
	case c > 0:
		return 2
	case r.Dot(d) < 0:
		return 1
	}
	return 3
}

// partAtRepeats cuts a walk into rings that pass every spot once, and of which each
// has at least three.
func partAtRepeats(rings [][]Spot, walk []Spot) [][]Spot {
	if len(walk) == 0 {
		return rings
	}
	place := make(map[Spot]int, len(walk))
	var stack []Spot
	for _, s := range append(walk, walk[0]) {
		if i, again := place[s]; again {
			if len(stack)-i >= 3 {
				rings = append(rings, slices.Clone(stack[i:]))
			}
			for _, t := range stack[i+1:] {
				delete(place, t)
			}
			stack = stack[:i+1]
			continue
		}
		place[s] = len(stack)
		stack = append(stack, s)
	}
	return rings
}

// TwiceArea is above 0 for rings that run anticlockwise.
func TwiceArea(r []Spot) (sum int64) {
	for i := 2; i < len(r); i++ {
		sum += r[i-1].Minus(r[0]).Cross(r[i].Minus(r[0]))
	}
	return sum
}

// outer is an outer ring with the box around it.
type outer struct {
	low, high Spot
	twice     int64
	ring      []Spot
}

// Nest gives each outer ring, in the order given, followed by its holes: a hole
// belongs to the smallest ring around it, one without any is left out.
func Nest(rings [][]Spot) [][][]Spot {
	var outers []outer
	var out [][][]Spot
	for _, r := range rings {
		if twice := TwiceArea(r); twice > 0 {
			low, high := box(r)
			outers = append(outers, outer{low, high, twice, r})
			out = append(out, [][]Spot{r})
		}
	}
	for _, h := range rings {
		if TwiceArea(h) >= 0 {
			continue
		}
		if i := around(outers, h); i >= 0 {
			out[i] = append(out[i], h)
		}
	}
	return out
}

func around(outers []outer, hole []Spot) int {
	best := -1
	low, high := box(hole)
	for i, o := range outers {
		inBox := o.low.X <= low.X && o.low.Y <= low.Y && o.high.X >= high.X && o.high.Y >= high.Y
		if inBox && (best < 0 || o.twice < outers[best].twice) && holds(o.ring, hole) {
			best = i
		}
	}
	return best
}

func box(r []Spot) (low, high Spot) {
	low, high = r[0], r[0]
	for _, s := range r {
		low = Spot{min(low.X, s.X), min(low.Y, s.Y)}
		high = Spot{max(high.X, s.X), max(high.Y, s.Y)}
	}
	return low, high
}

// holds tells whether the hole lies in the ring; they cross nowhere, so the
// middle of one piece of the hole tells for all.
func holds(ring, hole []Spot) bool {
	m := Spot{hole[0].X + hole[1].X, hole[0].Y + hole[1].Y} // doubled
	inside := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if a.Y > b.Y {
			a, b = b, a
		}
		if 2*a.Y <= m.Y && 2*b.Y > m.Y && b.Minus(a).Cross(Spot{m.X - 2*a.X, m.Y - 2*a.Y}) > 0 {
			inside = !inside
		}
	}
	return inside
}
