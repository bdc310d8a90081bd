package patch

import (
	"math"
	"slices"

	"courson/geo/rings"
)

// border gives the edges that have covered ground on one side only. The edges
// cross nowhere.
func border(edges []edge) []rings.Step {
	if len(edges) == 0 {
		return nil
	}
	byX := newShelves(edges, func(s spot) int64 { return s.X })
	byY := newShelves(edges, func(s spot) int64 { return s.Y })
	var out []rings.Step
	for i, e := range edges {
		left := byX.coverAbove(edges, i)
		right := left - e.net
		if d := e.b.Minus(e.a); max(d.Y, -d.Y) > d.X {
			left, right = byY.coverBeside(edges, i)
		}
		switch {
		case left > 0 && right <= 0:
			out = append(out, rings.Step{From: e.a, To: e.b})
		case left <= 0 && right > 0:
			out = append(out, rings.Step{From: e.b, To: e.a})
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
	m := spot{X: edges[i].a.X + edges[i].b.X, Y: edges[i].a.Y + edges[i].b.Y} // doubled
	for _, k := range s.at(m.X) {
		e := edges[k]
		if int(k) == i || 2*e.a.X > m.X || 2*e.b.X <= m.X {
			continue
		}
		if e.b.Minus(e.a).Cross(spot{X: m.X - 2*e.a.X, Y: m.Y - 2*e.a.Y}) < 0 {
			cover -= e.net
		}
	}
	return cover
}

// coverBeside is how many shapes cover the ground left and right of an edge that
// is not level, seen from a to b.
func (s shelves) coverBeside(edges []edge, i int) (left, right int) {
	m := spot{X: edges[i].a.X + edges[i].b.X, Y: edges[i].a.Y + edges[i].b.Y} // doubled
	for _, k := range s.at(m.Y) {
		low, high, up := upward(edges[k])
		if int(k) == i || 2*low.Y > m.Y || 2*high.Y <= m.Y {
			continue
		}
		if high.Minus(low).Cross(spot{X: m.X - 2*low.X, Y: m.Y - 2*low.Y}) > 0 {
			right += up
		}
	}
	// right is the cover to the east; the edge itself lies between that and west.
	east := right
	_, _, up := upward(edges[i])
	west := east + up
	if edges[i].b.Y > edges[i].a.Y {
		return west, east
	}
	return east, west
}

// upward gives an edge from its lower end, and how often it is walked upward.
func upward(e edge) (low, high spot, up int) {
	if e.b.Y >= e.a.Y {
		return e.a, e.b, e.net
	}
	return e.b, e.a, -e.net
}

// polygons drops holes that are too small and gives each other one to the ring
// around it. Rings begin at their first spot in order, so that the same ground gives
// the same outline.
func (l lattice) polygons(all [][]spot, leastHoleM2 float64) Outline {
	all = slices.DeleteFunc(all, func(r []spot) bool {
		a := rings.TwiceArea(r)
		return a < 0 && float64(-a)/2*l.unit*l.unit < leastHoleM2
	})
	sortRings(all)
	var out Outline
	for _, nest := range rings.Nest(all) {
		var p Polygon
		for _, r := range nest {
			p = append(p, l.ring(r))
		}
		out = append(out, p)
	}
	return out
}

// straighten leaves out spots on a straight line.
func straighten(r []spot) []spot {
	var out []spot
	for i, s := range r {
		before, after := r[(i+len(r)-1)%len(r)], r[(i+1)%len(r)]
		if s.Minus(before).Cross(after.Minus(s)) != 0 {
			out = append(out, s)
		}
	}
	return out
}

// sortRings turns each ring to its first spot and puts the rings in order.
func sortRings(all [][]spot) {
	for k, r := range all {
		start := 0
		for i, s := range r {
			if rings.Compare(s, r[start]) < 0 {
				start = i
			}
		}
		all[k] = append(slices.Clone(r[start:]), r[:start]...)
	}
	slices.SortFunc(all, func(a, b []spot) int { return slices.CompareFunc(a, b, rings.Compare) })
}

func (l lattice) ring(r []spot) Ring {
	out := make(Ring, 0, len(r)+1)
	for _, s := range straighten(r) {
		out = append(out, l.place(s))
	}
	return append(out, out[0])
}
