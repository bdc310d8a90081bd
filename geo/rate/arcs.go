package rate

import (
	"cmp"
	"math"
	"slices"
)

// straightMM is how far, in mm, a place may lie off a line and still be left
// out; what rounding to millimetres makes of a straight row lies within.
const straightMM = 2

// arcs say where borders of zones branch. Between two such places the border is
// the same for both zones, and is made straight in the same way for both.
type arcs struct{ node map[spot]bool }

func newArcs(lines [][]walked) arcs {
	var all []walked
	for _, zone := range lines {
		for _, s := range zone {
			if compareSpots(s.from, s.to) > 0 {
				s = walked{s.to, s.from}
			}
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(s, t walked) int { return cmp.Or(compareSpots(s.from, t.from), compareSpots(s.to, t.to)) })
	all = slices.Compact(all)
	ways := make(map[spot]int8, len(all))
	for _, s := range all {
		ways[s.from] = min(ways[s.from], 3) + 1
		ways[s.to] = min(ways[s.to], 3) + 1
	}
	a := arcs{map[spot]bool{}}
	for s, n := range ways {
		if n > 2 {
			a.node[s] = true
		}
	}
	return a
}

// straighten leaves out places on straight lines between branches. A ring
// without any is held at its first place in order and the one farthest from it.
func (a arcs) straighten(r []spot) []spot {
	start := slices.IndexFunc(r, func(s spot) bool { return a.node[s] })
	if start < 0 {
		start = slices.Index(r, slices.MinFunc(r, compareSpots))
	}
	r = append(slices.Clone(r[start:]), r[:start]...)
	r = append(r, r[0])
	var out []spot
	for lo := 0; lo < len(r)-1; {
		hi := lo + 1
		for hi < len(r)-1 && !a.node[r[hi]] {
			hi++
		}
		out = append(out, straightArc(r[lo:hi+1])...)
		out = out[:len(out)-1]
		lo = hi
	}
	return out
}

// straightArc is done in one direction only, whichever way it is given.
func straightArc(arc []spot) []spot {
	first, last := arc[0], arc[len(arc)-1]
	if first == last {
		return straightLoop(arc)
	}
	if compareSpots(last, first) < 0 {
		back := slices.Clone(arc)
		slices.Reverse(back)
		out := simplify(back)
		slices.Reverse(out)
		return out
	}
	return simplify(arc)
}

// straightLoop parts a loop at the place farthest from its beginning, the first
// in order of equals.
func straightLoop(arc []spot) []spot {
	at, most := 0, -1.0
	for i, s := range arc[:len(arc)-1] {
		far := s.minus(arc[0]).length()
		if far > most || far == most && compareSpots(s, arc[at]) < 0 {
			at, most = i, far
		}
	}
	out := straightArc(arc[:at+1])
	return append(out[:len(out)-1], straightArc(arc[at:])...)
}

// simplify leaves out places nearer to the line than straightMM (D. Douglas and
// T. Peucker, Cartographica 10, 1973).
func simplify(line []spot) []spot {
	out := []spot{line[0]}
	var walk func(lo, hi int)
	walk = func(lo, hi int) {
		far, at := float64(straightMM), -1
		for i := lo + 1; i < hi; i++ {
			if d := fromLine(line[i], line[lo], line[hi]); d > far {
				far, at = d, i
			}
		}
		if at < 0 {
			out = append(out, line[hi])
			return
		}
		walk(lo, at)
		walk(at, hi)
	}
	walk(0, len(line)-1)
	return out
}

// fromLine is how far p lies from the piece a to b, mm.
func fromLine(p, a, b spot) float64 {
	d, q := b.minus(a), p.minus(a)
	long := d.dot(d)
	if t := q.dot(d); t <= 0 || long == 0 {
		return q.length()
	} else if t >= long {
		return p.minus(b).length()
	}
	return math.Abs(float64(d.cross(q))) / math.Sqrt(float64(long))
}

// polygons gives each hole to the smallest outer ring around it.
func (l *lie) polygons(rings [][]spot, a arcs) Outline {
	type outer struct {
		ring  []spot
		low   spot
		high  spot
		twice int64
	}
	var outers []outer
	var holes [][]spot
	for _, r := range rings {
		r = a.straighten(r)
		if len(r) < 3 {
			continue
		}
		switch twice := twiceArea(r); {
		case twice > 0:
			low, high := corners(r)
			outers = append(outers, outer{r, low, high, twice})
		case twice < 0:
			holes = append(holes, r)
		}
	}
	out := make(Outline, len(outers))
	for i, o := range outers {
		out[i] = Polygon{l.ring(o.ring)}
	}
	for _, h := range holes {
		best := -1
		low, high := corners(h)
		for i, o := range outers {
			around := o.low.u <= low.u && o.low.w <= low.w && o.high.u >= high.u && o.high.w >= high.w
			if around && (best < 0 || o.twice < outers[best].twice) && holds(o.ring, h) {
				best = i
			}
		}
		if best >= 0 {
			out[best] = append(out[best], l.ring(h))
		}
	}
	return out
}

func corners(r []spot) (low, high spot) {
	low, high = r[0], r[0]
	for _, s := range r {
		low = spot{min(low.u, s.u), min(low.w, s.w)}
		high = spot{max(high.u, s.u), max(high.w, s.w)}
	}
	return low, high
}

// twiceArea is above 0 for rings that run anticlockwise.
func twiceArea(r []spot) (sum int64) {
	for i := 2; i < len(r); i++ {
		sum += r[i-1].minus(r[0]).cross(r[i].minus(r[0]))
	}
	return sum
}

// holds tells whether the hole lies in the ring; they cross nowhere, so the
// middle of one piece of the hole tells for all.
func holds(ring, hole []spot) bool {
	m := spot{hole[0].u + hole[1].u, hole[0].w + hole[1].w} // doubled
	inside := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if a.w > b.w {
			a, b = b, a
		}
		if 2*a.w <= m.w && 2*b.w > m.w && b.minus(a).cross(spot{m.u - 2*a.u, m.w - 2*a.w}) > 0 {
			inside = !inside
		}
	}
	return inside
}

func (l *lie) ring(r []spot) Ring {
	out := make(Ring, 0, len(r)+1)
	for _, s := range r {
		out = append(out, l.back(float64(s.u)/1000, float64(s.w)/1000))
	}
	return append(out, out[0])
}
