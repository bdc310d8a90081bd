package patch

import "slices"

// Vines of one row belong together when they are next or next but one to each
// other; vines of two rows when the farther lies within an ellipse of 1.5 vine
// spacings along and 1.5 row distances across: the one beside and the two aslant
// to it. Chosen by us.
const (
	joinRows  = 1.5
	joinVines = 1.5
)

// closeField is a field of the vines given, whose reach is the eight vines around.
func (p *plan) closeField(vines []int) *field {
	x, y := p.places(vines)
	return newField(x, y, make([]float64, len(vines)), p.reach(joinVines*p.vineM, joinRows*p.pitchM), p.directions(vines))
}

func (p *plan) places(vines []int) (x, y []float64) {
	x, y = make([]float64, len(vines)), make([]float64, len(vines))
	for k, i := range vines {
		x[k], y[k] = p.at[i].X, p.at[i].Y
	}
	return x, y
}

// links are pairs of vines that belong together, the lower first.
type links struct {
	inRow  [][2]int
	across [][2]int
}

// linksOf finds the links among the vines given, in rising order.
func (p *plan) linksOf(vines []int) links {
	var l links
	for k, i := range vines {
		for _, j := range vines[k+1 : min(k+3, len(vines))] {
			if j <= i+2 && p.onward[i] && (j == i+1 || p.onward[i+1]) {
				l.inRow = append(l.inRow, [2]int{i, j})
			}
		}
	}
	f := p.closeField(vines)
	for line := range f.lines {
		f.neighbours(line, func(k, j int) {
			a, b := vines[f.order[k]], vines[f.order[j]]
			if a < b && p.row[a] != p.row[b] {
				l.across = append(l.across, [2]int{a, b})
			}
		})
	}
	return l
}

// parts gives the vines in groups that hang together by the links. Groups and
// their vines are in rising order.
func parts(vines []int, l links) [][]int {
	at := make(map[int]int, len(vines))
	root := make([]int, len(vines))
	for k, i := range vines {
		at[i], root[k] = k, k
	}
	find := func(k int) int {
		for root[k] != k {
			root[k] = root[root[k]]
			k = root[k]
		}
		return k
	}
	for _, pairs := range [][][2]int{l.inRow, l.across} {
		for _, q := range pairs {
			a, b := find(at[q[0]]), find(at[q[1]])
			root[max(a, b)] = min(a, b)
		}
	}
	place := map[int]int{}
	var out [][]int
	for k, i := range vines {
		r := find(k)
		g, ok := place[r]
		if !ok {
			g = len(out)
			place[r], out = g, append(out, nil)
		}
		out[g] = append(out[g], i)
	}
	return out
}

// enclose adds to the vines that belong the places that could not be tested but
// lie among them: in a row between two of them, or with more of them than of
// other tested vines in reach. Places that are taken by another patch stay with
// it. r is the reach of the test.
func (p *plan) enclose(belongs, tested, taken []bool, r Reach) []int {
	in := slices.Clone(belongs)
	p.bridge(in, tested, taken, r.AlongM)
	v := make([]float64, len(p.at))
	all := make([]int, len(p.at))
	for i := range p.at {
		all[i] = i
		switch {
		case belongs[i]:
			v[i] = 1
		case tested[i]:
			v[i] = -1
		}
	}
	x, y := p.places(all)
	f := newField(x, y, v, r, p.directions(all))
	for line := range f.lines {
		f.sums(line, func(k, _ int, sum float64) {
			if i := f.order[k]; !tested[i] && !taken[i] && sum > 0 {
				in[i] = true
			}
		})
	}
	var out []int
	for i := range in {
		if in[i] {
			out = append(out, i)
		}
	}
	return out
}

// bridge marks untested and free places between two marked vines of a row, where these
// stand no farther apart than farM.
func (p *plan) bridge(in, tested, taken []bool, farM float64) {
	last := -1
	for i := range in {
		if i == 0 || !p.onward[i-1] {
			last = -1
		}
		switch {
		case in[i]:
			if last >= 0 && p.at[i].minus(p.at[last]).length() <= farM {
				for k := last + 1; k < i; k++ {
					in[k] = true
				}
			}
			last = i
		case tested[i] || taken[i]:
			last = -1
		}
	}
}
