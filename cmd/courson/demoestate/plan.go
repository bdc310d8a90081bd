package demoestate

import (
	"math"

	"courson/geo/vine"
	"courson/store"
)

// caneWeightG is the weight a cane should have, used for the demo's own plan:
// nodes = pruning weight / wanted cane weight (30 to 50 g is common practice
// for table and wine grapes; from memory).
const caneWeightG = 40

// planned is the number of nodes the invented estate's sheet gives a vine.
func planned(r rowOf, i, w int) int {
	p := r.plants[i]
	if p.woodKgM[w] == 0 {
		return 0
	}
	nodes := int(math.Round(p.woodKgM[w] * r.spacing * 1000 / caneWeightG))
	most := 24
	switch leaf := vine.Leaf(p.planted[w], seasonAt(w)); {
	case leaf <= 2:
		most = 4
	case leaf == 3:
		most = 6
	case leaf == 4:
		most = 12
	}
	return min(most, max(4, nodes))
}

// entries turns a row's nodes into plan entries: two 2-node spurs first, the
// rest on one cane, on two where each gets six nodes or more.
func entries(r rowOf, w int) []store.PlanEntry {
	out := make([]store.PlanEntry, 0, len(r.vines))
	for i, v := range r.vines {
		nodes := planned(r, i, w)
		if nodes == 0 {
			continue
		}
		e := store.PlanEntry{Vine: v, Nodes: nodes, Spurs: 2, Reason: "from last winter's wood"}
		switch onCanes := nodes - 4; {
		case onCanes >= 12:
			e.Canes = 2
		case onCanes > 0:
			e.Canes = 1
		default:
			e.Reason = "two 2-node spurs: too little wood for a cane"
		}
		out = append(out, e)
	}
	return out
}
