package rate

import (
	"cmp"
	"slices"

	"courson/geo/rings"
)

// Outlines of zones come from one mesh: every border between ground cells is one
// line, cut at the same places for both sides. A zone's border are the lines with
// the zone on one side only. Lines across the rows follow from those along them:
// at each u, what arrives at a place and does not go on must leave up or down.

// outlines gives the ground of zones 1 to k; entry 0 is empty.
func (l *lie) outlines(zone []uint8, k int) []Outline {
	borders, arcs := l.rings(zone, k)
	out := make([]Outline, k+1)
	for z := 1; z <= k; z++ {
		out[z] = l.polygons(borders[z], arcs)
	}
	return out
}

// rings gives the borders of zones 1 to k, entry 0 none, not yet straightened,
// and where they branch.
func (l *lie) rings(zone []uint8, k int) ([][][]spot, arcs) {
	lines := make([][]rings.Step, k+1)
	var loose []end
	l.borders(func(e border) {
		below, above := zoneOf(zone, e.below), zoneOf(zone, e.above)
		if below == above {
			return
		}
		if below > 0 {
			lines[below] = append(lines[below], rings.Step{From: e.b, To: e.a})
			loose = append(loose, end{e.a, below, 1}, end{e.b, below, -1})
		}
		if above > 0 {
			lines[above] = append(lines[above], rings.Step{From: e.a, To: e.b})
			loose = append(loose, end{e.b, above, 1}, end{e.a, above, -1})
		}
	})
	across(loose, lines)
	out := make([][][]spot, k+1)
	arcs := newArcs(lines)
	for z := 1; z <= k; z++ {
		out[z] = rings.Trace(lines[z])
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
func across(loose []end, lines [][]rings.Step) {
	slices.SortFunc(loose, func(a, b end) int { return cmp.Or(cmp.Compare(a.at.X, b.at.X), cmp.Compare(a.at.Y, b.at.Y)) })
	flow := make([]int, len(lines))
	for i := 0; i < len(loose); {
		at := loose[i].at
		for ; i < len(loose) && loose[i].at == at; i++ {
			flow[loose[i].zone] += int(loose[i].count)
		}
		if i == len(loose) || loose[i].at.X != at.X {
			continue // all flows are 0 here
		}
		to := loose[i].at
		for z := range flow {
			for range flow[z] {
				lines[z] = append(lines[z], rings.Step{From: at, To: to})
			}
			for range -flow[z] {
				lines[z] = append(lines[z], rings.Step{From: to, To: at})
			}
		}
	}
}
