package patch

import (
	"cmp"
	"math"
	"slices"

	"courson/geo/rings"
)

// Joining ground cells to one outline is done on a grid of whole millimetres:
// there, which side of a line a place is on has one exact answer, and no sliver
// thinner than rounding survives. Lines are cut where they meet and drawn to the
// grid (snap rounding: J. D. Hobby, Practical segment intersection with finite
// precision output, Computational Geometry 13, 1999); then those that have
// covered ground on one side only are the outline.

// spot is a place on the grid.
type spot = rings.Spot

// edge runs from a to b, a before b in order of x and then y. Its net is how
// often it is walked from a to b, less how often from b to a.
type edge struct {
	a, b spot
	net  int
}

// lattice places the grid: whole units from an origin. Units are millimetres,
// doubled until the ground is at most 2^20 of them wide, so that every product
// below fits 64 bits.
type lattice struct {
	origin XY
	unit   float64
}

const (
	finestUnitM = 0.001
	mostUnits   = 1 << 20
)

func latticeFor(shapes [][]XY) lattice {
	low, high := XY{math.Inf(1), math.Inf(1)}, XY{math.Inf(-1), math.Inf(-1)}
	for _, s := range shapes {
		for _, p := range s {
			low = XY{min(low.X, p.X), min(low.Y, p.Y)}
			high = XY{max(high.X, p.X), max(high.Y, p.Y)}
		}
	}
	unit := finestUnitM
	for max(high.X-low.X, high.Y-low.Y)/unit > mostUnits-2 {
		unit *= 2
	}
	return lattice{XY{math.Floor(low.X/unit) * unit, math.Floor(low.Y/unit) * unit}, unit}
}

func (l lattice) spot(p XY) spot {
	return spot{X: int64(math.Round((p.X - l.origin.X) / l.unit)), Y: int64(math.Round((p.Y - l.origin.Y) / l.unit))}
}

// place gives metres, free of the noise of binary fractions.
func (l lattice) place(s spot) XY {
	round := func(v float64) float64 { return math.Round(v/l.unit) * l.unit }
	p := XY{round(l.origin.X + float64(s.X)*l.unit), round(l.origin.Y + float64(s.Y)*l.unit)}
	return XY{math.Round(p.X*1e3) / 1e3, math.Round(p.Y*1e3) / 1e3}
}

// union joins shapes (simple rings, closed or not, either way round) to an
// outline. Holes smaller than leastHoleM2 are filled. Shapes without area give
// nothing.
func union(shapes [][]XY, leastHoleM2 float64) Outline {
	l := latticeFor(shapes)
	net := map[[2]spot]int{}
	for _, s := range shapes {
		addShape(net, l, s)
	}
	edges := node(listEdges(net))
	return l.polygons(rings.Trace(border(edges)), leastHoleM2)
}

func addShape(net map[[2]spot]int, l lattice, shape []XY) {
	ring := make([]spot, len(shape))
	var twice int64
	for i, p := range shape {
		ring[i] = l.spot(p)
		if i > 0 {
			twice += ring[i-1].Minus(ring[0]).Cross(ring[i].Minus(ring[0]))
		}
	}
	sign := 1
	if twice < 0 {
		sign = -1
	}
	for i, p := range ring {
		count(net, p, ring[(i+1)%len(ring)], sign)
	}
}

// count adds a walk from a to b.
func count(net map[[2]spot]int, a, b spot, times int) {
	switch c := rings.Compare(a, b); {
	case c < 0:
		net[[2]spot{a, b}] += times
	case c > 0:
		net[[2]spot{b, a}] -= times
	}
}

// listEdges gives the edges in order, without those walked as often either way:
// they have the same ground on both sides.
func listEdges(net map[[2]spot]int) []edge {
	var out []edge
	for e, n := range net {
		if n != 0 {
			out = append(out, edge{e[0], e[1], n})
		}
	}
	slices.SortFunc(out, func(e, f edge) int { return cmp.Or(rings.Compare(e.a, f.a), rings.Compare(e.b, f.b)) })
	return out
}

// mostPasses bounds node; two or three are usual.
const mostPasses = 64

// node cuts edges where they meet until none crosses or touches another but at
// its ends.
func node(edges []edge) []edge {
	for range mostPasses {
		cuts := make([][]spot, len(edges))
		hot := crossings(edges, cuts)
		passings(edges, hot, cuts)
		net := map[[2]spot]int{}
		changed := false
		for i, e := range edges {
			changed = cutInto(net, e, cuts[i]) || changed
		}
		edges = listEdges(net)
		if !changed {
			break
		}
	}
	return edges
}

// crossings notes for each pair of edges that cross the spot nearest to their
// crossing, and gives all ends and crossings in order.
func crossings(edges []edge, cuts [][]spot) []spot {
	hot := make([]spot, 0, 3*len(edges))
	for i, e := range edges {
		hot = append(hot, e.a, e.b)
		lo, hi := min(e.a.Y, e.b.Y), max(e.a.Y, e.b.Y)
		for j := i + 1; j < len(edges) && edges[j].a.X <= e.b.X; j++ {
			f := edges[j]
			if max(f.a.Y, f.b.Y) < lo || min(f.a.Y, f.b.Y) > hi {
				continue
			}
			if at, ok := cross(e, f); ok {
				cuts[i], cuts[j] = append(cuts[i], at), append(cuts[j], at)
				hot = append(hot, at)
			}
		}
	}
	slices.SortFunc(hot, rings.Compare)
	return slices.Compact(hot)
}

// cross gives the spot nearest to where two edges cross, ends left out.
func cross(e, f edge) (spot, bool) {
	d, g := e.b.Minus(e.a), f.b.Minus(f.a)
	den := d.Cross(g)
	if den == 0 {
		return spot{}, false // along each other: ends that lie on the other are seen by passings
	}
	num, other := f.a.Minus(e.a).Cross(g), f.a.Minus(e.a).Cross(d)
	if den < 0 {
		den, num, other = -den, -num, -other
	}
	if num <= 0 || num >= den || other <= 0 || other >= den {
		return spot{}, false
	}
	return spot{X: e.a.X + roundQuotient(num*d.X, den), Y: e.a.Y + roundQuotient(num*d.Y, den)}, true
}

// roundQuotient is a / b to the nearest whole number, b > 0.
func roundQuotient(a, b int64) int64 {
	q, r := a/b, a%b
	if r < 0 {
		q, r = q-1, r+b
	}
	if 2*r >= b {
		q++
	}
	return q
}

// passings notes for each edge the spots whose square of one unit it runs
// through: it is drawn through them.
func passings(edges []edge, hot []spot, cuts [][]spot) {
	for i, e := range edges {
		lo, hi := min(e.a.Y, e.b.Y), max(e.a.Y, e.b.Y)
		from, _ := slices.BinarySearchFunc(hot, e.a.X, func(s spot, x int64) int { return cmp.Compare(s.X, x) })
		for _, h := range hot[from:] {
			if h.X > e.b.X {
				break
			}
			if h.Y >= lo && h.Y <= hi && h != e.a && h != e.b && e.runsThrough(h) {
				cuts[i] = append(cuts[i], h)
			}
		}
	}
}

// runsThrough tells whether the edge runs through the inside of the unit square
// around h, which lies in the box around the edge.
func (e edge) runsThrough(h spot) bool {
	d := spot{X: 2 * (e.b.X - e.a.X), Y: 2 * (e.b.Y - e.a.Y)}
	r := spot{X: 2 * (h.X - e.a.X), Y: 2 * (h.Y - e.a.Y)}
	middle := d.Cross(r)
	// The corners lie one half unit off; the largest change of the product.
	reach := max(d.X, -d.X) + max(d.Y, -d.Y)
	return middle < reach && -middle < reach
}

// cutInto adds the pieces of an edge and tells whether there was more than one.
func cutInto(net map[[2]spot]int, e edge, cuts []spot) bool {
	d := e.b.Minus(e.a)
	slices.SortFunc(cuts, func(p, q spot) int {
		return cmp.Or(cmp.Compare(p.Minus(e.a).Dot(d), q.Minus(e.a).Dot(d)), rings.Compare(p, q))
	})
	at, pieces := e.a, 0
	for _, c := range append(cuts, e.b) {
		if c != at {
			count(net, at, c, e.net)
			at = c
			pieces++
		}
	}
	return pieces > 1
}
