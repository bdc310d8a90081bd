package rate

import (
	"cmp"
	"slices"
)

// Outlines of zones come from one mesh: every border between ground cells is one
// line, cut at the same places for both sides. A zone's border are the lines with
// the zone on one side only. Lines across the rows follow from those along them:
// at each u, what arrives at a place and does not go on must leave up or down.

// walked is a piece of border with the zone's ground on its left.
type walked struct{ from, to spot }

// outlines gives the ground of zones 1 to k; entry 0 is empty.
func (l *lie) outlines(zone []uint8, k int) []Outline {
	rings, arcs := l.rings(zone, k)
	out := make([]Outline, k+1)
	for z := 1; z <= k; z++ {
		out[z] = l.polygons(rings[z], arcs)
	}
	return out
}

// rings gives the borders of zones 1 to k, entry 0 none, not yet straightened,
// and where they branch.
func (l *lie) rings(zone []uint8, k int) ([][][]spot, arcs) {
	lines := make([][]walked, k+1)
	var loose []end
	l.borders(func(e border) {
		below, above := zoneOf(zone, e.below), zoneOf(zone, e.above)
		if below == above {
			return
		}
		if below > 0 {
			lines[below] = append(lines[below], walked{e.b, e.a})
			loose = append(loose, end{e.a, below, 1}, end{e.b, below, -1})
		}
		if above > 0 {
			lines[above] = append(lines[above], walked{e.a, e.b})
			loose = append(loose, end{e.b, above, 1}, end{e.a, above, -1})
		}
	})
	across(loose, lines)
	out := make([][][]spot, k+1)
	arcs := newArcs(lines)
	for z := 1; z <= k; z++ {
		out[z] = traceRings(lines[z])
	}
	return out, arcs
}

func zoneOf(zone []uint8, vine int32) uint8 {
	if vine < 0 {
		return 0
	}
	return zone[vine]
}

// end is where a line along the rows arrives (1) or leaves (-1).
type end struct {
	at    spot
	zone  uint8
	count int8
}

// across adds the lines across the rows. All are cut at every place where a line
// of any zone ends, so that both sides have the same places.
func across(loose []end, lines [][]walked) {
	slices.SortFunc(loose, func(a, b end) int { return cmp.Or(cmp.Compare(a.at.u, b.at.u), cmp.Compare(a.at.w, b.at.w)) })
	flow := make([]int, len(lines))
	for i := 0; i < len(loose); {
		at := loose[i].at
		for ; i < len(loose) && loose[i].at == at; i++ {
			flow[loose[i].zone] += int(loose[i].count)
		}
		if i == len(loose) || loose[i].at.u != at.u {
			continue // all flows are 0 here
		}
		to := loose[i].at
		for z := range flow {
			for range flow[z] {
				lines[z] = append(lines[z], walked{at, to})
			}
			for range -flow[z] {
				lines[z] = append(lines[z], walked{to, at})
			}
		}
	}
}

func compareSpots(a, b spot) int { return cmp.Or(cmp.Compare(a.u, b.u), cmp.Compare(a.w, b.w)) }

// traceRings walks the border of one zone. At a place with more than one way on
// it stays with the ground that it walks along; a ring that comes to a place
// again is parted there, so that no ring touches itself.
func traceRings(steps []walked) [][]spot {
	slices.SortFunc(steps, func(s, t walked) int { return cmp.Or(compareSpots(s.from, t.from), compareSpots(s.to, t.to)) })
	first := make(map[spot]int32, len(steps))
	for i, s := range steps {
		if i == 0 || steps[i-1].from != s.from {
			first[s.from] = int32(i)
		}
	}
	used := make([]bool, len(steps))
	var rings [][]spot
	for i := range steps {
		var walk []spot
		for k := i; k >= 0 && !used[k]; k = wayOn(steps, used, first, k) {
			used[k] = true
			walk = append(walk, steps[k].from)
		}
		rings = partAtRepeats(rings, walk)
	}
	return rings
}

// wayOn is the first unused way clockwise from the way back; -1 for none.
func wayOn(steps []walked, used []bool, first map[spot]int32, k int) int {
	at := steps[k].to
	back := steps[k].from.minus(at)
	best := -1
	i, ok := first[at]
	for ; ok && int(i) < len(steps) && steps[i].from == at; i++ {
		if !used[i] && (best < 0 || clockwiseBefore(back, steps[i].to.minus(at), steps[best].to.minus(at))) {
			best = int(i)
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

// partAtRepeats cuts a walk into rings that pass every place once.
func partAtRepeats(rings [][]spot, walk []spot) [][]spot {
	if len(walk) == 0 {
		return rings
	}
	place := make(map[spot]int, len(walk))
	var stack []spot
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
