package pruning

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// An invented row of all kinds of vines, added up by hand.
func TestSum(t *testing.T) {
	s := plotStand(t, 1, 6, 1.8, 2010)
	s.Leaf = []uint8{1, 2, 9, 9, 9, 4}
	s.Condition[4] = vine.Dead
	b := &Block{Stand: s, AreaHa: 0.002, WeightG: []float32{-1, -1, 840, 840, 500, 900}, CaneMM: []float32{-1, 9, 9, 16, 9, 9}}
	st := with(DoubleGuyot(), func(s *Standards) { s.Limits.CapPerVine, s.Limits.CapPerHa = 24, 80_000 })
	r, err := Plan(b, st)
	require.NoError(t, err)
	sum := r.Sum()
	require.Equal(t, 6, sum.Positions)
	require.Equal(t, 5, sum.Living)
	require.Equal(t, 2+4+24+24+12, sum.NodesInAll)
	require.Equal(t, 2, sum.Nodes[24])
	require.Equal(t, 1, sum.Nodes[2])
	require.Equal(t, []int{2, 1, 2}, sum.Canes)
	require.Equal(t, "2 canes of 10, 2 spurs of 2", sum.Instructions[0].Text)
	require.Equal(t, map[Bound]int{BoundNone: 1, BoundCutBack: 1, BoundTrunk: 1, BoundGrowth: 2, BoundLeaf: 1}, sum.ByBound)
	require.Equal(t, 1, sum.ByFlag["bull cane"])
	require.InDelta(t, 33_000, sum.NodesPerHa, 1e-6)
	require.InDelta(t, (3*3+2*3)/60.0, sum.Hours, 1e-9)
	// 24 + 24 nodes in full crop, and half of the full 24 in the fourth leaf.
	require.InDelta(t, 60*0.90*1.7*0.110, sum.ExpectedKg, 1e-6)
	require.True(t, sum.WithinCaps)
	data, err := json.Marshal(sum)
	require.NoError(t, err)
	require.Contains(t, string(data), `"by_bound":{"cut back":1,"growth":2,"leaf":1,"none":1,"trunk":1}`)
}

// Vines that are cut back take the minutes of young ones, whatever their age, and
// a vine in its third leaf bears its share of a mature vine's crop.
func TestSum_Young(t *testing.T) {
	st := with(DoubleGuyot(), func(s *Standards) { s.Work.YoungMinutes = 6 })
	cut := one{leaf: 12, override: &Override{Nodes: 2, Canes: -1, Reason: "reset", Author: "A. Roche"}}.plan(t, st).Sum()
	require.InDelta(t, 0.1, cut.Hours, 1e-9)
	require.Zero(t, cut.ExpectedKg)
	spurs := one{leaf: 12, weightG: 40}.plan(t, st).Sum()
	require.InDelta(t, 2.0/60, spurs.Hours, 1e-9)
	third := one{spacingM: 1.8, leaf: 3, mm: 9, weightG: 900}.plan(t, st)
	require.EqualValues(t, 9, third.Nodes[0])
	require.InDelta(t, 27.0/6*0.90*1.7*0.110, third.Sum().ExpectedKg, 1e-6)
}

// Each kind of wood asks for its own follow-up.
func TestFollowUps(t *testing.T) {
	kinds := func(v one, s Standards) (out []FollowKind) {
		for _, f := range v.plan(t, s).FollowUps(0) {
			require.NotEmpty(t, f.Text)
			require.NotEmpty(t, f.When)
			out = append(out, f.Kind)
		}
		return out
	}
	single := with(SingleGuyot())
	require.Equal(t, []FollowKind{FollowKeepTwo, FollowNoClusters}, kinds(one{leaf: 1}, single))
	require.Equal(t, []FollowKind{FollowRubTrunk, FollowNoClusters}, kinds(one{leaf: 2, mm: 9}, single))
	require.Equal(t, []FollowKind{FollowThin}, kinds(one{leaf: 4, mm: 9, weightG: 400}, single))
	require.Equal(t, []FollowKind{FollowLookOpen, FollowNoClusters}, kinds(one{leaf: 9, mm: 9, weightG: 200, caneG: 8}, single))
	require.Equal(t, []FollowKind{FollowOverSpan}, kinds(one{leaf: 9, mm: 9, weightG: 200, override: &Override{Nodes: 20, Canes: -1, Reason: "fill", Author: "A. Roche"}}, single))
	require.Equal(t, []FollowKind{FollowLookOpen}, kinds(one{leaf: 9, mm: 9, weightG: 350, condition: vine.Doubtful}, single))
	require.Empty(t, kinds(one{leaf: 9, mm: 9, weightG: 350}, single))
	require.Empty(t, kinds(one{leaf: 9, condition: vine.Missing}, single))
}

// A cut says its stub, its least diameter and its place.
func TestExplain_Cut(t *testing.T) {
	r := one{spacingM: 1.8, leaf: 9, weightG: 420, left: 16, right: 9}.plan(t, with(TwoArmedGuyot()))
	text := words(r.Explain(0))
	require.Contains(t, text, "Cut each cane 20 mm beyond its last counted node, and sooner where it grows thinner than 8 mm.")
	require.Contains(t, text, "The left arm bears the stronger cane (16.0 and 9.0 mm).")
	require.Contains(t, text, "over 15 mm thick: choose a thinner one")
	require.Contains(t, text, "Leave 20 mm of spare wood, or 1 times the width of the wound")
	require.Contains(t, text, "1.70 m of wire, room for 28 nodes; 1.22 m stay empty.")
	_, err := json.Marshal(r.Explain(0))
	require.NoError(t, err)
}

// Every code has a word of its own.
func TestCodes(t *testing.T) {
	seen := map[string]bool{}
	for b := range Bound(boundCount) {
		require.False(t, seen[b.String()] || b.String() == "", "%d", b)
		seen[b.String()] = true
		text, err := b.MarshalText()
		require.NoError(t, err)
		var back Bound
		require.NoError(t, back.UnmarshalText(text))
		require.Equal(t, b, back)
	}
	require.Equal(t, "unknown", Bound(200).String())
	require.ErrorIs(t, new(Bound).UnmarshalText([]byte("luck")), ErrInput)
	require.Len(t, Reasons(1<<reasonCount-1).Words(), reasonCount)
	require.Len(t, Flags(1<<flagCount-1).Words(), flagCount)
	require.NotContains(t, Reasons(1<<reasonCount-1).Words(), "")
	require.Equal(t, "either", ArmEither.String())
	require.Equal(t, "unknown", Arm(9).String())
}

func TestInstruction_String(t *testing.T) {
	for want, in := range map[string]Instruction{
		"nothing to prune":                                 {},
		"1 cane of 8, 1 spur of 2":                         {Canes: 1, NodesPerCane: 8, Spurs: 1, NodesPerSpur: 2},
		"2 canes of 7 and 6, 2 spurs of 2":                 {Canes: 2, NodesPerCane: 7, NodesSecond: 6, Spurs: 2, NodesPerSpur: 2},
		"4 canes of 10, 2 spurs of 2":                      {Canes: 4, NodesPerCane: 10, NodesSecond: 10, Spurs: 2, NodesPerSpur: 2},
		"1 cane of 9, 2 canes of 8":                        {Canes: 3, NodesPerCane: 9, NodesSecond: 8},
		"cut back to 2 buds":                               {CutBack: 2},
		"1 straight cane to the wire, keep the top 4 buds": {Trunk: 4},
	} {
		require.Equal(t, want, in.String())
	}
	require.Equal(t, 25, Instruction{Canes: 3, NodesPerCane: 9, NodesSecond: 8}.Nodes())
}

// What can hurt is said with the plan.
func TestCautions(t *testing.T) {
	all := strings.Join(Cautions(), " ")
	for _, word := range []string{"cutting", "cold", "slope", "local work-safety rules", "planning figures", "the text in force", "frozen wood"} {
		require.Contains(t, all, word)
	}
}
