package work

import (
	"cmp"
	"fmt"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// sort brings the vines into order of number again.
func (rw *rowWork) sort() {
	order := make([]int, len(rw.vines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rw.vines[a].Number, rw.vines[b].Number) })
	vines, fates := make([]store.Vine, len(order)), make([]fate, len(order))
	for i, k := range order {
		vines[i], fates[i] = rw.vines[k], rw.fate[k]
	}
	rw.vines, rw.fate = vines, fates
}

// checkNumbers refuses numbers used twice and numbers that do not run along the
// row.
func (w *blockWork) checkNumbers(rw *rowWork) {
	if !slices.IsSortedFunc(rw.vines, func(a, b store.Vine) int { return cmp.Compare(a.Number, b.Number) }) {
		w.resort(rw)
	}
	against, first := 0, -1
	for k := 1; k < len(rw.vines); k++ {
		a, b := rw.vines[k-1], rw.vines[k]
		if a.Number == b.Number {
			w.problem(w.lineFor(rw, k), string(csv.Vine), "one number for two vines", w.address(rw, k), "a number of its own for each vine")
			return
		}
		if rw.fate[k] != same && a.Part == b.Part && b.ChainageM < a.ChainageM-0.01 {
			against++
			if first < 0 {
				first = k
			}
		}
		if b.Number > stand.MaxNumber {
			w.problem(w.lineFor(rw, k), string(csv.Vine), "number out of range", fmt.Sprint(b.Number), fmt.Sprintf("1 to %d", stand.MaxNumber))
		}
	}
	if against == 0 || w.problems > 0 {
		return
	}
	what := fmt.Sprintf("row %s/%s: vine %d stands before vine %d along the row", w.b.Code, rw.r.Label, rw.vines[first].Number, rw.vines[first-1].Number)
	if against == len(rw.vines)-1 {
		what = fmt.Sprintf("row %s/%s: vines are numbered from the other end than the row", w.b.Code, rw.r.Label)
	}
	w.problem(w.lineFor(rw, first), string(csv.Vine), what, fmt.Sprintf("%.2f m and %.2f m from the numbering end", rw.vines[first].ChainageM, rw.vines[first-1].ChainageM), "numbers that rise from the row's numbering end")
}

// resort is sort for vines that lines refer to.
func (w *blockWork) resort(rw *rowWork) {
	ids := make([]vine.ID, len(rw.of))
	numbers := make([]int, len(rw.of))
	for l, k := range rw.of {
		if k >= 0 {
			ids[l], numbers[l] = rw.vines[k].ID, rw.vines[k].Number
		}
	}
	rw.sort()
	for l, k := range rw.of {
		if k < 0 {
			continue
		}
		for j, v := range rw.vines {
			if v.ID == ids[l] && v.Number == numbers[l] {
				rw.of[l] = int32(j)
				break
			}
		}
	}
}

// lineFor gives the place in the files that speaks of vine k, else of the row.
func (w *blockWork) lineFor(rw *rowWork, k int) where {
	for l, of := range rw.of {
		if int(of) == k {
			return w.at(int(rw.lines[l]))
		}
	}
	if rw.r.in != nil {
		return rw.r.in.where
	}
	return where{file: -1, feature: -1}
}
