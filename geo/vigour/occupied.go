package vigour

import (
	"math"
	"slices"

	"courson/geo/stand"
)

// OccupiedM gives the metres of row that each vine really occupies in the
// stand's season; 0 for places without a living vine.
//
// A vine's ground reaches half way to the next living vine on either side. A gap
// beside it widens its share so, but on each side at most to the empty place
// beside it, one planting distance: a cane laid towards a gap reaches about that
// far, and what lies farther out of a long gap is occupied by nobody (common
// practice; trials in which neighbours made up a part of what gaps cost, never
// all, fit it). So one missing vine is shared out between its neighbours, and a
// vine occupies at most twice its planting distance. At the ends of a row, and of
// the parts of a row that a road cuts, the share is as in the ground.
//
// A replant is a living vine: its neighbours end half way to it.
func OccupiedM(s *stand.Stand) []float32 {
	g := s.Ground
	out := make([]float32, g.Len())
	for r := range g.Rows {
		first, end := g.Rows[r].First, g.Rows[r].First+g.Rows[r].Count
		part := func(i int) uint8 {
			if i < len(g.Part) {
				return g.Part[i]
			}
			return 0
		}
		reach := usualStep(g, r)
		for from := first; from < end; {
			to := from + 1
			for to < end && part(to) == part(from) {
				to++
			}
			occupyPart(s, from, to, reach, out)
			from = to
		}
	}
	return out
}

// usualStep is the planting distance of a row: the middle one of its steps where
// it has three or more, else the block's. 0: not known.
func usualStep(g *stand.Ground, r int) float64 {
	first, end := g.Rows[r].First, g.Rows[r].First+g.Rows[r].Count
	if end-first > 3 {
		steps := make([]float64, 0, end-first-1)
		for i := first + 1; i < end; i++ {
			steps = append(steps, step(g, i-1, i))
		}
		slices.Sort(steps)
		if m := steps[len(steps)/2]; m > 0 {
			return m
		}
	}
	return max(0, g.VineSpacingM)
}

// step is the way along the row between two vines, m; by their numbers where the
// ground has no chainage.
func step(g *stand.Ground, i, j int) float64 {
	if len(g.Chainage) != g.Len() {
		return math.Abs(float64(g.Number[j]-g.Number[i])) * max(0, g.VineSpacingM)
	}
	return math.Abs(float64(g.Chainage[j]) - float64(g.Chainage[i]))
}

// occupyPart shares out an unbroken part of a row, places from to to-1.
func occupyPart(s *stand.Stand, from, to int, reach float64, out []float32) {
	// place is the share of a place on one side where every vine stands.
	place := func(i, j int) float64 {
		if j >= from && j < to {
			return step(s.Ground, i, j) / 2
		}
		inner := 2*i - j // the place on the other side
		whole := placeM(s.Ground, i)
		if inner < from || inner >= to {
			return whole / 2
		}
		return max(0, whole-step(s.Ground, i, inner)/2)
	}
	side := func(i, way int) float64 {
		j := i + way
		if j < from || j >= to {
			return place(i, j)
		}
		beside := step(s.Ground, i, j)
		for j >= from && j < to && !s.Condition[j].Living() {
			j += way
		}
		m := beside // nobody beyond the gap: as far as the empty place
		if j >= from && j < to {
			m = min(step(s.Ground, i, j)/2, beside)
		}
		if reach > 0 { // also where empty places were left out of the survey
			m = min(m, reach)
		}
		return m
	}
	for i := from; i < to; i++ {
		if s.Condition[i].Living() {
			out[i] = float32(side(i, -1) + side(i, 1))
		}
	}
}

// placeM is the metres of a place where every vine stands.
func placeM(g *stand.Ground, i int) float64 {
	if i < len(g.Occupied) && g.Occupied[i] > 0 {
		return float64(g.Occupied[i])
	}
	return max(0, g.VineSpacingM)
}
