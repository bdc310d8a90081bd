package pruning

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// plotStand is an invented block of rows of vines, so many metres apart; planted
// 0 is of unknown age.
func plotStand(t testing.TB, rows, vines int, spacingM float64, planted int) *stand.Stand {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: spacingM})
	for row := range rows {
		b.Row(vine.ID(1_000_000+row), fmt.Sprint(row+1), 0)
		for n := range vines {
			b.Vine(stand.Position{ID: vine.ID(1 + row*vines + n), Number: n + 1, ChainageM: spacingM * float64(n), X: float64(2 * row), Y: spacingM * float64(n), Lon: 0.6, Lat: 44.8, Planted: planted})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	return stand.NewStand(g, 2027, 1)
}

// one is what is known of a single vine; zero fields are not known.
type one struct {
	spacingM              float64 // 1 where 0
	leaf                  int     // 0: unknown
	condition             vine.Condition
	weightG, caneG, mm    float64
	left, right           float64
	nodesLeft, canesLeft  int
	weakShoots, sidedHead bool
	drought               bool
	override              *Override
}

func (o one) block(t testing.TB) *Block {
	if o.spacingM == 0 {
		o.spacingM = 1
	}
	planted := 0
	if o.leaf > 0 {
		planted = 2027 - o.leaf + 1
	}
	s := plotStand(t, 1, 1, o.spacingM, planted)
	s.Condition[0] = o.condition
	known := func(v float64) []float32 {
		if v == 0 {
			return []float32{-1}
		}
		return []float32{float32(v)}
	}
	b := &Block{Stand: s, Drought: o.drought, WeightG: known(o.weightG), CaneG: known(o.caneG), CaneMM: known(o.mm), ArmMM: [2][]float32{known(o.left), known(o.right)},
		NodesLeft: []int16{-1}, CanesLeft: []int16{-1}, WeakShoots: []int8{-1}, HeadDead: []int8{-1}}
	if o.nodesLeft > 0 {
		b.NodesLeft[0], b.CanesLeft[0] = int16(o.nodesLeft), int16(o.canesLeft)
	}
	if o.weakShoots {
		b.WeakShoots[0] = 1
	}
	if o.sidedHead {
		b.HeadDead[0] = 1
	}
	if o.override != nil {
		b.Overrides = []Override{*o.override}
	}
	return b
}

func (o one) plan(t testing.TB, s Standards) *Result {
	r, err := Plan(o.block(t), s)
	require.NoError(t, err)
	return r
}

// with gives the default standards with a system, changed further.
func with(sys System, change ...func(*Standards)) Standards {
	s := DefaultStandards()
	s.System = sys
	for _, c := range change {
		c(&s)
	}
	return s
}
