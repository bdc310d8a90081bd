package pruning

import "courson/geo/vine"

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
	d.load, d.bound = w.s.Wood.TrunkNodes, BoundTrunk
	w.cap(d, t)
	d.in = Instruction{Trunk: uint8(d.load)}
	d.reasons |= ReasonLeafLimits
	d.flags |= FlagTrunk
	t.trunk(w, v, d.load)
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
