package frame

import (
	"math"
	"sort"
)

// Crossing is where the border of a polygon meets itself.
type Crossing struct {
	At           XY
	RingA, RingB int // 0 is the outer ring
	EdgeA, EdgeB int // index of the position at which the edge begins
	// Overlap tells that the edges run along each other for a way, rather than
	// cross or touch at one place.
	Overlap bool
}

// touchM is how close, in metres, an edge counts as touching: 0.1 µm, above the
// rounding of coordinates in a block's frame, below anything drawn.
const touchM = 1e-7

// edge is a piece of border in the search for crossings.
type edge struct {
	a, b       XY
	ring, at   int
	next       int // index of the edge that follows in the ring
	minX, maxX float64
	minY, maxY float64
}

// Crossing finds a place where the polygon's border crosses, touches or
// overlaps itself: within a ring anything but neighbours meeting at their common
// position; between rings anything but a touch at one place. It gives the one
// furthest west, of equals an overlap. Edges without length are passed over. Work is about
// edges × (edges that share their x range).
func (pg Polygon) Crossing() (Crossing, bool) {
	edges := pg.edges()
	order := make([]int, len(edges))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return edges[order[i]].minX < edges[order[j]].minX })
	var active []int
	best, found := Crossing{At: XY{X: math.Inf(1)}}, false
	for _, i := range order {
		e := edges[i]
		if found && e.minX > best.At.X {
			break // all that follow lie further east
		}
		keep := active[:0]
		for _, j := range active {
			o := edges[j]
			if o.maxX < e.minX-touchM {
				continue
			}
			keep = append(keep, j)
			if o.maxY < e.minY-touchM || o.minY > e.maxY+touchM {
				continue
			}
			if c, ok := edgesMeet(edges, min(i, j), max(i, j)); ok && (c.At.X < best.At.X || c.At.X == best.At.X && c.Overlap) {
				best, found = c, true
			}
		}
		active = append(keep, i)
	}
	return best, found
}

// edges lists the border pieces that have length.
func (pg Polygon) edges() []edge {
	var out []edge
	for ri, r := range pg {
		r = r.open()
		first := len(out)
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if Dist(a, b) <= touchM {
				continue
			}
			out = append(out, edge{a: a, b: b, ring: ri, at: i, next: len(out) + 1,
				minX: min(a.X, b.X), maxX: max(a.X, b.X), minY: min(a.Y, b.Y), maxY: max(a.Y, b.Y)})
		}
		if len(out) > first {
			out[len(out)-1].next = first
		}
	}
	return out
}

// edgesMeet tells whether and where two edges, the lower index first, meet in a
// way that a polygon's border must not.
func edgesMeet(edges []edge, i, j int) (Crossing, bool) {
	e, o := edges[i], edges[j]
	c := Crossing{RingA: e.ring, RingB: o.ring, EdgeA: e.at, EdgeB: o.at}
	from, to, ok := common(e.a, e.b, o.a, o.b)
	if !ok {
		return c, false
	}
	c.At = from
	if Dist(from, to) > 2*touchM {
		c.Overlap = true
		return c, true
	}
	if e.ring != o.ring {
		// A touch at one place is allowed, a crossing is not.
		return c, crosses(e, o)
	}
	if e.next == j && Dist(from, e.b) <= 2*touchM || o.next == i && Dist(from, o.b) <= 2*touchM {
		return c, false // neighbours at their common position
	}
	return c, true
}

// crosses tells whether each edge has its ends clearly on both sides of the
// other.
func crosses(e, o edge) bool {
	return apart2(e.a, e.b, o.a, o.b) && apart2(o.a, o.b, e.a, e.b)
}

func apart2(a, b, p, q XY) bool {
	s, t := aside(a, b, p), aside(a, b, q)
	return s > touchM && t < -touchM || s < -touchM && t > touchM
}

// aside is how far p lies to the left of the line through a and b, m.
func aside(a, b, p XY) float64 {
	return ((b.X-a.X)*(p.Y-a.Y) - (b.Y-a.Y)*(p.X-a.X)) / Dist(a, b)
}

// common gives the piece that a-b and c-d share, its two ends the same place
// where they share one.
func common(a, b, c, d XY) (from, to XY, ok bool) {
	sc, sd := aside(a, b, c), aside(a, b, d)
	if math.Abs(sc) <= touchM && math.Abs(sd) <= touchM { // along each other
		l := Dist(a, b)
		along := func(p XY) float64 { return ((p.X-a.X)*(b.X-a.X) + (p.Y-a.Y)*(b.Y-a.Y)) / l }
		lo, hi := along(c), along(d)
		if lo > hi {
			lo, hi = hi, lo
		}
		lo, hi = max(lo, 0), min(hi, l)
		if lo > hi+touchM {
			return XY{}, XY{}, false
		}
		return Between(a, b, lo/l), Between(a, b, hi/l), true
	}
	if sc > touchM && sd > touchM || sc < -touchM && sd < -touchM {
		return XY{}, XY{}, false
	}
	sa, sb := aside(c, d, a), aside(c, d, b)
	if sa > touchM && sb > touchM || sa < -touchM && sb < -touchM {
		return XY{}, XY{}, false
	}
	if sc == sd {
		return XY{}, XY{}, false
	}
	p := Between(c, d, min(1, max(0, sc/(sc-sd))))
	at, _ := NearestOnSegment(p, a, b)
	if Dist(at, p) > 2*touchM {
		return XY{}, XY{}, false
	}
	return p, p, true
}
