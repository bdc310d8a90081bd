package isoxml

import (
	"math"
	"slices"

	"courson/geo/frame"
)

// edge is an edge of an area, its lower end first.
type edge struct {
	lo, hi frame.XY
	owner  int
}

func (e *edge) at(y float64) float64 {
	if y <= e.lo.Y {
		return e.lo.X
	}
	if y >= e.hi.Y {
		return e.hi.X
	}
	return e.lo.X + (y-e.lo.Y)/(e.hi.Y-e.lo.Y)*(e.hi.X-e.lo.X)
}

// pair is two areas, the lower number first; gaps are kept under {boundary,
// boundary}.
type pair [2]int

// overlay gives the exact areas that areas share, two by two, and the part of
// area 0 (the boundary) that no other covers, under {0, 0}; m². Between one
// height at which anything begins, ends or crosses and the next, the edges form
// trapezia, in which it is plain what covers what.
func overlay(areas []frame.MultiPolygon) map[pair]float64 {
	edges := edgesOf(areas)
	ys := heights(edges)
	out := map[pair]float64{}
	slices.SortFunc(edges, func(a, b edge) int { return compare(a.lo.Y, b.lo.Y) })
	var live []*edge
	next := 0
	in := make([]int, len(areas))
	for i := 0; i+1 < len(ys); i++ {
		bottom, top := ys[i], ys[i+1]
		live = slices.DeleteFunc(live, func(e *edge) bool { return e.hi.Y <= bottom })
		for ; next < len(edges) && edges[next].lo.Y <= bottom; next++ {
			if edges[next].hi.Y > bottom {
				live = append(live, &edges[next])
			}
		}
		mid := (bottom + top) / 2
		slices.SortFunc(live, func(a, b *edge) int { return compare(a.at(mid), b.at(mid)) })
		clear(in)
		for k := 0; k+1 < len(live); k++ {
			in[live[k].owner] ^= 1
			a, b := live[k], live[k+1]
			slab := (b.at(bottom) - a.at(bottom) + b.at(top) - a.at(top)) / 2 * (top - bottom)
			if slab > 0 {
				share(out, in, slab)
			}
		}
	}
	return out
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// share books a piece of ground for what covers it.
func share(out map[pair]float64, in []int, m2 float64) {
	covered := false
	for a := 1; a < len(in); a++ {
		if in[a] == 0 {
			continue
		}
		covered = true
		if in[0] == 0 {
			out[pair{a, a}] += m2 // outside the boundary
		}
		for b := a + 1; b < len(in); b++ {
			if in[b] == 1 {
				out[pair{a, b}] += m2
			}
		}
	}
	if in[0] == 1 && !covered {
		out[pair{0, 0}] += m2
	}
}

func edgesOf(areas []frame.MultiPolygon) (out []edge) {
	for owner, mp := range areas {
		for _, pg := range mp {
			for _, r := range pg {
				for i := range r {
					a, b := r[i], r[(i+1)%len(r)]
					if a.Y > b.Y {
						a, b = b, a
					}
					if a.Y < b.Y {
						out = append(out, edge{a, b, owner})
					}
				}
			}
		}
	}
	return out
}

// heights gives all heights at which edges begin, end or cross.
func heights(edges []edge) []float64 {
	var ys []float64
	for _, e := range edges {
		ys = append(ys, e.lo.Y, e.hi.Y)
	}
	order := slices.Clone(edges)
	slices.SortFunc(order, func(a, b edge) int { return compare(a.lo.Y, b.lo.Y) })
	for i := range order {
		for j := i + 1; j < len(order) && order[j].lo.Y < order[i].hi.Y; j++ {
			if y, ok := crossing(&order[i], &order[j]); ok {
				ys = append(ys, y)
			}
		}
	}
	slices.Sort(ys)
	return slices.Compact(ys)
}

// crossing gives the height at which two edges cross.
func crossing(a, b *edge) (float64, bool) {
	if max(a.lo.X, a.hi.X) < min(b.lo.X, b.hi.X) || max(b.lo.X, b.hi.X) < min(a.lo.X, a.hi.X) {
		return 0, false
	}
	from, to := max(a.lo.Y, b.lo.Y), min(a.hi.Y, b.hi.Y)
	d0, d1 := a.at(from)-b.at(from), a.at(to)-b.at(to)
	if d0 == 0 || d1 == 0 || (d0 > 0) == (d1 > 0) {
		return 0, false
	}
	return from + (to-from)*d0/(d0-d1), true
}

// widest gives the diameter of the largest circle within an area, m, to 2 cm: by
// cutting squares in four as long as a larger circle may be in them.
func widest(pg frame.Polygon) float64 {
	mp := frame.MultiPolygon{pg}
	lo, hi := frame.XY{X: math.Inf(1), Y: math.Inf(1)}, frame.XY{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range pg[0] {
		lo, hi = frame.XY{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}, frame.XY{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
	}
	dist := func(p frame.XY) float64 {
		if d := mp.BorderDist(p); pg.Contains(p) {
			return d
		} else {
			return -d
		}
	}
	half := max(hi.X-lo.X, hi.Y-lo.Y) / 2
	best := 0.
	queue := []frame.XY{{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2}}
	for ; len(queue) > 0 && half > 0.005; half /= 2 {
		var next []frame.XY
		for _, p := range queue {
			d := dist(p)
			best = max(best, d)
			if d+half*math.Sqrt2 <= best+0.01 {
				continue
			}
			for _, s := range [4][2]float64{{-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
				next = append(next, frame.XY{X: p.X + s[0]*half/2, Y: p.Y + s[1]*half/2})
			}
		}
		queue = next
		if len(queue) > 20000 {
			break
		}
	}
	return 2 * best
}
