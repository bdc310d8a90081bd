package pruning

import (
	"cmp"
	"slices"
)

// Sum is a block's plan in figures.
type Sum struct {
	Positions int `json:"positions"`
	Living    int `json:"living"`
	// Nodes and Canes are histograms: entry k counts the living vines with k of
	// them.
	Nodes        []int              `json:"nodes"`
	Canes        []int              `json:"canes"`
	Instructions []InstructionCount `json:"instructions"` // most frequent first
	ByBound      map[Bound]int      `json:"by_bound"`
	ByFlag       map[string]int     `json:"by_flag"`
	ByReason     map[string]int     `json:"by_reason"`

	NodesInAll int     `json:"nodes_in_all"`
	AreaHa     float64 `json:"area_ha"`      // 0 not known
	NodesPerHa float64 `json:"nodes_per_ha"` // 0 where the area is not known
	// CapPerVine and CapPerHa are the caps of the standards, 0 none.
	// WithinCaps tells that both are kept.
	CapPerVine float64 `json:"cap_per_vine"`
	CapPerHa   float64 `json:"cap_per_ha"`
	WithinCaps bool    `json:"within_caps"`

	// ExpectedKg is the crop that the nodes promise: nodes that may bear × budburst
	// × clusters per shoot × cluster weight, the inputs as in Yield. Forecasts from
	// such figures can be off by 30 % (Crop estimation, British Columbia best
	// practices guide for grapes).
	ExpectedKg      float64 `json:"expected_kg"`
	ExpectedKgPerHa float64 `json:"expected_kg_per_ha"` // 0 where the area is not known
	Yield           Yield   `json:"yield"`
	Hours           float64 `json:"hours"` // of one person
}

// InstructionCount counts the vines with one instruction.
type InstructionCount struct {
	Instruction Instruction `json:"instruction"`
	Text        string      `json:"text"`
	Vines       int         `json:"vines"`
}

// Sum adds up the plan.
func (r *Result) Sum() Sum {
	s := &r.w.s
	out := Sum{Positions: r.Len(), AreaHa: r.w.b.area(), CapPerVine: s.Limits.CapPerVine, CapPerHa: s.Limits.CapPerHa, Yield: s.Yield,
		ByBound: map[Bound]int{}, ByFlag: map[string]int{}, ByReason: map[string]int{}, WithinCaps: true}
	kinds := map[Instruction]int{}
	var bounds [boundCount]int
	var flags [flagCount]int
	var reasons [reasonCount]int
	fruit := 0.0
	for i, in := range r.Instructions {
		bounds[r.Bound[i]]++
		if r.Bound[i] == BoundNone {
			continue
		}
		out.Living++
		kinds[in]++
		out.NodesInAll += int(r.Nodes[i])
		raise(&out.Nodes, int(r.Nodes[i]))
		raise(&out.Canes, int(in.Canes))
		out.Hours += r.minutes(i) / 60
		fruit += float64(r.fruit[i])
		if s.Limits.CapPerVine > 0 && float64(r.Nodes[i]) > s.Limits.CapPerVine {
			out.WithinCaps = false
		}
		tally(uint32(r.Flags[i]), flags[:])
		tally(uint32(r.Reasons[i]), reasons[:])
	}
	for b, n := range bounds {
		if n > 0 {
			out.ByBound[Bound(b)] = n
		}
	}
	named(flags[:], flagWord, out.ByFlag)
	named(reasons[:], reasonWord, out.ByReason)
	out.Instructions = ordered(kinds)
	out.ExpectedKg = fruit * s.Yield.Budburst * s.Yield.ClustersPerShoot * s.Yield.ClusterG / 1000
	if out.AreaHa > 0 {
		out.NodesPerHa, out.ExpectedKgPerHa = float64(out.NodesInAll)/out.AreaHa, out.ExpectedKg/out.AreaHa
		out.WithinCaps = out.WithinCaps && (s.Limits.CapPerHa == 0 || out.NodesPerHa <= s.Limits.CapPerHa+slack)
	}
	return out
}

// minutes is what one vine takes.
func (r *Result) minutes(i int) float64 {
	switch w := r.w.s.Work; {
	case r.Flags[i]&(FlagCutBack|FlagTrunk) != 0 || r.w.s.line(r.w.b.Stand.Leaf[i]).Stage != StageFull:
		return w.YoungMinutes
	case r.Instructions[i].Canes > 0:
		return w.CaneMinutes
	default:
		return w.SpurMinutes
	}
}

// raise counts one more in a histogram.
func raise(h *[]int, k int) {
	for len(*h) <= k {
		*h = append(*h, 0)
	}
	(*h)[k]++
}

func tally(bits uint32, counts []int) {
	for k := 0; bits != 0; k, bits = k+1, bits>>1 {
		counts[k] += int(bits & 1)
	}
}

func named(counts []int, word func(int) string, into map[string]int) {
	for k, n := range counts {
		if n > 0 {
			into[word(k)] = n
		}
	}
}

// ordered gives instructions by falling number of vines, then by what they say.
func ordered(kinds map[Instruction]int) []InstructionCount {
	out := make([]InstructionCount, 0, len(kinds))
	for in, n := range kinds {
		out = append(out, InstructionCount{in, in.String(), n})
	}
	slices.SortFunc(out, func(a, b InstructionCount) int {
		return cmp.Or(cmp.Compare(b.Vines, a.Vines), cmp.Compare(a.Text, b.Text))
	})
	return out
}
