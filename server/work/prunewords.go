package work

import (
	"cmp"
	"slices"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
)

// fewWords gives the instructions, at most so many, that serve a block's vines
// with the least misfit in all: a crew remembers few. It begins with the one that
// serves best alone, adds the one that helps most, and then exchanges as long as
// that helps; ties by what the instructions say, so that the same plan always
// gives the same words.
func fewWords(s *stand.Stand, plan map[vine.ID]Planned, most int) []pruning.Instruction {
	counts := map[pruning.Instruction]int{}
	for i, id := range s.Ground.ID {
		if p, ok := plan[id]; ok && ordinary(s, i, p) {
			counts[p.Instruction]++
		}
	}
	all := make([]pruning.Instruction, 0, len(counts))
	for in := range counts {
		all = append(all, in)
	}
	slices.SortFunc(all, func(a, b pruning.Instruction) int {
		return cmp.Or(cmp.Compare(counts[b], counts[a]), cmp.Compare(a.String(), b.String()))
	})
	if len(all) <= most {
		return all
	}
	w := words{all: all, counts: counts}
	var chosen []int
	for len(chosen) < most {
		chosen = append(chosen, w.best(chosen, -1))
	}
	for improved := true; improved; {
		improved = false
		for k := range chosen {
			before := w.cost(chosen)
			old := chosen[k]
			chosen[k] = w.best(chosen, k)
			if w.cost(chosen) < before {
				improved = true
			} else {
				chosen[k] = old
			}
		}
	}
	out := make([]pruning.Instruction, len(chosen))
	for k, c := range chosen {
		out[k] = all[c]
	}
	return out
}

type words struct {
	all    []pruning.Instruction
	counts map[pruning.Instruction]int
}

// best gives the instruction that, in place k (or added where k is below 0),
// leaves the least misfit.
func (w words) best(chosen []int, k int) int {
	best, least := -1, 0
	for c := range w.all {
		if slices.Contains(chosen, c) {
			continue
		}
		try := slices.Clone(chosen)
		if k < 0 {
			try = append(try, c)
		} else {
			try[k] = c
		}
		if cost := w.cost(try); best < 0 || cost < least {
			best, least = c, cost
		}
	}
	if best < 0 {
		return chosen[k]
	}
	return best
}

// cost is the misfit of all vines when each gets the chosen instruction next to
// its own.
func (w words) cost(chosen []int) (sum int) {
	for _, want := range w.all {
		near := -1
		for _, c := range chosen {
			if m := misfit(w.all[c], want); near < 0 || m < near {
				near = m
			}
		}
		sum += near * w.counts[want]
	}
	return sum
}

// misfit is how far an instruction is from what a vine should get, nodes.
func misfit(given, want pruning.Instruction) int {
	return abs(given.Nodes()-want.Nodes()) + caneStep*abs(int(given.Canes)-int(want.Canes))
}

// nearest gives the word that is next to what a vine should get.
func nearest(list []pruning.Instruction, want pruning.Instruction) pruning.Instruction {
	best := list[0]
	for _, in := range list[1:] {
		if misfit(in, want) < misfit(best, want) {
			best = in
		}
	}
	return best
}
