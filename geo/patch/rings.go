package patch

import (
	"cmp"
	"math"
	"slices"
)

// step is a piece of border, walked with the covered ground on its left.
type step struct{ from, to spot }

// border gives the edges that have covered ground on one side only. The edges
// cross nowhere.
func border(edges []edge) []step {
	if len(edges) == 0 {
		return nil
	}
	byX := newShelves(edges, func(s spot) int64 { return s.x })
	byY := newShelves(edges, func(s spot) int64 { return s.y })
	var out []step
	for i, e := range edges {
		left := byX.coverAbove(edges, i)
		right := left - e.net
		if d := e.b.minus(e.a); max(d.y, -d.y) > d.x {
			left, right = byY.coverBeside(edges, i)
		}
		switch {
		case left > 0 && right <= 0:
			out = append(out, step{e.a, e.b})
		case left <= 0 && right > 0:
			out = append(out, step{e.b, e.a})
		}
	}
	return out
}

// shelves hold edges by where they lie along one axis.
type shelves struct {
	low, width int64
	edges      [][]int32
}

func newShelves(edges []edge, axis func(spot) int64) shelves {
	low, high := int64(math.MaxInt64), int64(math.MinInt64)
	for _, e := range edges {
		low = min(low, axis(e.a), axis(e.b))
		high = max(high, axis(e.a), axis(e.b))
	}
	n := int64(math.Sqrt(float64(len(edges)))) + 1
	s := shelves{low: low, width: (high-low)/n + 1}
	s.edges = make([][]int32, n)
	for i, e := range edges {
		p, q := axis(e.a), axis(e.b)
		for k := (min(p, q) - low) / s.width; k <= (max(p, q)-low)/s.width; k++ {
			s.edges[k] = append(s.edges[k], int32(i))
		}
	}
	return s
}

// at gives the edges of the shelf that holds half of twice.
func (s shelves) at(twice int64) []int32 {
	return s.edges[min(int64(len(s.edges)-1), (twice/2-s.low)/s.width)]
}

// coverAbove is how many shapes cover the ground just above an edge that is not
// upright: those whose edges a line straight up from its middle leaves.
func (s shelves) coverAbove(edges []edge, i int) (cover int) {
	m := spot{edges[i].a.x + edges[i].b.x, edges[i].a.y + edges[i].b.y} // doubled
	for _, k := range s.at(m.x) {
		e := edges[k]
		if int(k) == i || 2*e.a.x > m.x || 2*e.b.x <= m.x {
			continue
		}
		if e.b.minus(e.a).cross(spot{m.x - 2*e.a.x, m.y - 2*e.a.y}) < 0 {
			cover -= e.net
		}
	}
	return cover
}

// coverBeside is how many shapes cover the ground left and right of an edge that
// is not level, seen from a to b.
func (s shelves) coverBeside(edges []edge, i int) (left, right int) {
	m := spot{edges[i].a.x + edges[i].b.x, edges[i].a.y + edges[i].b.y} // doubled
	for _, k := range s.at(m.y) {
		low, high, up := upward(edges[k])
		if int(k) == i || 2*low.y > m.y || 2*high.y <= m.y {
			continue
		}
		if high.minus(low).cross(spot{m.x - 2*low.x, m.y - 2*low.y}) > 0 {
			right += up
		}
	}
	// right is the cover to the east; the edge itself lies between that and west.
	east := right
	_, _, up := upward(edges[i])
	west := east + up
	if edges[i].b.y > edges[i].a.y {
		return west, east
	}
	return east, west
}

// upward gives an edge from its lower end, and how often it is walked upward.
func upward(e edge) (low, high spot, up int) {
	if e.b.y >= e.a.y {
		return e.a, e.b, e.net
	}
	return e.b, e.a, -e.net
}

// traceRings walks the border. At a spot with more than one way on it stays with
// the ground that it walks along, and ring that comes to a spot again is parted
// there: no ring touches itself.
func traceRings(steps []step) [][]spot {
	slices.SortFunc(steps, func(s, t step) int { return cmp.Or(compareSpots(s.from, t.from), compareSpots(s.to, t.to)) })
	first := map[spot]int{}
	for i, s := range steps {
		if i == 0 || steps[i-1].from != s.from {
			first[s.from] = i
		}
	}
	used := make([]bool, len(steps))
	var rings [][]spot
	for i := range steps {
		var walk []spot
		for k := i; k >= 0 && !used[k]; k = nextStep(steps, used, first, k) {
			used[k] = true
			walk = append(walk, steps[k].from)
		}
		rings = append(rings, partAtRepeats(walk)...)
	}
	return rings
}

// nextStep is the first unused way on, clockwise from the way back; -1 for none.
func nextStep(steps []step, used []bool, first map[spot]int, k int) int {
	at := steps[k].to
	back := steps[k].from.minus(at)
	best := -1
	i, ok := first[at]
	for ; ok && i < len(steps) && steps[i].from == at; i++ {
		if !used[i] && (best < 0 || clockwiseBefore(back, steps[i].to.minus(at), steps[best].to.minus(at))) {
			best = i
		}
	}
	return best
}

// clockwiseBefore tells whether, turning clockwise from r, one comes to a before b.
func clockwiseBefore(r, a, b spot) bool {
	if ha, hb := quarter(r, a), quarter(r, b); ha != hb {
		return ha < hb
	}
	return a.cross(b) < 0
}

// quarter orders directions clockwise from r: less than half a turn, half, more,
// r itself.
func quarter(r, d spot) int {
	switch c := r.cross(d); {
	case c < 0:
		return 0
	case c > 0:
		return 2
	case r.dot(d) < 0:
		return 1
	}
	return 3
}

// partAtRepeats cuts a walk into rings that pass every spot once.
func partAtRepeats(walk []spot) [][]spot {
	var rings [][]spot
	place := map[spot]int{}
	var stack []spot
	for _, s := range append(walk, walkStart(walk)...) {
		if i, again := place[s]; again {
			rings = append(rings, slices.Clone(stack[i:]))
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

func walkStart(walk []spot) []spot {
	if len(walk) == 0 {
		return nil
	}
	return walk[:1]
}

// twiceArea is above 0 for rings that run anticlockwise.
func twiceArea(r []spot) (sum int64) {
	for i := 2; i < len(r); i++ {
		sum += r[i-1].minus(r[0]).cross(r[i].minus(r[0]))
	}
	return sum
}

// polygons gives each hole to the smallest outer ring around it. Rings begin at
// their first spot in order, so that the same ground gives the same outline.
func (l lattice) polygons(rings [][]spot, leastHoleM2 float64) Outline {
	var outer, holes [][]spot
	for _, r := range rings {
		switch a := twiceArea(r); {
		case a > 0:
			outer = append(outer, r)
		case a < 0 && float64(-a)/2*l.unit*l.unit >= leastHoleM2:
			holes = append(holes, r)
		}
	}
	sortRings(outer)
	sortRings(holes)
	out := make(Outline, len(outer))
	for i, r := range outer {
		out[i] = Polygon{l.ring(r)}
	}
	for _, h := range holes {
		best := -1
		for i, r := range outer {
			if holds(r, h) && (best < 0 || twiceArea(r) < twiceArea(outer[best])) {
				best = i
			}
		}
		if best >= 0 {
			out[best] = append(out[best], l.ring(h))
		}
	}
	return out
}

// straighten leaves out spots on a straight line.
func straighten(r []spot) []spot {
	var out []spot
	for i, s := range r {
		before, after := r[(i+len(r)-1)%len(r)], r[(i+1)%len(r)]
		if s.minus(before).cross(after.minus(s)) != 0 {
			out = append(out, s)
		}
	}
	return out
}

// sortRings turns each ring to its first spot and puts the rings in order.
func sortRings(rings [][]spot) {
	for k, r := range rings {
		start := 0
		for i, s := range r {
			if compareSpots(s, r[start]) < 0 {
				start = i
			}
		}
		rings[k] = append(slices.Clone(r[start:]), r[:start]...)
	}
	slices.SortFunc(rings, func(a, b []spot) int { return slices.CompareFunc(a, b, compareSpots) })
}

// holds tells whether the hole lies in the ring; they cross nowhere, so the
// middle of one piece of the hole tells for all.
func holds(ring, hole []spot) bool {
	m := spot{hole[0].x + hole[1].x, hole[0].y + hole[1].y} // doubled
	inside := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if a.y > b.y {
			a, b = b, a
		}
		if 2*a.y <= m.y && 2*b.y > m.y && b.minus(a).cross(spot{m.x - 2*a.x, m.y - 2*a.y}) > 0 {
			inside = !inside
		}
	}
	return inside
}

func (l lattice) ring(r []spot) Ring {
	out := make(Ring, 0, len(r)+1)
	for _, s := range straighten(r) {
		out = append(out, l.place(s))
	}
	return append(out, out[0])
}
