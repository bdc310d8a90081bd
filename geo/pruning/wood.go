package pruning

import "math"

// spurNodes is what the renewal spurs of a system with canes carry.
func (w *work) spurNodes() int { return w.sys.spurs() * w.sys.NodesPerSpur }

// caneMost is the most nodes on each of so many canes: by the system, and by the
// wire where the metres of row are known.
func (w *work) caneMost(v *subject, canes int) (most int, wire bool) {
	most = w.sys.MostNodesPerCane
	if v.occupiedM > 0 {
		if fit := w.s.Wood.NodesThatFit(w.s.Wood.SpanM(v.occupiedM, canes, w.sys.Wires)); fit < most {
			return fit, true
		}
	}
	return most, false
}

// positions is the spurs that a spur-pruned vine has room for; 0 not known.
func (w *work) positions(v *subject) int {
	if !w.sys.Cordon() {
		return min(mostSpurs, w.sys.spurs())
	}
	if !(v.occupiedM > 0) {
		return 0
	}
	return min(mostSpurs, w.sys.Positions(v.occupiedM, w.s.Wood.GapM))
}

// capacity is the most nodes that the wood can hold; 0 not known.
func (w *work) capacity(v *subject) (n int) {
	if w.sys.CanesPerArm == 0 {
		return w.positions(v) * w.sys.NodesPerSpur
	}
	for k := 1; k <= w.sys.CanesAtMost(); k++ {
		most, _ := w.caneMost(v, k)
		n = max(n, w.spurNodes()+k*most)
	}
	return n
}

// lay turns the load into wood.
func (w *work) lay(v *subject, line LeafLine, d *decision, t *trace) {
	if w.sys.CanesPerArm == 0 {
		w.laySpurs(v, d)
		t.spurs(w, v, d)
		return
	}
	before := *d
	allow := w.canesAllowed(v, line, d)
	k, forced := 0, v.override != nil && v.override.Canes >= 0
	if forced { // what speaks against it is the agronomist's to weigh
		*d = before
		k = v.override.Canes
		d.flags |= FlagOverride
		d.reasons |= ReasonOverrideCanes
		if d.bound != BoundOverride {
			t.override(v.override)
		}
	} else {
		k = w.chooseCanes(v, d, allow)
	}
	if k == 0 {
		d.reasons &^= ReasonOneCaneYoung | ReasonOneCaneWeak | ReasonOneCaneSided | ReasonOneCaneThin // of no matter
		w.spursOnly(d, forced)
	} else {
		w.layCanes(v, d, k, forced)
	}
	if k > 0 && w.thickArms(v) == unknownThick && (v.caneMM < 0 || d.in.Canes > 1) {
		d.reasons |= ReasonDiameterUnknown
	}
	w.chooseArm(v, d)
	w.measureWire(v, d)
	t.canes(w, v, d)
}

// laySpurs puts the load on spurs as far as there are positions.
func (w *work) laySpurs(v *subject, d *decision) {
	spurs := d.load / w.sys.NodesPerSpur
	room := w.positions(v)
	if room > 0 && spurs > room {
		if d.bound == BoundOverride {
			d.flags |= FlagOverSpan
		} else {
			spurs, d.bound = room, BoundPositions
			d.reasons |= ReasonPositions
		}
	}
	spurs = min(spurs, mostSpurs)
	d.in = Instruction{Spurs: uint8(spurs), NodesPerSpur: uint8(w.sys.NodesPerSpur)}
	if d.in.Nodes() < floorNodes {
		d.in = Instruction{Spurs: floorSpurs, NodesPerSpur: floorSpurNodes}
	}
	if d.in.Nodes() < d.load && d.reasons&ReasonPositions == 0 {
		d.reasons |= ReasonRounded
	}
}

// canesAllowed is the most canes that wood and age allow; it notes why fewer.
func (w *work) canesAllowed(v *subject, line LeafLine, d *decision) int {
	allow, thick := w.sys.CanesAtMost(), w.thickArms(v)
	switch {
	case w.veryWeak(v):
		d.reasons |= ReasonVeryWeak
		d.flags |= FlagRebuild
		return 0
	case thick == 0:
		d.reasons |= ReasonNoThickCane
		d.flags |= FlagRebuild
		return 0
	}
	if allow == 1 {
		return 1
	}
	one := func(is bool, why Reasons) {
		if is {
			allow = 1
			d.reasons |= why
		}
	}
	one(line.Stage == StageShort || line.Stage == StageTrunk || line.Stage == StageCutBack, ReasonOneCaneYoung)
	one(v.weak, ReasonOneCaneWeak)
	one(v.headDead == 1, ReasonOneCaneSided)
	if thick < w.sys.Arms {
		most := max(1, thick*w.sys.CanesPerArm)
		if most < allow {
			allow = most
			d.reasons |= ReasonOneCaneThin
		}
	}
	return allow
}

// unknownThick stands for arms whose canes nobody measured: they are taken to be
// thick enough, and the pruner is told to judge.
const unknownThick = mostArms + 1

// thickArms counts the arms that bear a cane thick enough to lay.
func (w *work) thickArms(v *subject) int {
	least := w.s.Wood.MinCaneMM
	if w.sys.Arms == 1 || v.arm[0] < 0 && v.arm[1] < 0 {
		switch {
		case v.caneMM < 0:
			return unknownThick
		case !atLeast(v.caneMM, least):
			return 0
		case w.sys.Arms == 1:
			return 1
		}
		return unknownThick // one is thick; of the others nothing is known
	}
	n := 0
	for _, mm := range v.arm {
		if atLeast(mm, least) {
			n++
		}
	}
	return n
}

// chooseCanes gives the number of canes for the load: as many as carry at least
// their least length each, one where the load is small, none where it does not
// reach for the shortest cane. A number of canes that would carry fewer nodes at
// its first load than fewer canes did just below it is passed over, so that more
// load never leaves less.
func (w *work) chooseCanes(v *subject, d *decision, allow int) (canes int) {
	below := max(floorNodes, w.spurNodes()) // what fewer canes carry at most
	for k := 1; k <= allow; k++ {
		least := w.sys.LeastNodesPerCane
		need := max(floorNodes, w.spurNodes()+least)
		if k > 1 {
			least = max(least, w.s.Wood.TwoCanesLeast)
			need = max(w.spurNodes()+k*least, w.s.Wood.OneCaneUpTo+1)
		}
		most, wire := w.caneMost(v, k)
		first, second := w.share(k, need-w.spurNodes(), most)
		carries := w.spurNodes() + first + (k-1)*second
		if most < least || carries < max(floorNodes, min(need-1, below)) {
			if wire && canes == 0 && d.load >= need {
				d.reasons |= ReasonWire
			}
			continue
		}
		d.reasons &^= ReasonWire
		below = w.spurNodes() + k*most
		if d.load >= need {
			canes = k
			continue
		}
		if k == 2 && canes == 1 && d.load <= w.s.Wood.OneCaneUpTo {
			d.reasons |= ReasonOneCaneLoad
		} else if k > 1 && canes > 0 {
			d.reasons |= ReasonOneCaneLeast
		}
		break
	}
	if canes == 0 && allow > 0 && d.reasons&ReasonWire == 0 {
		d.reasons |= ReasonTooFewForCane
	}
	return canes
}

// share shares nodes among k canes of at most so many each. Two canes may differ
// by one, the stronger takes it; more are alike.
func (w *work) share(k, nodes, most int) (first, second int) {
	nodes = max(0, min(nodes, k*most))
	switch {
	case k == 1:
		return nodes, 0
	case k == 2 && !w.s.Wood.EqualCanes:
		return (nodes + 1) / 2, nodes / 2
	}
	return nodes / k, nodes / k
}

// spursOnly is a vine without a cane: its renewal spurs where the load reaches
// for them, else the floor.
func (w *work) spursOnly(d *decision, forced bool) {
	d.in = Instruction{Spurs: floorSpurs, NodesPerSpur: floorSpurNodes}
	if n := w.spurNodes(); n > floorNodes && d.load >= n {
		d.in = Instruction{Spurs: uint8(w.sys.spurs()), NodesPerSpur: uint8(w.sys.NodesPerSpur)}
	}
	if forced { // the agronomist wants spurs only: as many as the load asks for
		d.in.Spurs = uint8(max(int(d.in.Spurs), min(mostSpurs, d.load/int(d.in.NodesPerSpur))))
		if d.in.Nodes() < d.load {
			d.reasons |= ReasonRounded
		}
		return
	}
	if d.in.Nodes() < d.load {
		d.bound = BoundNoCane
	}
}

// layCanes shares out the load among k canes, spurs first. Under an override the
// agronomist answers for length.
func (w *work) layCanes(v *subject, d *decision, k int, forced bool) {
	free := d.bound == BoundOverride
	most, wire := w.caneMost(v, k)
	if free {
		most, wire = mostOverride, false
	}
	k = min(k, d.load) // a cane has a node at least
	spurs, perSpur := w.sys.spurs(), w.sys.NodesPerSpur
	left := d.load - spurs*perSpur
	if forced && left < k { // too few nodes for the spurs and these canes
		spurs = max(0, d.load-k) / perSpur
		left = d.load - spurs*perSpur
	}
	if forced && most < 1 {
		most = 1
	}
	first, second := w.share(k, left, most)
	d.in = Instruction{Canes: uint8(k), NodesPerCane: uint8(first), NodesSecond: uint8(second), Spurs: uint8(spurs)}
	if spurs > 0 {
		d.in.NodesPerSpur = uint8(perSpur)
	}
	if left > k*most {
		d.bound = BoundMostNodes
		d.reasons |= ReasonMost
		if wire {
			d.bound = BoundCaneLength
			d.reasons = d.reasons&^ReasonMost | ReasonWire
		}
	} else if d.in.Nodes() < d.load {
		d.reasons |= ReasonRounded
	}
}

// alikeMM: canes that differ by less count as equal; below what a calliper on
// bark can tell (chosen by us).
const alikeMM = 0.05

// chooseArm gives one cane to the stronger arm; equal canes are a free choice.
func (w *work) chooseArm(v *subject, d *decision) {
	if w.sys.Arms == 1 || d.in.Canes == 0 {
		return
	}
	left, right := v.arm[0], v.arm[1]
	switch {
	case d.in.Canes > 1 && (int(d.in.Canes) > w.sys.CanesPerArm || left < 0 && right < 0):
		d.arm = ArmBoth
	case left < 0 && right < 0:
		d.arm = ArmUnknown
	case math.Abs(left-right) < alikeMM:
		d.arm = ArmEither
		d.reasons |= ReasonEitherArm
	case left > right:
		d.arm = ArmLeft
	default:
		d.arm = ArmRight
	}
}

// wideGap is the share of the wire from which an empty piece is flagged; chosen
// by us.
const wideGap = 1.0 / 3

// measureWire tells how much wire the canes leave empty, or that they pass it.
func (w *work) measureWire(v *subject, d *decision) {
	if !(v.occupiedM > 0) || d.in.Canes == 0 {
		return
	}
	k := int(d.in.Canes)
	span := w.s.Wood.SpanM(v.occupiedM, k, w.sys.Wires)
	longest := float64(d.in.NodesPerCane) * w.s.Wood.InternodeM
	used := longest + float64(k-1)*float64(d.in.NodesSecond)*w.s.Wood.InternodeM
	d.gapM = max(0, float64(k)*span-used)
	if longest > span+slack {
		d.flags |= FlagOverSpan
	}
	if d.gapM >= wideGap*float64(k)*span && d.gapM > 0 {
		d.flags |= FlagWireGap
	}
}
