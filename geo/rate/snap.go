package rate

import (
	"cmp"
	"math"
	"slices"
)

// passes groups the rows of a block into passes of so many rows side by side.
// Rows that are left over go with the last pass, so that none is narrower than
// the machine. It gives the pass of each row and how many there are.
func (l *lie) passes(rowsPerPass int) (of []int32, n int) {
	lines := l.rowLines()
	of = make([]int32, len(l.g.Rows))
	for lo := 0; lo < len(lines); {
		hi := lo + 1 // one stand of rows side by side, without a road between
		for hi < len(lines) && lines[hi].w-lines[hi-1].w <= 2*l.rowM {
			hi++
		}
		count := max(1, (hi-lo)/rowsPerPass)
		for k := lo; k < hi; k++ {
			for _, r := range lines[k].rows {
				of[r] = int32(n + min(count-1, (k-lo)/rowsPerPass))
			}
		}
		n += count
		lo = hi
	}
	return of, n
}

// rowLine is one row, or rows end to end on one line.
type rowLine struct {
	w    float64
	rows []int
}

func (l *lie) rowLines() []rowLine {
	var all []rowLine
	for r, row := range l.g.Rows {
		if row.Count == 0 {
			continue
		}
		var sum float64
		for i := row.First; i < row.First+row.Count; i++ {
			sum += l.w[i]
		}
		all = append(all, rowLine{sum / float64(row.Count), []int{r}})
	}
	slices.SortStableFunc(all, func(a, b rowLine) int { return cmp.Compare(a.w, b.w) })
	var out []rowLine
	for _, a := range all {
		if k := len(out) - 1; k >= 0 && a.w-out[k].w < l.rowM/2 {
			out[k].rows = append(out[k].rows, a.rows...)
			continue
		}
		out = append(out, a)
	}
	return out
}

// bins cuts each pass across the rows into equal lengths of at least leastM
// (Inf: whole rows), separately on both sides of a road. It gives the bin of
// each vine and how many there are.
func (l *lie) bins(passOf []int32, passes int, leastM float64) (of []int32, n int) {
	byPass := make([][]int32, passes)
	for k, p := range l.pieces {
		pass := passOf[l.g.Row[p.lo]]
		byPass[pass] = append(byPass[pass], int32(k))
	}
	of = make([]int32, l.g.Len())
	for _, pieces := range byPass {
		slices.SortFunc(pieces, func(a, b int32) int { return cmp.Compare(l.pieces[a].cuts[0], l.pieces[b].cuts[0]) })
		for lo := 0; lo < len(pieces); {
			hi, from, to := lo, l.pieces[pieces[lo]].cuts[0], int64(math.MinInt64)
			for ; hi < len(pieces) && (hi == lo || l.pieces[pieces[hi]].cuts[0] < to || math.IsInf(leastM, 1)); hi++ {
				c := l.pieces[pieces[hi]].cuts
				to = max(to, c[len(c)-1])
			}
			count := max(1, int(float64(to-from)/1000/leastM))
			for _, k := range pieces[lo:hi] {
				for i := l.pieces[k].lo; i < l.pieces[k].hi; i++ {
					at := int(float64(count) * (l.u[i]*1000 - float64(from)) / float64(to-from))
					of[i] = int32(n + max(0, min(count-1, at)))
				}
			}
			n += count
			lo = hi
		}
	}
	return of, n
}

// elect gives every bin the zone that holds most of its ground, the lowest of
// equals.
func (l *lie) elect(zone []uint8, k int, of []int32, n int) {
	votes := make([]float64, n*(k+1))
	for i, z := range zone {
		votes[int(of[i])*(k+1)+int(z)] += l.cellM2[i]
	}
	best := make([]uint8, n)
	for b := range best {
		for z := 1; z <= k; z++ {
			if v := votes[b*(k+1)+z]; v > 0 && (best[b] == 0 || v > votes[b*(k+1)+int(best[b])]) {
				best[b] = uint8(z)
			}
		}
	}
	for i := range zone {
		zone[i] = best[of[i]]
	}
}
