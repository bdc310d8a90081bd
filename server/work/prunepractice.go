package work

import (
	"math/rand/v2"
	"slices"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
)

// Practice picks vines of a stored plan for a first morning, as
// pruning.Result.Practice does of one that was just made: in turn from every
// instruction, the frequent ones first, each from the row with the fewest picks.
// It gives places in walking order. The same seed, the same list.
func Practice(s *stand.Stand, plan map[vine.ID]Planned, number int, seed uint64) []int {
	random := rand.New(rand.NewPCG(seed, 1))
	pools := map[pruning.Instruction][]int{}
	var order []pruning.Instruction
	for i, id := range s.Ground.ID {
		p, ok := plan[id]
		if !ok || !s.Condition[i].Living() || p.Instruction.Nothing() || p.Flags&pruning.FlagLookFirst != 0 {
			continue
		}
		if pools[p.Instruction] == nil {
			order = append(order, p.Instruction)
		}
		pools[p.Instruction] = append(pools[p.Instruction], i)
	}
	slices.SortStableFunc(order, func(a, b pruning.Instruction) int { return len(pools[b]) - len(pools[a]) })
	for _, in := range order {
		pool := pools[in]
		random.Shuffle(len(pool), func(a, b int) { pool[a], pool[b] = pool[b], pool[a] })
	}
	inRow := make([]int, len(s.Ground.Rows))
	var out []int
	for before := -1; len(out) < number && len(out) > before; {
		before = len(out)
		for _, in := range order {
			if pool := pools[in]; len(pool) > 0 && len(out) < number {
				at := emptiest(s.Ground, pool, inRow)
				inRow[s.Ground.Row[pool[at]]]++
				out = append(out, pool[at])
				pools[in] = slices.Delete(pool, at, at+1)
			}
		}
	}
	slices.Sort(out)
	return out
}

// emptiest gives the first of a pool whose row has the fewest picks.
func emptiest(g *stand.Ground, pool, inRow []int) (at int) {
	for k, i := range pool {
		if inRow[g.Row[i]] < inRow[g.Row[pool[at]]] {
			at = k
		}
	}
	return at
}
