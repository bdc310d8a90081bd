package geojson

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// ring is one ring under examination.
type ring struct {
	name    string
	path    []orb.Point // closed, longitudes unwrapped, no position repeated
	polygon int         // which of several
	at      int         // which ring of it: 0 the outer one, the others holes
}

// within tells whether the ring's corners lie inside the outer ring or on its
// border. The rings are known not to cross, so one corner clear of the border
// decides.
func (r ring) within(outer ring) bool {
	for _, p := range r.path {
		if side := outer.side(p); side != 0 {
			return side > 0
		}
	}
	return true
}

// side is 1 for a place inside the ring, -1 outside, 0 on its border.
func (r ring) side(p orb.Point) int {
	in := -1
	for i := 1; i < len(r.path); i++ {
		a, b := r.path[i-1], r.path[i]
		if turn(a, b, p) == 0 && onSpan(a, b, p) {
			return 0
		}
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < (b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1])+a[0] {
			in = -in
		}
	}
	return in
}

// turn is positive where a, b, c turn to the left, 0 where they lie on a line.
func turn(a, b, c orb.Point) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (c[0]-a[0])*(b[1]-a[1])
}

func onSpan(a, b, p orb.Point) bool {
	return p[0] >= min(a[0], b[0]) && p[0] <= max(a[0], b[0]) && p[1] >= min(a[1], b[1]) && p[1] <= max(a[1], b[1])
}

// edge is one side of a ring.
type edge struct {
	a, b       orb.Point
	ring, at   int
	west, east float64
}

// crossing finds a place where two sides of the rings cross, or run on each
// other, and which rings they belong to. Two rings that merely touch at a corner
// do not cross. The sides are swept from west to east: n log n for outlines as
// they are drawn, n² at worst.
func crossing(rings []ring) (at orb.Point, ringA, ringB int, found bool) {
	edges := sweepOrder(rings)
	var active []edge
	for _, e := range edges {
		kept := active[:0]
		for _, f := range active {
			if f.east < e.west {
				continue
			}
			kept = append(kept, f)
			if found || f.ring == e.ring && neighbours(f.at, e.at, len(rings[e.ring].path)-1) {
				continue
			}
			if p, ok := meet(f, e); ok {
				at, ringA, ringB, found = p, min(e.ring, f.ring), max(e.ring, f.ring), true
			}
		}
		if found {
			return at, ringA, ringB, true
		}
		active = append(kept, e)
	}
	return at, 0, 0, false
}

// sweepOrder gives all sides from west to east.
func sweepOrder(rings []ring) []edge {
	var edges []edge
	for r := range rings {
		path := rings[r].path
		for i := 1; i < len(path); i++ {
			e := edge{a: path[i-1], b: path[i], ring: r, at: i - 1}
			e.west, e.east = min(e.a[0], e.b[0]), max(e.a[0], e.b[0])
			edges = append(edges, e)
		}
	}
	sort.Slice(edges, func(i, j int) bool { return edges[i].west < edges[j].west })
	return edges
}

// neighbours tells whether sides i and j of a ring of n sides share a corner.
func neighbours(i, j, n int) bool {
	d := max(i-j, j-i)
	return d <= 1 || d == n-1
}

// meet gives a place where the insides of two sides cross or run on each other.
func meet(e, f edge) (orb.Point, bool) {
	if max(e.a[1], e.b[1]) < min(f.a[1], f.b[1]) || max(f.a[1], f.b[1]) < min(e.a[1], e.b[1]) {
		return orb.Point{}, false
	}
	fa, fb := turn(e.a, e.b, f.a), turn(e.a, e.b, f.b)
	ea, eb := turn(f.a, f.b, e.a), turn(f.a, f.b, e.b)
	if fa == 0 && fb == 0 {
		return overlap(e, f)
	}
	if !opposite(fa, fb) || !opposite(ea, eb) {
		return touch(e, f)
	}
	t := ea / (ea - eb)
	return orb.Point{e.a[0] + t*(e.b[0]-e.a[0]), e.a[1] + t*(e.b[1]-e.a[1])}, true
}

func opposite(a, b float64) bool { return a != 0 && b != 0 && (a > 0) != (b > 0) }

// touch gives a place where two sides of one ring touch: a ring may not meet
// itself (OGC 06-103r4, section 6.1.6). Sides of different rings may touch.
func touch(e, f edge) (orb.Point, bool) {
	if e.ring != f.ring {
		return orb.Point{}, false
	}
	for _, p := range []orb.Point{e.a, e.b} {
		if turn(f.a, f.b, p) == 0 && onSpan(f.a, f.b, p) {
			return p, true
		}
	}
	for _, p := range []orb.Point{f.a, f.b} {
		if turn(e.a, e.b, p) == 0 && onSpan(e.a, e.b, p) {
			return p, true
		}
	}
	return orb.Point{}, false
}

// overlap gives the middle of the stretch that two sides on one line share.
func overlap(e, f edge) (orb.Point, bool) {
	axis := 0
	if math.Abs(e.b[1]-e.a[1]) > math.Abs(e.b[0]-e.a[0]) {
		axis = 1
	}
	from := max(min(e.a[axis], e.b[axis]), min(f.a[axis], f.b[axis]))
	to := min(max(e.a[axis], e.b[axis]), max(f.a[axis], f.b[axis]))
	if !(from < to) {
		return orb.Point{}, false
	}
	t := ((from+to)/2 - e.a[axis]) / (e.b[axis] - e.a[axis])
	return orb.Point{e.a[0] + t*(e.b[0]-e.a[0]), e.a[1] + t*(e.b[1]-e.a[1])}, true
}
