package rate

import (
	"cmp"
	"math"
	"slices"

	"courson/geo/rings"
)

// straightMM is how far, in mm, a place may lie off a line and still be left
// out; what rounding to millimetres makes of a straight row lies within.
const straightMM = 2

// arcs say where borders of zones branch. Between two such places the border is
// the same for both zones, and is made straight in the same way for both.
type arcs struct{ node map[spot]bool }

func newArcs(lines [][]rings.Step) arcs {
	var all []rings.Step
	for _, zone := range lines {
		for _, s := range zone {
			if rings.Compare(s.From, s.To) > 0 {
				s = rings.Step{From: s.To, To: s.From}
			}
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(s, t rings.Step) int { return cmp.Or(rings.Compare(s.From, t.From), rings.Compare(s.To, t.To)) })
	all = slices.Compact(all)
	ways := make(map[spot]int8, len(all))
	for _, s := range all {
		ways[s.From] = min(ways[s.From], 3) + 1
		ways[s.To] = min(ways[s.To], 3) + 1
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
		start = slices.Index(r, slices.MinFunc(r, rings.Compare))
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
	if rings.Compare(last, first) < 0 {
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
		far := length(s.Minus(arc[0]))
		if far > most || far == most && rings.Compare(s, arc[at]) < 0 {
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
	d, q := b.Minus(a), p.Minus(a)
	long := d.Dot(d)
	if t := q.Dot(d); t <= 0 || long == 0 {
		return length(q)
	} else if t >= long {
		return length(p.Minus(b))
	}
	return math.Abs(float64(d.Cross(q))) / math.Sqrt(float64(long))
}

// polygons gives each hole to the smallest outer ring around it.
func (l *lie) polygons(all [][]spot, a arcs) Outline {
	straight := make([][]spot, 0, len(all))
	for _, r := range all {
		if r = a.straighten(r); len(r) >= 3 {
			straight = append(straight, r)
		}
	}
	var out Outline
	for _, nest := range rings.Nest(straight) {
		var p Polygon
		for _, r := range nest {
			p = append(p, l.ring(r))
		}
		out = append(out, p)
	}
	return out
}

func (l *lie) ring(r []spot) Ring {
	out := make(Ring, 0, len(r)+1)
	for _, s := range r {
		out = append(out, l.back(float64(s.X)/1000, float64(s.Y)/1000))
	}
	return append(out, out[0])
}
