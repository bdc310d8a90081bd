package pruning

import (
	"fmt"
	"math"

	"courson/geo/stand"
)

// Basis says where a weight is from; the numbers are those of the stand's
// findings.
type Basis uint8

// The bases.
const (
	BasisNone       Basis = iota
	BasisMeasured         // weighed
	BasisCalibrated       // from another measure of the vine
	BasisEstimated        // from the vines around
)

// Block is what is known of a block's vines before they are pruned. Columns have
// the ground's length or are nil, which means that nothing is known. In columns
// of floats NaN and values below 0 are unknown; of metres, grams of a cane and
// millimetres 0 is unknown too. In columns of integers -1 is unknown. They must
// not change while a Result is in use.
type Block struct {
	// Stand gives condition, leaf and ground of the season that is being prepared.
	Stand *stand.Stand
	// AreaHa is the area in hectares; 0: positions × row spacing × vine spacing.
	AreaHa float64
	// Drought tells that last year was a drought year for this block.
	Drought bool

	WeightG     []float32 // one-year-old prunings of the vine, g
	WeightSE    []float32 // its standard error, g
	WeightBasis []Basis   // nil: measured
	OccupiedM   []float32 // metres of row occupied; unknown: the ground's, else the planting distance
	CaneG       []float32 // mean weight of a cane, g

	// CaneMM is the diameter of the strongest cane, of a young vine at the wire,
	// mm. ArmMM is the same on each arm, seen from the numbering end: 0 left, 1
	// right; where one is known the other counts as none.
	CaneMM []float32
	ArmMM  [2][]float32

	// Shoots is the effective number of shoots, or the count of ideal shoots with
	// small and large ones weighted, as the load rule wants. Where it is not
	// known, ShootsByClass is taken: for each of the rule's scores a column of
	// counts; Ideal, Small and Large likewise.
	Shoots              []float32
	ShootsByClass       [][]int16
	Ideal, Small, Large []int16

	NodesLeft []int16 // count nodes left last winter
	CanesLeft []int16 // canes left last winter
	// WeakShoots tells whether last year's shoots were weak (did not reach the top
	// wire): 1 yes, 0 no. HeadDead: a dead zone on one side of the head.
	WeakShoots []int8
	HeadDead   []int8

	// Treated restricts the wish after a drought year to some vines, so that the
	// year after they can be compared with the rest. nil: all.
	Treated []bool
	// Overrides are the agronomist's, in any order, at most one per vine.
	Overrides []Override
}

// Override is an agronomist's decision for one vine. It goes before every limit
// but the caps.
type Override struct {
	Vine   int    `json:"vine"`  // index in the stand
	Nodes  int    `json:"nodes"` // 2 and up; 2 and 3: cut back to them; -1: as computed
	Canes  int    `json:"canes"` // -1: as computed
	Reason string `json:"reason"`
	Author string `json:"author"`
}

// Len is the number of vines.
func (b *Block) Len() int { return b.Stand.Ground.Len() }

// check refuses columns that do not fit; the error wraps ErrBlock.
func (b *Block) check(sys System, r Rule) error {
	if b.Stand == nil || b.Stand.Ground == nil {
		return wrong(ErrBlock, "stand", "none", "a stand with its ground")
	}
	n := b.Len()
	floats := []struct {
		name string
		v    []float32
	}{{"weight_g", b.WeightG}, {"weight_se", b.WeightSE}, {"occupied_m", b.OccupiedM}, {"cane_g", b.CaneG}, {"cane_mm", b.CaneMM},
		{"arm_mm[0]", b.ArmMM[0]}, {"arm_mm[1]", b.ArmMM[1]}, {"shoots", b.Shoots}}
	for _, c := range floats {
		if err := fits(c.name, len(c.v), n); err != nil {
			return err
		}
		for i, v := range c.v {
			if v > mostValue {
				return wrong(ErrBlock, c.name, fmt.Sprintf("%g for vine %s", v, b.Stand.Ground.Address(i)), fmt.Sprintf("at most %g", float64(mostValue)))
			}
		}
	}
	if len(b.ShootsByClass) != 0 && len(b.ShootsByClass) != len(r.Scores) {
		return wrong(ErrBlock, "shoots_by_class", fmt.Sprint(len(b.ShootsByClass), " columns"), fmt.Sprintf("%d, one for each score of the load rule", len(r.Scores)))
	}
	lens := map[string]int{"weight_basis": len(b.WeightBasis), "ideal": len(b.Ideal), "small": len(b.Small), "large": len(b.Large), "nodes_left": len(b.NodesLeft),
		"canes_left": len(b.CanesLeft), "weak_shoots": len(b.WeakShoots), "head_dead": len(b.HeadDead), "treated": len(b.Treated)}
	for k, c := range b.ShootsByClass {
		lens[fmt.Sprintf("shoots_by_class[%d]", k)] = len(c)
	}
	for name, length := range lens {
		if err := fits(name, length, n); err != nil {
			return err
		}
	}
	if !(b.AreaHa >= 0) || math.IsInf(b.AreaHa, 0) {
		return wrong(ErrBlock, "area_ha", b.AreaHa, "0 (not known) or more")
	}
	return b.checkOverrides(sys)
}

// mostValue is far above any weight in g, diameter or count of a vine; chosen by us.
const mostValue = 1e6

// mostOverride bounds what one vine can be told to carry, within what the record
// of wood left can hold; chosen by us.
const mostOverride = 200

func fits(name string, length, n int) error {
	if length != 0 && length != n {
		return wrong(ErrBlock, name, fmt.Sprint(length, " entries"), fmt.Sprintf("%d, one for each vine, or none", n))
	}
	return nil
}

func (b *Block) checkOverrides(sys System) error {
	seen := make(map[int]bool, len(b.Overrides))
	for k, o := range b.Overrides {
		field := fmt.Sprintf("overrides[%d]", k)
		switch {
		case o.Vine < 0 || o.Vine >= b.Len():
			return wrong(ErrBlock, field+".vine", o.Vine, fmt.Sprintf("0 to %d", b.Len()-1))
		case seen[o.Vine]:
			return wrong(ErrBlock, field+".vine", fmt.Sprintf("%s twice", b.Stand.Ground.Address(o.Vine)), "one override for a vine")
		case o.Nodes != -1 && (o.Nodes < 2 || o.Nodes > mostOverride):
			return wrong(ErrBlock, field+".nodes", o.Nodes, fmt.Sprintf("2 to %d, or -1 for as computed", mostOverride))
		case o.Canes < -1 || o.Canes > sys.CanesAtMost():
			return wrong(ErrBlock, field+".canes", o.Canes, fmt.Sprintf("0 to %d in the system %s, or -1 for as computed", sys.CanesAtMost(), sys.Name))
		case o.Nodes == -1 && o.Canes == -1:
			return wrong(ErrBlock, field, "neither nodes nor canes", "one of them")
		case o.Reason == "" || o.Author == "":
			return wrong(ErrBlock, field, fmt.Sprintf("reason %q, author %q", o.Reason, o.Author), "both")
		}
		seen[o.Vine] = true
	}
	return nil
}

// at gives a value of a column, -1 where it is not known.
func at(column []float32, i int) float64 {
	if i < len(column) && column[i] >= 0 {
		return float64(column[i])
	}
	return -1
}

// above gives a value of a column that must lie above 0 to be known, else -1.
func above(column []float32, i int) float64 {
	if v := at(column, i); v > 0 {
		return v
	}
	return -1
}

func whole[T int8 | int16](column []T, i int) int {
	if i < len(column) && column[i] >= 0 {
		return int(column[i])
	}
	return -1
}

// occupied is the metres of row of vine i; -1 not known.
func (b *Block) occupied(i int) float64 {
	if v := above(b.OccupiedM, i); v > 0 {
		return v
	}
	g := b.Stand.Ground
	if v := above(g.Occupied, i); v > 0 {
		return v
	}
	if g.VineSpacingM > 0 {
		return g.VineSpacingM
	}
	return -1
}

// shoots is the count of last year's shoots that a rule wants; -1 not known.
func (b *Block) shoots(r *Rule, i int) float64 {
	if v := at(b.Shoots, i); v >= 0 {
		return v
	}
	sum, known := 0.0, false
	switch r.Kind {
	case EffectiveShoots:
		for k, c := range b.ShootsByClass {
			if n := whole(c, i); n >= 0 {
				sum, known = sum+r.Scores[k].Score*float64(n), true
			}
		}
	case IdealShoots:
		ideal, small, large := whole(b.Ideal, i), whole(b.Small, i), whole(b.Large, i)
		sum, known = r.Ideal(float64(max(0, ideal)), float64(max(0, small)), float64(max(0, large))), max(ideal, small, large) >= 0
	}
	if !known {
		return -1
	}
	return sum
}

// area is the block's area in ha, 0 not known.
func (b *Block) area() float64 {
	g := b.Stand.Ground
	if b.AreaHa > 0 || !(g.RowSpacingM > 0) || !(g.VineSpacingM > 0) {
		return b.AreaHa
	}
	return float64(g.Len()) * g.RowSpacingM * g.VineSpacingM / 10_000
}
