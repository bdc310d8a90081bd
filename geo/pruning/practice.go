package pruning

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// PracticeVines is the usual length of a first morning's list: new pruners count
// the buds on their first 20 vines, then now and then (Westover F., The Proof Is
// in the Pruning, Wines & Vines, 2016).
const PracticeVines = 20

// Practice picks vines for a first morning: in turn from every instruction of the
// plan, the frequent ones first, each from the row that has the fewest on the list
// so far. Vines to look at first are left out. Equal seeds give equal lists, in
// walking order; shorter than n where the plan has fewer vines.
func (r *Result) Practice(n int, seed uint64) []int {
	random := rand.New(rand.NewPCG(seed, 1))
	pools := map[Instruction][]int{}
	kinds := map[Instruction]int{}
	for i, in := range r.Instructions {
		if r.Bound[i] != BoundNone && r.Flags[i]&FlagLookFirst == 0 {
			pools[in] = append(pools[in], i)
			kinds[in]++
		}
	}
	order := ordered(kinds)
	for _, k := range order {
		pool := pools[k.Instruction]
		random.Shuffle(len(pool), func(a, b int) { pool[a], pool[b] = pool[b], pool[a] })
	}
	inRow := make([]int, len(r.w.b.Stand.Ground.Rows))
	var out []int
	for len(out) < n {
		before := len(out)
		for _, k := range order {
			if pool := pools[k.Instruction]; len(pool) > 0 && len(out) < n {
				at := r.emptiestRow(pool, inRow)
				inRow[r.w.b.Stand.Ground.Row[pool[at]]]++
				out = append(out, pool[at])
				pools[k.Instruction] = slices.Delete(pool, at, at+1)
			}
		}
		if len(out) == before {
			break
		}
	}
	slices.SortFunc(out, func(a, b int) int { return cmp.Compare(a, b) })
	return out
}

// emptiestRow gives the first vine of a pool whose row has the fewest picks.
func (r *Result) emptiestRow(pool []int, inRow []int) (at int) {
	row := r.w.b.Stand.Ground.Row
	for k, i := range pool {
		if inRow[row[i]] < inRow[row[pool[at]]] {
			at = k
		}
	}
	return at
}
