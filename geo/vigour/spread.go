package vigour

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"courson/geo/stand"
)

// layersOf puts the vines of a list into ranges of vigour of about equal number,
// from 1 for the weakest, vines without a value (below 0) into one of their own,
// and gives the number of ranges.
func layersOf(values []float32, list []int, ranges int, layer []int) int {
	var with []int
	for _, i := range list {
		if values[i] >= 0 {
			with = append(with, i)
		}
	}
	slices.SortStableFunc(with, func(a, b int) int { return cmp.Compare(values[a], values[b]) })
	used, before := 0, -1
	for k, i := range with {
		// Equal values are not torn apart.
		if at := k * ranges / len(with); at != before && (k == 0 || values[i] != values[with[k-1]]) {
			used, before = used+1, at
		}
		layer[i] = used
	}
	if len(with) < len(list) {
		return used + 1
	}
	return used
}

func compareKeys(a, b uint64) int { return cmp.Compare(a, b) }

// alongCurve gives each vine of a list its place on a Hilbert curve over the
// block.
func alongCurve(g *stand.Ground, list []int) map[int]uint64 {
	const bits = 16
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, i := range list {
		x, y := float64(g.X[i]), float64(g.Y[i])
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	side := max(x1-x0, y1-y0)
	cell := func(v, from float64) uint32 {
		if !(side > 0) {
			return 0
		}
		return uint32((v - from) / side * (1<<bits - 1))
	}
	out := make(map[int]uint64, len(list))
	for _, i := range list {
		out[i] = hilbert(bits, cell(float64(g.X[i]), x0), cell(float64(g.Y[i]), y0))
	}
	return out
}

// hilbert is the distance along a Hilbert curve of so many bits to a cell (D.
// Hilbert, Mathematische Annalen 38, 1891).
func hilbert(bits int, x, y uint32) (d uint64) {
	for s := uint32(1) << (bits - 1); s > 0; s /= 2 {
		var rx, ry uint32
		if x&s > 0 {
			rx = 1
		}
		if y&s > 0 {
			ry = 1
		}
		d += uint64(s) * uint64(s) * uint64(3*rx^ry)
		if ry == 0 {
			if rx == 1 {
				x, y = s-1-x&(s-1), s-1-y&(s-1)
			}
			x, y = y, x
		}
		x, y = x&(s-1), y&(s-1)
	}
	return d
}

// takeEvenly adds vines of a list until want are chosen. The list is cut into
// want equal stretches; those that hold a chosen vine are served, and of the
// others as many as are still wanted, evenly, give the vine at a place that the
// seed chooses.
func takeEvenly(list []int, want int, seed uint64, chosen map[int]bool) {
	need := want - len(chosen)
	if need <= 0 {
		return
	}
	var open []int
	for k := range want {
		lo, hi := stretch(k, want, len(list))
		if !slices.ContainsFunc(list[lo:hi], func(i int) bool { return chosen[i] }) {
			open = append(open, k)
		}
	}
	start := rand.New(rand.NewPCG(seed, 0x636f7572736f6e)).Float64()
	for j := range need {
		k := open[int((float64(j)+0.5)*float64(len(open))/float64(need))]
		lo, hi := stretch(k, want, len(list))
		chosen[list[min(hi-1, lo+int(start*float64(hi-lo)))]] = true
	}
}

// stretch gives the bounds of the k-th of so many equal stretches of n.
func stretch(k, of, n int) (lo, hi int) { return k * n / of, (k + 1) * n / of }

// takeBeside adds pairs more vines, each the nearest one left to a chosen vine,
// those taken evenly from the chosen, and gives them.
func takeBeside(g *stand.Ground, list []int, pairs int, chosen map[int]bool) (added []int) {
	var base []int
	for _, i := range list {
		if chosen[i] {
			base = append(base, i)
		}
	}
	for k := range pairs {
		from := base[k*len(base)/pairs]
		near, least := -1, math.Inf(1)
		for _, i := range list {
			if d := math.Hypot(float64(g.X[i]-g.X[from]), float64(g.Y[i]-g.Y[from])); !chosen[i] && d < least {
				near, least = i, d
			}
		}
		if near >= 0 {
			chosen[near] = true
			added = append(added, near)
		}
	}
	return added
}
