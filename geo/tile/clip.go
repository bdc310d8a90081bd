package tile

import (
	"math"
	"slices"
)

// clipPolygon cuts a polygon (exterior clockwise on the screen, holes the
// other way) to a rectangle. A polygon that leaves the rectangle and comes back
// falls into several; a hole that reaches over the border becomes part of the
// exterior. Each result is an exterior with its holes.
//
// The parts of the rings that lie inside are strung together along the border,
// clockwise from where one leaves to where the next one enters (K. Weiler and
// P. Atherton, Hidden surface removal using polygon area sorting, SIGGRAPH
// 1977). Rings that cross themselves cannot be strung so and are cut side by
// side instead.
func clipPolygon(rings [][]vec, b box) [][][]vec {
	b = clearOf(rings, b)
	var inner [][]vec
	var chains []chain
	for _, r := range rings {
		cs, whole := chainsOf(r, b)
		switch {
		case whole:
			inner = append(inner, r)
		default:
			chains = append(chains, cs...)
		}
	}
	if len(chains) == 0 {
		return unstrung(rings, inner, b)
	}
	outer, ok := threaded(chains, b)
	if !ok {
		return sideBySide(rings, b)
	}
	return withHoles(outer, inner)
}

// clearOf moves the sides of a rectangle a hair outwards where a corner of a
// ring lies on them or all but, so that every corner is inside or outside.
func clearOf(rings [][]vec, b box) box {
	const hair = 1.0 / 512 // of a world unit: 18 µm
	on := func(v, side float64) bool { return math.Abs(v-side) < hair/4 }
	for moved, tries := true, 0; moved && tries < 64; tries++ {
		moved = false
		for _, r := range rings {
			for _, p := range r {
				switch {
				case on(p.x, b.w):
					b.w -= hair
				case on(p.x, b.e):
					b.e += hair
				case on(p.y, b.n):
					b.n -= hair
				case on(p.y, b.s):
					b.s += hair
				default:
					continue
				}
				moved = true
			}
		}
	}
	return b
}

func (b box) holds(p vec) bool { return p.x > b.w && p.x < b.e && p.y > b.n && p.y < b.s }

// chain is a part of a ring inside a rectangle, from where it enters to where
// it leaves.
type chain struct {
	pts      []vec
	in, out  float64 // places on the border
	followed bool
}

// chainsOf gives the parts of a ring inside a rectangle, or says that all of it
// is.
func chainsOf(ring []vec, b box) (chains []chain, whole bool) {
	start := slices.IndexFunc(ring, func(p vec) bool { return !b.holds(p) })
	if start < 0 {
		return nil, true
	}
	var open []vec
	for k := range ring {
		p, q := ring[(start+k)%len(ring)], ring[(start+k+1)%len(ring)]
		from, to, ok := clipStep(p, q, b)
		if !ok || from == to {
			continue
		}
		if !b.holds(p) {
			open = append(open[:0:0], from)
		}
		open = append(open, to)
		if !b.holds(q) {
			chains = append(chains, chain{pts: open, in: b.place(open[0]), out: b.place(to)})
		}
	}
	return chains, false
}

// place tells where on the border a point lies: 0 to 4, clockwise on the
// screen from the north-west corner.
func (b box) place(p vec) float64 {
	w, n, e, s := math.Abs(p.x-b.w), math.Abs(p.y-b.n), math.Abs(p.x-b.e), math.Abs(p.y-b.s)
	switch along := min(w, n, e, s); along {
	case n:
		return 0 + (p.x-b.w)/(b.e-b.w)
	case e:
		return 1 + (p.y-b.n)/(b.s-b.n)
	case s:
		return 2 + (b.e-p.x)/(b.e-b.w)
	}
	return 3 + (b.s-p.y)/(b.s-b.n)
}

// corner gives the corner at which a side ends: 1 north-east, 2 south-east,
// 3 south-west, 4 north-west.
func (b box) corner(i int) vec {
	switch i & 3 {
	case 1:
		return vec{b.e, b.n}
	case 2:
		return vec{b.e, b.s}
	case 3:
		return vec{b.w, b.s}
	}
	return vec{b.w, b.n}
}

// threaded strings chains together along the border. It reports false if they
// do not take turns in entering and leaving.
func threaded(chains []chain, b box) ([][]vec, bool) {
	order := make([]int, len(chains))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmpFloat(chains[i].in, chains[j].in) })
	if !takeTurns(chains, order) {
		return nil, false
	}
	var outer [][]vec
	for i := range chains {
		if chains[i].followed {
			continue
		}
		var ring []vec
		for at := i; !chains[at].followed; {
			c := &chains[at]
			c.followed = true
			ring = append(ring, c.pts...)
			next := nextIn(chains, order, c.out)
			ring = appendCorners(ring, b, c.out, chains[next].in)
			at = next
		}
		outer = append(outer, ring)
	}
	return outer, true
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// takeTurns tells whether, along the border, an entry follows each exit.
func takeTurns(chains []chain, order []int) bool {
	outs := make([]float64, len(chains))
	for i, c := range chains {
		outs[i] = c.out
	}
	slices.Sort(outs)
	// Entries and exits alternate, so either each entry is before its exit in
	// sorted order, or each exit before its entry.
	entryFirst := chains[order[0]].in < outs[0]
	for i, k := range order {
		in := chains[k].in
		if entryFirst && (in >= outs[i] || i > 0 && in <= outs[i-1]) {
			return false
		}
		if !entryFirst && (in < outs[i] || i+1 < len(outs) && in > outs[i+1]) {
			return false
		}
	}
	return true
}

// nextIn finds the entry that follows a place on the border.
func nextIn(chains []chain, order []int, place float64) int {
	for _, k := range order {
		if chains[k].in >= place {
			return k
		}
	}
	return order[0]
}

// appendCorners adds the corners between two places on the border.
func appendCorners(ring []vec, b box, from, to float64) []vec {
	if to < from {
		to += 4
	}
	for c := math.Floor(from) + 1; c <= to; c++ {
		ring = append(ring, b.corner(int(c)))
	}
	return ring
}

// unstrung is the result where no ring crosses the border: the rings that are
// inside, or the rectangle with the holes inside it, or nothing.
func unstrung(rings, inner [][]vec, b box) [][][]vec {
	if len(inner) > 0 && signedArea(inner[0]) > 0 {
		return [][][]vec{inner}
	}
	middle := vec{(b.w + b.e) / 2, (b.n + b.s) / 2}
	corner := b.corner(0)
	if len(inner) == 0 {
		corner = middle
	}
	if !insideRings(rings, corner) {
		return nil
	}
	whole := []vec{b.corner(0), b.corner(1), b.corner(2), b.corner(3)}
	return [][][]vec{append([][]vec{whole}, inner...)}
}

// insideRings tells whether a point is inside a polygon, holes left out.
func insideRings(rings [][]vec, p vec) bool {
	in := false
	for _, r := range rings {
		if insideRing(r, p) {
			in = !in
		}
	}
	return in
}

func insideRing(ring []vec, p vec) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
			in = !in
		}
	}
	return in
}

// withHoles puts each hole behind the exterior that it lies in.
func withHoles(outer, holes [][]vec) [][][]vec {
	out := make([][][]vec, len(outer))
	for i, r := range outer {
		out[i] = [][]vec{r}
	}
	for _, h := range holes {
		for i, r := range outer {
			if len(outer) == 1 || insideRing(r, h[0]) {
				out[i] = append(out[i], h)
				break
			}
		}
	}
	return out
}
