package pruning

import (
	"math"
	"slices"

	"courson/geo/vine"
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
		nodes, ok = r.ByShoots(v.shoots)
	}
	return nodes, false, ok
}

// decide is the whole of the reasoning for one vine. t is nil unless it is to be
// explained.
func (w *work) decide(v *subject, d *decision, t *trace) {
	*d = decision{gapM: -1}
	if !v.condition.Living() {
		t.noVine(v)
		return
	}
	w.ageUnknown(v, d)
	line := w.s.line(v.leaf)
	t.vine(w, v, line, d)
	w.marks(v, d)
	w.judgeWeak(v, d)
	t.weakness(w, v, d)
	w.cropShare(v, line, d, t)
	o := v.override
	switch canesWanted := o != nil && o.Canes > 0; {
	case o != nil && o.Nodes >= 0:
		w.overridden(v, d, t)
	case line.Stage == StageCutBack && !canesWanted:
		w.cutBack(ReasonFirstLeaf, d, t)
	case w.tooThin(v) && !canesWanted:
		w.cutBack(ReasonThin, d, t)
	case line.Stage == StageTrunk && !canesWanted:
		w.trunk(v, d, t)
	default:
		w.findLoad(v, line, d, t)
		w.lay(v, line, d, t)
	}
	w.bear(v, d)
	t.result(d)
}

// bear gives the nodes that may bear: all, or as many as make the allowed share of
// a mature vine's crop in this place.
func (w *work) bear(v *subject, d *decision) {
	switch {
	case d.crop == 0 || d.in.CutBack > 0 || d.in.Trunk > 0:
		d.fruit = 0
	case d.crop < 1:
		d.fruit = min(float64(d.in.Nodes()), d.crop*w.fullLoad(v))
	default:
		d.fruit = float64(d.in.Nodes())
	}
}

// ageUnknown judges a young vine of unknown age as one in its third leaf: one
// cane at most and little crop (chosen by us).
func (w *work) ageUnknown(v *subject, d *decision) {
	if v.leaf == 0 && (v.condition == vine.Young || v.condition == vine.Replanted) {
		v.leaf = 3
		d.reasons |= ReasonAgeUnknown
		d.flags |= FlagLookFirst
	}
}

// marks notes what a condition or a doubtful figure asks for.
func (w *work) marks(v *subject, d *decision) {
	switch v.condition {
	case vine.Doubtful:
		d.flags |= FlagLookFirst
	case vine.Diseased:
		d.reasons |= ReasonDiseased
	}
	if v.weightG >= 0 && v.basis > BasisMeasured {
		d.flags |= FlagEstimated
	}
	if v.caneMM > w.s.Wood.BullCaneMM+slack {
		d.flags |= FlagBull
	}
}

// judgeWeak tells whether last year's wood was weak.
func (w *work) judgeWeak(v *subject, d *decision) {
	if v.condition == vine.Weak {
		d.reasons |= ReasonWeakCondition
	}
	if v.weakShoots == 1 {
		d.reasons |= ReasonWeakShoots
	}
	if v.caneG > 0 && !atLeast(v.caneG, w.s.Wood.WeakCaneG) {
		d.reasons |= ReasonWeakCanes
	}
	v.weak = d.reasons&(ReasonWeakCondition|ReasonWeakShoots|ReasonWeakCanes) != 0
}

func (w *work) veryWeak(v *subject) bool {
	return v.caneG > 0 && !atLeast(v.caneG, w.s.Wood.VeryWeakCaneG)
}

func (w *work) tooThin(v *subject) bool {
	return v.leaf > 0 && int(v.leaf) <= w.s.Wood.CutBackThroughLeaf && v.caneMM > 0 && !atLeast(v.caneMM, w.s.Wood.CutBackMM)
}

// cropShare is told apart from the nodes. Vines with very light canes are to
// rebuild and bear nothing (from memory).
func (w *work) cropShare(v *subject, line LeafLine, d *decision, t *trace) {
	d.crop = line.CropShare
	dry := &w.s.Drought
	if w.b.Drought && v.treated && v.weak && v.leaf > 0 && int(v.leaf) <= dry.LessCropThroughLeaf {
		d.crop = min(d.crop, w.s.line(max(1, v.leaf-1)).CropShare)
		d.flags |= FlagDrought
	}
	if w.veryWeak(v) {
		d.crop = 0
	}
	t.crop(w, v, d)
}

// cutBack begins anew from two buds.
func (w *work) cutBack(why Reasons, d *decision, t *trace) {
	d.in = Instruction{CutBack: 2}
	d.load, d.bound, d.crop = 2, BoundCutBack, 0
	d.reasons |= why
	d.flags |= FlagCutBack
	t.cutBack(w, why)
}

// trunk takes one straight cane to the wire, or cuts a weak vine back. Where no
// diameter is known the pruner looks.
func (w *work) trunk(v *subject, d *decision, t *trace) {
	if v.weak {
		w.cutBack(0, d, t)
		return
	}
	if v.caneMM < 0 {
		d.reasons |= ReasonDiameterUnknown
		d.flags |= FlagLookFirst
	}
	d.in = Instruction{Trunk: uint8(w.s.Wood.TrunkNodes)}
	d.load, d.bound = w.s.Wood.TrunkNodes, BoundTrunk
	d.reasons |= ReasonLeafLimits
	d.flags |= FlagTrunk
	t.trunk(w, v)
}

// overridden takes the agronomist's nodes, held under the caps only.
func (w *work) overridden(v *subject, d *decision, t *trace) {
	o := v.override
	d.load, d.bound = o.Nodes, BoundOverride
	d.flags |= FlagOverride
	t.override(o)
	if o.Nodes < floorNodes {
		d.in = Instruction{CutBack: uint8(o.Nodes)}
		d.flags |= FlagCutBack
		d.crop = 0
		return
	}
	w.cap(d, t)
	if d.bound != BoundOverride {
		d.reasons |= ReasonOverrideCapped
	}
	w.lay(v, w.s.line(v.leaf), d, t)
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
		d.load = nearest(float64(d.load) * f)
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
