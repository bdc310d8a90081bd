package pruning

import (
	"fmt"
	"math"
)

// Param is a number that a step rests on.
type Param struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit,omitempty"`
}

// Step is one step of the reasoning: Key names its kind and never changes, Text
// says it in plain English.
type Step struct {
	Key    string  `json:"key"`
	Params []Param `json:"params,omitempty"`
	Source string  `json:"source"`
	Text   string  `json:"text"`
}

// Explain gives every step of the reasoning for vine i, in order. The last one,
// "result", holds the instruction.
func (r *Result) Explain(i int) []Step {
	var v subject
	var d decision
	t := new(trace)
	r.w.read(i, &v)
	r.w.decide(&v, &d, t)
	return t.steps
}

// trace collects the steps. All its methods do nothing on nil, which is what a
// plan of many vines uses.
type trace struct{ steps []Step }

func (t *trace) say(key, source string, params []Param, format string, args ...any) {
	t.steps = append(t.steps, Step{key, params, source, fmt.Sprintf(format, args...)})
}

func (t *trace) noVine(v *subject) {
	if t == nil {
		return
	}
	t.say("no_vine", "the record", nil, "No living vine stands here (%s): nothing to prune.", v.condition)
}

func (t *trace) vine(w *work, v *subject, line LeafLine, d *decision) {
	if t == nil {
		return
	}
	p := []Param{{"leaf", float64(v.leaf), ""}, {"nodes_share", line.NodesShare, ""}, {"crop_share", line.CropShare, ""}}
	leaf := fmt.Sprintf("In leaf %d", v.leaf)
	switch {
	case d.reasons&ReasonAgeUnknown != 0:
		leaf = "Young, of unknown age, judged as in its third leaf"
	case v.leaf == 0:
		leaf = "Of unknown age"
	}
	text := fmt.Sprintf("%s, %s, system %s.", leaf, v.condition, w.sys.Name)
	if v.nodesLeft >= 0 {
		p = append(p, Param{"nodes_last_winter", float64(v.nodesLeft), "nodes"})
		text += fmt.Sprintf(" Last winter it was left %d nodes", v.nodesLeft)
		if v.canesLeft >= 0 {
			p = append(p, Param{"canes_last_winter", float64(v.canesLeft), "canes"})
			text += " on " + count(v.canesLeft, "cane")
		}
		text += "."
	}
	t.say("vine", srcYoung, p, "%s", text)
}

func (t *trace) weakness(w *work, v *subject, d *decision) {
	if t == nil || !v.weak {
		return
	}
	why := (d.reasons & (ReasonWeakCondition | ReasonWeakShoots | ReasonWeakCanes)).String()
	text, p, source := "Last year's wood was weak ("+why+").", []Param(nil), "the record"
	if v.caneG > 0 {
		source = srcMemory
		p = []Param{{"mean_cane_weight", v.caneG, "g"}, {"weak_below", w.s.Wood.WeakCaneG, "g"}}
		text += fmt.Sprintf(" A cane weighed %.0f g on average; under %.0f g is weak.", v.caneG, w.s.Wood.WeakCaneG)
	}
	t.say("weak", source, p, "%s", text)
}

func (t *trace) crop(w *work, v *subject, d *decision) {
	if t == nil || d.crop == 1 {
		return
	}
	text := fmt.Sprintf("It may ripen %.0f %% of a mature vine's crop.", 100*d.crop)
	switch {
	case d.crop == 0 && !w.veryWeak(v):
		text = "It is to bear no crop this year."
	case d.crop == 0:
		text = fmt.Sprintf("Its canes weigh under %.0f g: no crop, to let it rebuild.", w.s.Wood.VeryWeakCaneG)
	}
	t.say("crop", srcPractice, []Param{{"crop_share", d.crop, ""}}, "%s", text)
}

func (t *trace) cutBack(w *work, why Reasons) {
	if t == nil {
		return
	}
	text := "Cut back to 2 buds, to begin anew with a straight shoot."
	if why == ReasonThin {
		text = fmt.Sprintf("Its cane is thinner than %.0f mm at the wire. %s", w.s.Wood.CutBackMM, text)
	}
	t.say("cut_back", srcPractice, []Param{{"nodes", 2, "nodes"}, {"pencil_thick", w.s.Wood.CutBackMM, "mm"}}, "%s", text)
}

func (t *trace) trunk(w *work, v *subject, keep int) {
	if t == nil {
		return
	}
	text := fmt.Sprintf("A trunk is formed: one straight cane, cut at the wire, the top %d shoots kept.", keep)
	p := []Param{{"shoots_kept", float64(keep), "shoots"}, {"pencil_thick", w.s.Wood.CutBackMM, "mm"}}
	if v.caneMM < 0 {
		text += fmt.Sprintf(" Its diameter is not known: where it is thinner than %.0f mm at the wire, cut back to 2 buds instead.", w.s.Wood.CutBackMM)
	} else {
		p = append(p, Param{"diameter", v.caneMM, "mm"})
	}
	t.say("trunk", srcYoung, p, "%s", text)
}

func (t *trace) override(o *Override) {
	if t == nil {
		return
	}
	var p []Param
	what := ""
	if o.Nodes >= 0 {
		p, what = append(p, Param{"nodes", float64(o.Nodes), "nodes"}), fmt.Sprintf("%d nodes", o.Nodes)
	}
	if o.Canes >= 0 {
		p = append(p, Param{"canes", float64(o.Canes), "canes"})
		if what != "" {
			what += " on "
		}
		what += count(o.Canes, "cane")
	}
	t.say("override", srcAgronomist, p, "%s decided on %s: %s.", o.Author, what, o.Reason)
}

func (t *trace) growth(w *work, v *subject, nodes float64, d *decision) {
	if t == nil {
		return
	}
	p, r := []Param{{"nodes", nodes, "nodes"}}, &w.s.Rule
	switch d.bound {
	case BoundNeighbours:
		of := "the block's vines"
		if d.reasons&ReasonMedianOfLeaf != 0 {
			of = "the block's vines of its leaf"
		}
		t.say("growth_median", srcArithmetic, p, "Its growth is not known. The middle of %s that are known allows %.1f nodes.", of, nodes)
		return
	case BoundLastLoad:
		t.say("growth_last_load", srcPractice, p, "Its growth is not known, nor that of enough vines around: begin from last year's %d nodes.", v.nodesLeft)
		return
	case BoundSystem:
		t.say("growth_system", srcPractice, p, "Nothing is known of its growth: begin from the middle of what the system carries, %.0f nodes.", nodes)
		return
	}
	text := growthText(w, v, nodes)
	if _, _, byWeight := r.ByWeight(v.weightG); byWeight && v.weightG >= 0 {
		p = append(p, Param{"pruning_weight", v.weightG, "g"})
		if v.seG > 0 {
			low, _, _ := r.ByWeight(max(0, v.weightG-v.seG))
			high, _, _ := r.ByWeight(v.weightG + v.seG)
			p = append(p, Param{"standard_error", v.seG, "g"}, Param{"nodes_low", low, "nodes"}, Param{"nodes_high", high, "nodes"})
			text += fmt.Sprintf(" Within its standard error of %.0f g that is %.0f to %.0f.", v.seG, low, high)
		}
	} else if v.shoots >= 0 {
		p = append(p, Param{"shoots", v.shoots, "shoots"})
	}
	t.say("growth", r.source(), p, "%s", text)
}

// growthText says in words how the rule came to its nodes.
func growthText(w *work, v *subject, nodes float64) string {
	r := &w.s.Rule
	from := fmt.Sprintf("%.0f g of prunings (%s)", v.weightG, [...]string{"none", "weighed", "calibrated, not weighed", "estimated, not weighed"}[min(v.basis, BasisEstimated)])
	switch r.Kind {
	case PerWeight:
		return fmt.Sprintf("%s at %g nodes for the first %g %s and %g for each further %s: %.1f nodes.", from, r.A, r.FirstWeight, r.Unit, r.B, r.Unit, nodes)
	case PerWeightMetric:
		return fmt.Sprintf("%s at %g nodes for the first %g kg and %g for each further kg: %.1f nodes.", from, r.First, r.FirstKg, r.More, nodes)
	case CaneWeight:
		return fmt.Sprintf("%s at %g g for each shoot: %.1f nodes.", from, r.TargetG, nodes)
	case EffectiveShoots:
		return fmt.Sprintf("Last year's canes count as %.1f effective shoots; with %g more for damaged buds: %.1f nodes.", v.shoots, r.Extra, nodes)
	case IdealShoots:
		return fmt.Sprintf("Last year's canes count as %.1f ideal shoots; raised by %.0f %%: %.1f nodes.", v.shoots, 100*r.raise(int(v.leaf)), nodes)
	}
	return fmt.Sprintf("The block's standards give every vine %.0f nodes.", nodes)
}

func (t *trace) change(share float64, last, down, up, load int) {
	if t == nil {
		return
	}
	t.say("change", srcPractice, []Param{{"share", share, ""}, {"last", float64(last), "nodes"}, {"least", float64(down), "nodes"}, {"most", float64(up), "nodes"}},
		"At most %.0f %% more or less than last year's %d: between %d and %d nodes.%s", 100*share, last, down, up, map[bool]string{true: " This binds."}[load < down || load > up])
}

func (t *trace) dead(w *work, f float64, minimal bool, load int) {
	if t == nil || f == 1 && !minimal {
		return
	}
	p := []Param{{"share_dead", w.s.DeadBuds.Share, ""}, {"factor", f, ""}, {"nodes", float64(load), "nodes"}}
	if minimal {
		t.say("dead_buds", srcPurdue, p, "%.0f %% of the buds are dead: prune as little as can be and finish after budburst. The numbers here hold until then.", 100*w.s.DeadBuds.Share)
		return
	}
	t.say("dead_buds", srcPurdue, p, "%.0f %% of the buds are dead: times %.2f, %d nodes.", 100*w.s.DeadBuds.Share, f, load)
}

// limitText gives the words and the source of a limit.
func limitText(by Bound) (text, source string) {
	switch by {
	case BoundSpace:
		return "The canopy has room for %d.", srcShape
	case BoundLeaf:
		return "Its leaf allows %d, a share of the full load.", srcYoung
	case BoundWeakHold:
		return "Weak wood: no more than last year's load, %d.", srcPractice
	case BoundDrought:
		return "Weak wood after a drought year, by the owner's wish: %d.", srcOwner
	case BoundCapVine:
		return "The cap per vine is %d.", srcOwner
	}
	return "The cap per hectare comes to %d per vine.", srcOwner
}

func (t *trace) limit(by Bound, nodes, load int) {
	if t == nil {
		return
	}
	text, source := limitText(by)
	if nodes < load {
		text += " This binds."
	}
	t.say("limit_"+limitKey(by), source, []Param{{"nodes", float64(nodes), "nodes"}, {"before", float64(load), "nodes"}}, text, nodes)
}

func limitKey(by Bound) string {
	switch by {
	case BoundSpace:
		return "space"
	case BoundLeaf:
		return "leaf"
	case BoundWeakHold:
		return "weak"
	case BoundDrought:
		return "drought"
	case BoundCapVine:
		return "cap_vine"
	}
	return "cap_ha"
}

func (t *trace) noHold(drought bool) {
	if t == nil {
		return
	}
	text := "Weak wood, but the block's standards do not hold it at last year's load."
	if drought {
		text = "Weak wood after a drought year: by the owner's wish no other limit than the rule's."
	}
	t.say("no_hold", srcOwner, nil, "%s", text)
}

func (t *trace) lastUnknown() {
	if t == nil {
		return
	}
	t.say("last_unknown", "the record", nil, "Weak wood, but what was left last winter is not known, so it cannot be held at that.")
}

func (t *trace) floor() {
	if t == nil {
		return
	}
	t.say("floor", srcPractice, []Param{{"nodes", floorNodes, "nodes"}}, "Not less than %d spurs of %d nodes, so that next winter has a choice.", floorSpurs, floorSpurNodes)
}

func (t *trace) spurs(w *work, v *subject, d *decision) {
	if t == nil {
		return
	}
	p := []Param{{"load", float64(d.load), "nodes"}, {"positions", float64(w.positions(v)), "spurs"}, {"nodes", float64(d.in.Nodes()), "nodes"}}
	t.say("spurs", srcOwner, p, "%d nodes on %s of %d.%s", d.load, count(int(d.in.Spurs), "spur"), d.in.NodesPerSpur, fewer(d)+noted(d))
}

func fewer(d *decision) string {
	if d.in.Nodes() >= d.load {
		return ""
	}
	return fmt.Sprintf(" It leaves %d of the %d nodes.", d.in.Nodes(), d.load)
}

// noted names what decided on the wood, without what was told before.
func noted(d *decision) string {
	if r := d.reasons &^ (ReasonWeakCondition | ReasonWeakShoots | ReasonWeakCanes); r != 0 {
		return " Noted: " + r.String() + "."
	}
	return ""
}

func (t *trace) canes(w *work, v *subject, d *decision) {
	if t == nil {
		return
	}
	k := int(d.in.Canes)
	p := []Param{{"load", float64(d.load), "nodes"}, {"canes", float64(k), "canes"}, {"spurs", float64(d.in.Spurs), "spurs"}, {"nodes", float64(d.in.Nodes()), "nodes"}}
	text := fmt.Sprintf("Of %d nodes %d go to %s.", d.load, int(d.in.Spurs)*int(d.in.NodesPerSpur), count(int(d.in.Spurs), "spur"))
	if k == 0 {
		t.say("wood", srcPractice, p, "%s No cane.%s%s", text, fewer(d), noted(d))
		return
	}
	text += fmt.Sprintf(" %s.%s", d.in, fewer(d))
	text += noted(d)
	if v.occupiedM > 0 {
		span := w.s.Wood.SpanM(v.occupiedM, k, w.sys.Wires)
		p = append(p, Param{"span", span, "m"}, Param{"fit", float64(w.s.Wood.NodesThatFit(span)), "nodes"}, Param{"wire_gap", max(0, d.gapM), "m"})
		text += fmt.Sprintf(" Each cane has %.2f m of wire, room for %d nodes; %.2f m stay empty.", span, w.s.Wood.NodesThatFit(span), max(0, d.gapM))
	}
	t.say("wood", srcSpan, p, "%s", text)
	t.cut(w, v, d)
}

// cut says where the cane is from and where it is cut.
func (t *trace) cut(w *work, v *subject, d *decision) {
	p := []Param{{"least_diameter", w.s.Wood.MinCaneMM, "mm"}, {"beyond_last_node", CutBeyondMM, "mm"}, {"stub_least", w.s.Wood.StubMM, "mm"}}
	text := fmt.Sprintf("Cut each cane %d mm beyond its last counted node, and sooner where it grows thinner than %.0f mm.", CutBeyondMM, w.s.Wood.MinCaneMM)
	switch d.arm {
	case ArmLeft, ArmRight:
		text += fmt.Sprintf(" The %s arm bears the stronger cane (%.1f and %.1f mm).", d.arm, v.arm[0], v.arm[1])
	case ArmEither:
		text += " Both arms bear equal canes: either may be laid, better towards a missing neighbour."
	}
	if d.flags&FlagBull != 0 {
		text += fmt.Sprintf(" The strongest cane is over %.0f mm thick: choose a thinner one.", w.s.Wood.BullCaneMM)
	}
	text += fmt.Sprintf(" Leave %.0f mm of spare wood, or %g times the width of the wound, over cuts into old wood.", w.s.Wood.StubMM, w.s.Wood.StubPerWound)
	for k, arm := range []string{"left", "right"} {
		if v.arm[k] > 0 {
			p = append(p, Param{"diameter_" + arm, math.Round(v.arm[k]*10) / 10, "mm"})
		}
	}
	t.say("cut", srcThick+"; "+srcBeyond, p, "%s", text)
}

func (t *trace) result(d *decision) {
	if t == nil {
		return
	}
	text := fmt.Sprintf("%s: %d nodes, bound by: %s.", d.in, d.in.Nodes(), d.bound)
	if d.flags&FlagLookFirst != 0 {
		text = "Look first. " + text
	}
	t.say("result", srcArithmetic, []Param{{"nodes", float64(d.in.Nodes()), "nodes"}, {"load", float64(d.load), "nodes"}}, "%s", text)
}
