package pruning

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

func TestPlan_RefusesColumns(t *testing.T) {
	s := plotStand(t, 1, 4, 1, 2010)
	nan := float32(math.NaN())
	for says, b := range map[string]*Block{
		"block":                 nil,
		"stand":                 {},
		"weight_g: found 3":     {Stand: s, WeightG: make([]float32, 3)},
		"weight_g: found +Inf":  {Stand: s, WeightG: []float32{1, nan, -1, float32(math.Inf(1))}},
		"nodes_left":            {Stand: s, NodesLeft: make([]int16, 5)},
		"shoots_by_class":       {Stand: s, ShootsByClass: make([][]int16, 2)},
		"area_ha":               {Stand: s, AreaHa: -1},
		"overrides[0].vine":     {Stand: s, Overrides: []Override{{Vine: 4, Nodes: 8, Canes: -1, Reason: "r", Author: "a"}}},
		"overrides[1].vine":     {Stand: s, Overrides: []Override{{Vine: 1, Nodes: 8, Canes: -1, Reason: "r", Author: "a"}, {Vine: 1, Nodes: 9, Canes: -1, Reason: "r", Author: "a"}}},
		"overrides[0].nodes":    {Stand: s, Overrides: []Override{{Vine: 1, Nodes: 1, Canes: -1, Reason: "r", Author: "a"}}},
		"overrides[0].canes":    {Stand: s, Overrides: []Override{{Vine: 1, Nodes: 8, Canes: 2, Reason: "r", Author: "a"}}},
		"neither nodes":         {Stand: s, Overrides: []Override{{Vine: 1, Nodes: -1, Canes: -1, Reason: "r", Author: "a"}}},
		`reason "", author "a"`: {Stand: s, Overrides: []Override{{Vine: 1, Nodes: 8, Canes: -1, Author: "a"}}},
	} {
		_, err := Plan(b, DefaultStandards())
		require.ErrorIs(t, err, ErrBlock, says)
		require.ErrorContains(t, err, says)
	}
	_, err := Plan(&Block{Stand: s, AreaHa: 0.0001}, with(SingleGuyot(), func(s *Standards) { s.Limits.CapPerHa = 58_000 }))
	require.ErrorIs(t, err, ErrStandards)
	require.ErrorContains(t, err, "1.45 per vine at 40000 vines/ha")
}

// A vine of which nothing is known takes the middle of the block's vines of its
// leaf, else of all; five must be known.
func TestPlan_Median(t *testing.T) {
	s := plotStand(t, 1, 12, 1.8, 2010)
	for i := 6; i < 12; i++ {
		s.Leaf[i] = 4
	}
	b := &Block{Stand: s, WeightG: []float32{-1, 420, 455, 490, 525, 560, -1, 700, -1, -1, -1, -1}}
	r, err := Plan(b, with(DoubleGuyot()))
	require.NoError(t, err)
	require.EqualValues(t, 14, r.Load[0], "the middle of 12, 13, 14, 15 and 16")
	require.Equal(t, BoundNeighbours, r.Bound[0])
	require.NotZero(t, r.Reasons[0]&ReasonMedianOfLeaf)
	require.NotZero(t, r.Flags[0]&FlagNoVigour)
	require.Equal(t, FollowCountShoots, r.FollowUps(0)[0].Kind)
	require.Zero(t, r.Reasons[6]&ReasonMedianOfLeaf, "one of its leaf is too few")
	require.NotZero(t, r.Flags[6]&FlagNoVigour)
	require.Zero(t, r.Flags[1]&FlagNoVigour)
}

// Estimated weights are marked; a weight without a basis does not count.
func TestPlan_Basis(t *testing.T) {
	s := plotStand(t, 1, 4, 1.8, 2010)
	b := &Block{Stand: s, WeightG: []float32{700, 700, 700, 700}, WeightSE: []float32{0, 70, 70, 0}, WeightBasis: []Basis{BasisMeasured, BasisCalibrated, BasisEstimated, BasisNone}}
	r, err := Plan(b, with(DoubleGuyot()))
	require.NoError(t, err)
	require.Equal(t, []bool{false, true, true, false}, []bool{r.Flags[0]&FlagEstimated != 0, r.Flags[1]&FlagEstimated != 0, r.Flags[2]&FlagEstimated != 0, r.Flags[3]&FlagEstimated != 0})
	require.NotZero(t, r.Flags[3]&FlagNoVigour)
	require.Contains(t, words(r.Explain(2)), "700 g of prunings (estimated, not weighed) at 35 g for each shoot: 20.0 nodes. Within its standard error of 70 g that is 18 to 22.")
}

// Shoots counted by class, or as ideal, small and large ones, do for a number.
func TestPlan_CountedShoots(t *testing.T) {
	s := plotStand(t, 1, 2, 2.4, 2010)
	b := &Block{Stand: s, ShootsByClass: [][]int16{{6, -1}, {14, -1}, {3, -1}}}
	r, err := Plan(b, with(DoubleGuyot(), func(s *Standards) { s.Rule = ByEffectiveShoots() }))
	require.NoError(t, err)
	require.EqualValues(t, 28, r.Load[0], "effective shoot number 23 and 5 (Practical Winery & Vineyard, June 2017)")
	require.NotZero(t, r.Flags[1]&FlagNoVigour)
	b = &Block{Stand: s, Ideal: []int16{16, 0}, Small: []int16{4, 0}, Large: []int16{1, 0}}
	r, err = Plan(b, with(DoubleGuyot(), func(s *Standards) { s.Rule = ByIdealShoots() }))
	require.NoError(t, err)
	require.EqualValues(t, 22, r.Load[0], "16 + 2 + 2 ideal shoots and 10 %% more (WineSkills UK)")
	require.Equal(t, BoundFloor, r.Bound[1])
	s.Leaf[0] = 7
	r, err = Plan(b, with(DoubleGuyot(), func(s *Standards) { s.Rule = ByIdealShoots() }))
	require.NoError(t, err)
	require.EqualValues(t, 25, r.Load[0], "under 8 years: 20 and a quarter more")
}

// Only chosen vines get the wish after a drought year; the rest are pruned as
// after any year.
func TestPlan_Trial(t *testing.T) {
	s := plotStand(t, 1, 3, 1.8, 2010)
	s.Condition[2] = vine.Missing
	b := &Block{Stand: s, Drought: true, WeightG: []float32{840, 840, 840}, WeakShoots: []int8{1, 1, 1}, NodesLeft: []int16{15, 15, 15}, Treated: []bool{true, false, true}}
	r, err := Plan(b, with(DoubleGuyot(), func(s *Standards) { s.Drought.Wish = WishEase }))
	require.NoError(t, err)
	require.Equal(t, []Bound{BoundDrought, BoundWeakHold, BoundNone}, r.Bound)
	require.Equal(t, []uint16{12, 15, 0}, r.Load)
	require.Equal(t, []Trial{TrialTreated, TrialUntreated, TrialNone}, r.Trial)
	b.Treated = nil
	r, err = Plan(b, with(DoubleGuyot()))
	require.NoError(t, err)
	require.Equal(t, []uint16{15, 15, 0}, r.Load, "hold, the default, is last year's load")
	require.Equal(t, TrialNone, r.Trial[0])
}

// After a drought year weak vines up to a leaf can drop one class of crop (common
// practice); only if the owner says so.
func TestPlan_LessCrop(t *testing.T) {
	v := one{spacingM: 1.8, leaf: 4, weightG: 700, weakShoots: true, nodesLeft: 10, drought: true}
	require.InDelta(t, 0.5, v.plan(t, with(DoubleGuyot())).Crop[0], 1e-6)
	r := v.plan(t, with(DoubleGuyot(), func(s *Standards) { s.Drought.LessCropThroughLeaf = 4 }))
	require.InDelta(t, 1.0/6, r.Crop[0], 1e-6)
}

// The cap per hectare over living vines lets them carry what the gaps do not.
func TestPlan_CapOverLiving(t *testing.T) {
	s := plotStand(t, 1, 10, 2, 2010)
	for i := range 4 {
		s.Condition[i] = vine.Missing
	}
	b := &Block{Stand: s, AreaHa: 0.002, WeightG: fill(10, 1400)}
	caps := func(over string) Standards {
		return with(DoubleGuyot(), func(s *Standards) { s.Limits.CapPerHa, s.Limits.CapPerHaOver = 60_000, over })
	}
	all, err := Plan(b, caps("all"))
	require.NoError(t, err)
	living, err := Plan(b, caps("living"))
	require.NoError(t, err)
	require.EqualValues(t, 12, all.Nodes[9], "60 000 × 0.002 / 10")
	require.EqualValues(t, 20, living.Nodes[9], "60 000 × 0.002 / 6")
	require.InDelta(t, 60_000, living.Sum().NodesPerHa, 1e-6)
	require.True(t, living.Sum().WithinCaps)
}

func fill(n int, v float32) []float32 {
	column := make([]float32, n)
	for i := range column {
		column[i] = v
	}
	return column
}
