package pruning

import (
	"math"
	"slices"
)

// fewestKnown is how many vines a median must rest on; chosen by us.
const fewestKnown = 5

// findMedians gives the middle of the nodes that growth allows, for each line of
// the leaf table and (last) for the block.
func (w *work) findMedians() {
	lines := len(w.s.Leaves)
	known := make([][]float64, lines+1)
	var v subject
	missing := false
	for i, c := range w.b.Stand.Condition {
		if !c.Living() {
			continue
		}
		w.read(i, &v)
		n, _, ok := w.growth(&v)
		if !ok {
			missing = true
			continue
		}
		k := w.lineIndex(v.leaf)
		known[k] = append(known[k], n)
	}
	w.medians = make([]float64, lines+1)
	if !missing {
		return
	}
	for k := range lines {
		known[lines] = append(known[lines], known[k]...)
	}
	for k, values := range known {
		w.medians[k] = -1
		if len(values) >= fewestKnown {
			slices.Sort(values)
			w.medians[k] = (values[(len(values)-1)/2] + values[len(values)/2]) / 2
		}
	}
}

func (w *work) lineIndex(leaf uint8) int {
	if leaf == 0 || int(leaf) > len(w.s.Leaves) {
		return len(w.s.Leaves) - 1
	}
	return int(leaf) - 1
}

// growth gives the nodes that last year's growth balances, not rounded.
func (w *work) growth(v *subject) (nodes float64, belowFirst, ok bool) {
	r := &w.s.Rule
	if r.Kind == Fixed {
		return r.Nodes, false, true
	}
	if v.weightG >= 0 {
		if nodes, belowFirst, ok = r.ByWeight(v.weightG); ok {
			return nodes, belowFirst, true
		}
	}
	if v.shoots >= 0 {
		nodes, ok = r.ByShoots(v.shoots, int(v.leaf))
	}
	return nodes, false, ok
}

// findLoad gives the nodes that the vine may carry: the least of all limits, but
// not below the floor.
func (w *work) findLoad(v *subject, line LeafLine, d *decision, t *trace) {
	w.startFromGrowth(v, d, t)
	w.limitChange(v, line, d, t)
	w.correctDead(d, t)
	if v.occupiedM > 0 {
		w.limit(d, t, BoundSpace, wholes(w.space(v)))
	}
	if line.NodesShare < 1 {
		w.limit(d, t, BoundLeaf, w.leafLoad(v, line))
	}
	w.holdWeak(v, d, t)
	w.cap(d, t)
	if d.load < floorNodes {
		d.load, d.bound = floorNodes, BoundFloor
		t.floor()
	}
}

func (w *work) limit(d *decision, t *trace, by Bound, nodes int) {
	t.limit(by, nodes, d.load)
	if nodes < d.load {
		d.load, d.bound = nodes, by
	}
}

// startFromGrowth takes what growth allows; where it is not known the middle of
// the vines of the same leaf, then of the block, then last year's load, then the
// middle of what the system carries. Each is marked.
func (w *work) startFromGrowth(v *subject, d *decision, t *trace) {
	nodes, below, ok := w.growth(v)
	d.bound = BoundGrowth
	if below {
		d.reasons |= ReasonBelowFirst
		d.flags |= FlagRebuild
	}
	if !ok {
		d.flags |= FlagNoVigour
		own, all := w.medians[w.lineIndex(v.leaf)], w.medians[len(w.s.Leaves)]
		switch {
		case own >= 0:
			nodes, d.bound = own, BoundNeighbours
			d.reasons |= ReasonMedianOfLeaf
		case all >= 0:
			nodes, d.bound = all, BoundNeighbours
		case v.nodesLeft > 0:
			nodes, d.bound = float64(v.nodesLeft), BoundLastLoad
		default:
			nodes, d.bound = w.middle(v), BoundSystem
		}
	}
	d.load = nearest(min(nodes, mostNodes))
	t.growth(w, v, nodes, d)
}

// middle of what the system carries.
func (w *work) middle(v *subject) float64 {
	if w.sys.CanesPerArm > 0 {
		return float64(w.spurNodes()) + float64(w.sys.CanesAtMost()*(w.sys.LeastNodesPerCane+w.sys.MostNodesPerCane))/2
	}
	if n := w.capacity(v); n > 0 {
		return float64(n)
	}
	return floorNodes
}

// limitChange holds grown vines near last year's load.
func (w *work) limitChange(v *subject, line LeafLine, d *decision, t *trace) {
	share := w.s.Limits.ChangeShare
	if share == 0 || line.Stage != StageFull || v.nodesLeft < floorNodes {
		return
	}
	last := float64(v.nodesLeft)
	up, down := wholes(last*(1+share)), int(math.Ceil(last*(1-share)-slack))
	t.change(share, v.nodesLeft, down, up, d.load)
	switch {
	case d.load > up:
		d.load, d.bound = up, BoundChangeUp
	case d.load < down:
		d.load, d.bound = down, BoundChangeDown
	}
}

func (w *work) correctDead(d *decision, t *trace) {
	f, minimal := w.s.DeadBuds.factor()
	if minimal {
		d.flags |= FlagMinimal
	}
	if f > 1 {
		d.load = w.s.DeadBuds.Corrected(float64(d.load))
		d.reasons |= ReasonDeadBuds
	}
	t.dead(w, f, minimal, d.load)
}

// space is the nodes that the canopy has room for.
func (w *work) space(v *subject) float64 {
	return w.s.Limits.ShootsPerM * v.occupiedM * w.s.Limits.CanopiesPerVine
}

// fullLoad is what a mature vine in this place may carry at most: the least of
// space, caps and what its wood can hold.
func (w *work) fullLoad(v *subject) float64 {
	full := min(w.capHa, mostNodes)
	if w.s.Limits.CapPerVine > 0 {
		full = min(full, w.s.Limits.CapPerVine)
	}
	if v.occupiedM > 0 {
		full = min(full, w.space(v))
	}
	if n := w.capacity(v); n > 0 {
		full = min(full, float64(n))
	}
	return max(full, floorNodes)
}

func (w *work) leafLoad(v *subject, line LeafLine) int {
	return nearest(line.NodesShare * w.fullLoad(v))
}

// holdWeak is last year's load for weak wood, or the owner's wish after a
// drought year.
func (w *work) holdWeak(v *subject, d *decision, t *trace) {
	if !v.weak {
		return
	}
	drought := w.b.Drought && v.treated
	if drought && w.s.Drought.Wish == WishRule || !drought && !w.s.Limits.HoldWeak {
		t.noHold(drought)
		return
	}
	if v.nodesLeft <= 0 {
		d.reasons |= ReasonLastUnknown
		t.lastUnknown()
		return
	}
	nodes, by := float64(v.nodesLeft)*(1+w.s.Limits.WeakMoreShare), BoundWeakHold
	if drought {
		by = BoundDrought
		d.flags |= FlagDrought
		if w.s.Drought.Wish == WishEase {
			nodes = float64(v.nodesLeft) * (1 - w.s.Drought.EaseShare)
		}
	}
	w.limit(d, t, by, wholes(nodes))
}

// cap holds the load under both caps.
func (w *work) cap(d *decision, t *trace) {
	if c := w.s.Limits.CapPerVine; c > 0 {
		w.limit(d, t, BoundCapVine, wholes(c))
	}
	if !math.IsInf(w.capHa, 1) {
		w.limit(d, t, BoundCapHa, wholes(w.capHa))
	}
}
