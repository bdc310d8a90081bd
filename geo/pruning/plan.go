package pruning

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/vine"
)

// Trial says on which side of a comparison a vine stands.
type Trial uint8

// The sides.
const (
	TrialNone      Trial = iota // no comparison in this block
	TrialTreated                // the wish after a drought year applies
	TrialUntreated              // pruned as after any other year
)

// Result is what the vines of a block carry. Columns have the ground's length;
// places without a living vine have 0 in all of them.
type Result struct {
	Season int
	// Instructions hold canes, nodes per cane, spurs, nodes per spur or the cut.
	Instructions []Instruction
	Nodes        []uint16  // nodes that the instruction leaves
	Load         []uint16  // nodes that the vine may carry; more than Nodes where Reasons say why
	Crop         []float32 // crop that it may ripen, share of a mature vine's, 0 to 1
	GapM         []float32 // wire that its canes leave empty, m; 0 also where not known
	Bound        []Bound
	Reasons      []Reasons
	Flags        []Flags
	Arm          []Arm // which arm the cane is laid from
	Trial        []Trial

	fruit []float32 // nodes that may bear, at a mature vine's crop per node
	w     *work     // to explain
}

// work is what all vines of a block share.
type work struct {
	b   *Block
	s   Standards
	sys System

	capHa     float64 // cap per vine out of that per hectare; +Inf none
	overrides map[int32]*Override
	medians   []float64 // nodes by growth: of each line of the leaf table, then of the block; -1 too few
}

// subject is what is known of one vine; -1 unknown.
type subject struct {
	condition            vine.Condition
	leaf                 uint8
	weightG, seG         float64
	basis                Basis
	occupiedM            float64
	caneG, caneMM        float64
	arm                  [2]float64
	shoots               float64
	nodesLeft, canesLeft int
	weakShoots, headDead int
	treated              bool
	override             *Override
	weak                 bool // last year's wood was weak, as judged
}

// decision is what one vine gets.
type decision struct {
	in      Instruction
	load    int
	crop    float64
	gapM    float64
	fruit   float64
	bound   Bound
	reasons Reasons
	flags   Flags
	arm     Arm
}

// Plan says what each vine of a block carries. The errors wrap ErrBlock,
// ErrStandards or ErrSystem. The block's columns must not change while the
// result is in use.
func Plan(b *Block, s Standards) (*Result, error) {
	w, err := begin(b, s)
	if err != nil {
		return nil, err
	}
	n := b.Len()
	r := &Result{Season: b.Stand.Season, Instructions: make([]Instruction, n), Nodes: make([]uint16, n), Load: make([]uint16, n), Crop: make([]float32, n),
		GapM: make([]float32, n), Bound: make([]Bound, n), Reasons: make([]Reasons, n), Flags: make([]Flags, n), Arm: make([]Arm, n), Trial: make([]Trial, n),
		fruit: make([]float32, n), w: w}
	var v subject
	var d decision
	for i := range n {
		w.read(i, &v)
		w.decide(&v, &d, nil)
		r.Instructions[i], r.Nodes[i], r.Load[i], r.Crop[i] = d.in, uint16(d.in.Nodes()), uint16(d.load), float32(d.crop)
		r.GapM[i], r.fruit[i] = float32(max(0, d.gapM)), float32(d.fruit)
		r.Bound[i], r.Reasons[i], r.Flags[i], r.Arm[i] = d.bound, d.reasons, d.flags, d.arm
		if len(b.Treated) != 0 && d.bound != BoundNone {
			r.Trial[i] = TrialUntreated
			if b.Treated[i] {
				r.Trial[i] = TrialTreated
			}
		}
	}
	return r, nil
}

func begin(b *Block, s Standards) (*work, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if b == nil {
		return nil, wrong(ErrBlock, "block", "none", "a block")
	}
	if err := b.check(s.System, s.Rule); err != nil {
		return nil, err
	}
	s.Leaves, s.Rule.Scores, s.DeadBuds.Table = slices.Clone(s.Leaves), slices.Clone(s.Rule.Scores), slices.Clone(s.DeadBuds.Table)
	w := &work{b: b, s: s, sys: s.System}
	if len(b.Overrides) > 0 {
		w.overrides = make(map[int32]*Override, len(b.Overrides))
		for k := range b.Overrides {
			w.overrides[int32(b.Overrides[k].Vine)] = &b.Overrides[k]
		}
	}
	if err := w.capPerHa(); err != nil {
		return nil, err
	}
	w.findMedians()
	return w, nil
}

// capPerHa turns the cap per hectare into one per vine.
func (w *work) capPerHa() error {
	w.capHa = math.Inf(1)
	if w.s.Limits.CapPerHa == 0 {
		return nil
	}
	area := w.b.area()
	if !(area > 0) {
		return wrong(ErrBlock, "area_ha", area, "the block's area, or row and vine spacing: the standards have a cap per hectare")
	}
	vines := w.b.Len()
	if w.s.Limits.CapPerHaOver == "living" {
		vines = 0
		for _, c := range w.b.Stand.Condition {
			if c.Living() {
				vines++
			}
		}
	}
	if vines == 0 {
		return nil
	}
	w.capHa = CapPerVine(w.s.Limits.CapPerHa, float64(vines)/area)
	if wholes(w.capHa) < floorNodes {
		return wrong(ErrStandards, "limits.cap_per_ha", fmt.Sprintf("%g, which is %.2f per vine at %.0f vines/ha", w.s.Limits.CapPerHa, w.capHa, float64(vines)/area),
			fmt.Sprintf("a cap that leaves the floor of %d nodes per vine", floorNodes))
	}
	return nil
}

// CapPerVine gives the cap per vine that a cap per hectare comes to.
func CapPerVine(capPerHa, vinesPerHa float64) float64 { return capPerHa / vinesPerHa }

// read gathers what is known of vine i.
func (w *work) read(i int, v *subject) {
	b := w.b
	*v = subject{condition: b.Stand.Condition[i], leaf: b.Stand.Leaf[i], weightG: at(b.WeightG, i), seG: at(b.WeightSE, i), basis: BasisMeasured,
		occupiedM: b.occupied(i), caneG: above(b.CaneG, i), caneMM: above(b.CaneMM, i), arm: [2]float64{above(b.ArmMM[0], i), above(b.ArmMM[1], i)},
		shoots: -1, nodesLeft: whole(b.NodesLeft, i), canesLeft: whole(b.CanesLeft, i), weakShoots: whole(b.WeakShoots, i), headDead: whole(b.HeadDead, i),
		treated: len(b.Treated) == 0 || b.Treated[i]}
	if i < len(b.WeightBasis) {
		v.basis = b.WeightBasis[i]
	}
	if v.basis == BasisNone {
		v.weightG = -1
	}
	if w.s.Rule.Kind == EffectiveShoots || w.s.Rule.Kind == IdealShoots {
		v.shoots = b.shoots(&w.s.Rule, i)
	}
	if v.caneMM < 0 {
		v.caneMM = max(v.arm[0], v.arm[1])
	}
	if w.overrides != nil {
		v.override = w.overrides[int32(i)]
	}
}

// Len is the number of vines.
func (r *Result) Len() int { return len(r.Nodes) }

// Instruction is what is left on vine i.
func (r *Result) Instruction(i int) Instruction { return r.Instructions[i] }

// Line is the instruction with what must be heeded first, in one line.
func (r *Result) Line(i int) string {
	text := r.Instructions[i].String()
	if r.Flags[i]&FlagLookFirst != 0 {
		return "look first: " + text
	}
	return text
}
