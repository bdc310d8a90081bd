package pruning

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// anySystem draws a built-in system or one of an estate's own.
func anySystem(t *rapid.T) System {
	all := Systems()
	if k := rapid.IntRange(0, len(all)+2).Draw(t, "system"); k < len(all) {
		return all[k]
	}
	s := System{Key: "own", Name: "own", Arms: rapid.IntRange(1, 4).Draw(t, "arms"), NodesPerSpur: rapid.IntRange(1, 4).Draw(t, "nodes per spur"),
		CanesPerArm: rapid.IntRange(0, 2).Draw(t, "canes per arm"), SpursPerArm: rapid.IntRange(0, 3).Draw(t, "spurs per arm")}
	if s.CanesPerArm > 0 {
		s.LeastNodesPerCane = rapid.IntRange(1, 8).Draw(t, "least")
		s.MostNodesPerCane = s.LeastNodesPerCane + rapid.IntRange(0, 12).Draw(t, "more")
		s.Wires = rapid.IntRange(0, 3).Draw(t, "wires")
	} else if rapid.Bool().Draw(t, "cordon") || s.spurs()*s.NodesPerSpur < floorNodes {
		s.SpursPerArm, s.SpurSpacingM = 0, rapid.Float64Range(0.05, 0.4).Draw(t, "spacing")
	}
	require.NoError(t, s.Check())
	return s
}

func anyStandards(t *rapid.T) Standards {
	s := DefaultStandards()
	s.System = anySystem(t)
	s.Rule = rapid.SampledFrom([]Rule{PerPound(30, 10), PerPound(20, 20), ConcordMetric(), ByCaneWeight(35), ByEffectiveShoots(), ByIdealShoots(), FixedNodes(17)}).Draw(t, "rule")
	s.Limits.ShootsPerM = rapid.Float64Range(5, 40).Draw(t, "shoots/m")
	s.Limits.CapPerVine = rapid.SampledFrom([]float64{0, 0, 4, 8.5, 12, 30}).Draw(t, "cap")
	s.Limits.CapPerHa = rapid.SampledFrom([]float64{0, 0, 30_000, 58_000}).Draw(t, "cap per ha")
	s.Limits.CapPerHaOver = rapid.SampledFrom([]string{"all", "living"}).Draw(t, "over")
	s.Limits.ChangeShare = rapid.SampledFrom([]float64{0, 0.25, 1}).Draw(t, "change")
	s.Limits.HoldWeak = rapid.Bool().Draw(t, "hold")
	s.Limits.WeakMoreShare = rapid.SampledFrom([]float64{0, 0.1}).Draw(t, "more")
	s.DeadBuds.Rule = rapid.SampledFrom([]DeadRule{DeadNone, DeadExact, DeadTable}).Draw(t, "dead rule")
	s.DeadBuds.Share = rapid.Float64Range(0, 0.9).Draw(t, "dead")
	s.Drought.Wish = rapid.SampledFrom([]Wish{WishHold, WishEase, WishRule}).Draw(t, "wish")
	s.Wood.TwoCanesLeast = rapid.IntRange(1, 10).Draw(t, "two canes")
	s.Wood.OneCaneUpTo = rapid.IntRange(0, 24).Draw(t, "one cane")
	s.Wood.TrunkNodes = rapid.IntRange(1, 20).Draw(t, "trunk")
	s.Wood.EqualCanes = rapid.Bool().Draw(t, "equal")
	require.NoError(t, s.Check())
	return s
}

// anyBlock draws a row of vines of which more or less is known.
func anyBlock(t *rapid.T, outer testing.TB) *Block {
	n := rapid.IntRange(1, 12).Draw(t, "vines")
	s := plotStand(outer, 1, n, rapid.Float64Range(0.4, 2.5).Draw(t, "spacing"), rapid.SampledFrom([]int{0, 2005, 2024, 2023}).Draw(t, "planted"))
	float := func(name string, most float64) []float32 {
		column := make([]float32, n)
		for i := range column {
			column[i] = -1
			if rapid.IntRange(0, 3).Draw(t, name+" known") > 0 {
				column[i] = float32(rapid.Float64Range(0, most).Draw(t, name))
			}
		}
		return column
	}
	b := &Block{Stand: s, Drought: rapid.Bool().Draw(t, "drought"), WeightG: float("weight", 3000), CaneG: float("cane", 60), CaneMM: float("mm", 20), Shoots: float("shoots", 60)}
	if rapid.Bool().Draw(t, "arms told") {
		b.ArmMM = [2][]float32{float("left", 20), float("right", 20)}
	}
	for i := range n {
		s.Condition[i] = vine.Condition(rapid.IntRange(0, 8).Draw(t, "condition"))
		s.Leaf[i] = uint8(max(0, int(s.Leaf[i])-rapid.IntRange(0, 3).Draw(t, "younger")))
		b.NodesLeft = append(b.NodesLeft, int16(rapid.IntRange(-1, 40).Draw(t, "nodes left")))
		b.WeakShoots = append(b.WeakShoots, int8(rapid.IntRange(-1, 1).Draw(t, "weak")))
		b.HeadDead = append(b.HeadDead, int8(rapid.IntRange(-1, 1).Draw(t, "head")))
		b.Treated = append(b.Treated, rapid.Bool().Draw(t, "treated"))
	}
	if rapid.IntRange(0, 3).Draw(t, "override") == 0 {
		b.Overrides = []Override{{Vine: rapid.IntRange(0, n-1).Draw(t, "vine"), Nodes: rapid.IntRange(2, 200).Draw(t, "nodes"), Canes: rapid.IntRange(-1, 1).Draw(t, "canes"), Reason: "trial", Author: "A. Roche"}}
	}
	return b
}

// planAny plans a drawn block; ok is false where the caps leave less than the
// floor, or an override asks for canes that the system does not have.
func planAny(t *rapid.T, b *Block, s Standards) (*Result, bool) {
	if len(b.Overrides) > 0 {
		b.Overrides[0].Canes = min(b.Overrides[0].Canes, s.System.CanesAtMost())
	}
	r, err := Plan(b, s)
	if err != nil {
		require.ErrorIs(t, err, ErrStandards)
		require.ErrorContains(t, err, "cap_per_ha")
		return nil, false
	}
	return r, true
}

// Whatever is known: nothing for a place without a vine; else a bound and
// reasons, the caps kept, the floor kept, canes and spurs that add up to the load
// or a reason why not, and an explanation that ends in the same instruction.
func TestProperty_Plan(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b, s := anyBlock(rt, t), anyStandards(rt)
		r, ok := planAny(rt, b, s)
		if !ok {
			return
		}
		for i := range b.Len() {
			in, steps := r.Instruction(i), r.Explain(i)
			require.NotEmpty(rt, steps)
			for _, step := range steps {
				require.NotEmpty(rt, step.Key)
				require.NotEmpty(rt, step.Source)
				require.NotContains(rt, step.Text, "%!")
			}
			if !b.Stand.Condition[i].Living() {
				require.True(rt, in.Nothing())
				require.Equal(rt, BoundNone, r.Bound[i])
				require.Zero(rt, r.Nodes[i])
				continue
			}
			require.NotEqual(rt, BoundNone, r.Bound[i])
			require.Contains(rt, steps[len(steps)-1].Text, in.String())
			require.Equal(rt, in.Nodes(), int(r.Nodes[i]))
			require.LessOrEqual(rt, int(r.Nodes[i]), int(r.Load[i]), "%s of a load of %d", in, r.Load[i])
			if r.Nodes[i] < r.Load[i] {
				why := ReasonRounded | ReasonWire | ReasonMost | ReasonPositions | ReasonTooFewForCane | ReasonNoThickCane | ReasonVeryWeak
				require.NotZero(rt, r.Reasons[i]&why, "%d of %d: %s; %s", r.Nodes[i], r.Load[i], r.Bound[i], r.Reasons[i])
			}
			own := r.Flags[i]&FlagOverride != 0
			if !own && r.Flags[i]&(FlagCutBack|FlagTrunk) == 0 {
				require.GreaterOrEqual(rt, int(r.Nodes[i]), floorNodes, "%s", in)
			}
			if c := s.Limits.CapPerVine; c > 0 {
				require.LessOrEqual(rt, float64(r.Nodes[i]), c)
			}
			require.LessOrEqual(rt, float64(r.Nodes[i]), r.w.capHa+slack)
			require.True(rt, r.Crop[i] >= 0 && r.Crop[i] <= 1)
			require.LessOrEqual(rt, float64(r.fruit[i]), float64(r.Nodes[i])+slack)
		}
		sum := r.Sum()
		require.True(rt, sum.WithinCaps)
		vines := 0
		for _, n := range sum.ByBound {
			vines += n
		}
		require.Equal(rt, sum.Positions, vines)
	})
}

// More prunings never leave fewer nodes, other things equal.
func TestProperty_MorePruningsNeverFewerNodes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b, s := anyBlock(rt, t), anyStandards(rt)
		b.Overrides = nil
		s.Rule = rapid.SampledFrom([]Rule{PerPound(30, 10), PerPound(60, 10), ConcordMetric(), ByCaneWeight(30), {Kind: PerWeight, A: 12, B: 30, Unit: "kg", FirstWeight: 0.4}}).Draw(rt, "by weight")
		for i := range b.WeightG { // all known, so that no median moves
			b.WeightG[i] = max(0, b.WeightG[i])
		}
		before, ok := planAny(rt, b, s)
		if !ok {
			return
		}
		more := rapid.Float64Range(0, 600).Draw(rt, "more prunings")
		for i := range b.WeightG {
			b.WeightG[i] += float32(more)
		}
		after, ok := planAny(rt, b, s)
		require.True(rt, ok)
		for i := range b.WeightG {
			require.GreaterOrEqual(rt, after.Nodes[i], before.Nodes[i], "%s then %s at %g g more; loads %d, %d", before.Instruction(i), after.Instruction(i), more, before.Load[i], after.Load[i])
			require.GreaterOrEqual(rt, after.Load[i], before.Load[i])
		}
	})
}

// Equal instructions are equal keys, and say the same.
func TestProperty_InstructionIsAKey(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) Instruction {
			return Instruction{Canes: uint8(rapid.IntRange(1, 4).Draw(rt, name)), NodesPerCane: uint8(rapid.IntRange(5, 7).Draw(rt, name)),
				Spurs: uint8(rapid.IntRange(1, 3).Draw(rt, name)), NodesPerSpur: uint8(rapid.IntRange(1, 2).Draw(rt, name))}
		}
		a, b := draw("a"), draw("b")
		a.NodesSecond, b.NodesSecond = a.NodesPerCane, b.NodesPerCane
		if a.Canes == 1 {
			a.NodesSecond = 0
		}
		if b.Canes == 1 {
			b.NodesSecond = 0
		}
		require.Equal(rt, a == b, a.String() == b.String())
		require.Equal(rt, int(a.Canes)*int(a.NodesPerCane)+int(a.Spurs)*int(a.NodesPerSpur), a.Nodes())
	})
}
