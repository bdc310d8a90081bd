package pruning

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// Decisions that a viticulturist can read: what is known of a vine, and what is
// left on it. Rules: one cane rather than two, young vines, cane split (common
// practice unless named); S = 1.8 m, 35 g per shoot, 15 shoots/m unless said.
func TestDecisions(t *testing.T) {
	double, single, armed, four := DoubleGuyot(), SingleGuyot(), TwoArmedGuyot(), FourCane()
	for _, c := range []struct {
		what    string
		sys     System
		vine    one
		want    string
		bound   Bound
		reasons Reasons // at least these
		flags   Flags   // exactly these
	}{
		// Two canes.
		{"840 g at 35 g: 24 nodes on two canes of 10 (worked example)", double,
			one{leaf: 12, weightG: 840, left: 9, right: 10}, "2 canes of 10, 2 spurs of 2", BoundGrowth, 0, 0},
		{"an odd node goes to the stronger cane", double,
			one{leaf: 12, weightG: 805, left: 9, right: 10}, "2 canes of 10 and 9, 2 spurs of 2", BoundGrowth, 0, 0},
		{"16 nodes just give two canes of 6", double,
			one{leaf: 12, weightG: 560}, "2 canes of 6, 2 spurs of 2", BoundGrowth, ReasonDiameterUnknown, FlagWireGap},
		{"the canopy has room for 27", double,
			one{leaf: 12, weightG: 1500}, "2 canes of 12 and 11, 2 spurs of 2", BoundSpace, ReasonDiameterUnknown, 0},

		{"room for 16.5 is room for 16: a limit is not passed", double,
			one{spacingM: 1.1, leaf: 12, weightG: 1500, left: 9, right: 9}, "2 canes of 6, 2 spurs of 2", BoundSpace, 0, 0},

		// One cane.
		{"12 nodes or fewer: one cane", double,
			one{leaf: 12, weightG: 420}, "1 cane of 8, 2 spurs of 2", BoundGrowth, ReasonOneCaneLoad, FlagWireGap},
		{"13 nodes would make canes of 5 and 4: one cane", double,
			one{leaf: 12, weightG: 455}, "1 cane of 9, 2 spurs of 2", BoundGrowth, ReasonOneCaneLeast, FlagWireGap},
		{"only one arm bears a cane of 8 mm", double,
			one{leaf: 12, weightG: 840, left: 9, right: 7.5}, "1 cane of 14, 2 spurs of 2", BoundMostNodes, ReasonOneCaneThin | ReasonMost, FlagWireGap},
		{"mean cane weight under 20 g", double,
			one{leaf: 12, weightG: 840, caneG: 18}, "1 cane of 14, 2 spurs of 2", BoundMostNodes, ReasonOneCaneWeak | ReasonWeakCanes | ReasonLastUnknown, FlagWireGap},
		{"shoots short of the top wire: held at last year's 14", double,
			one{leaf: 12, weightG: 840, weakShoots: true, nodesLeft: 14, canesLeft: 1}, "1 cane of 10, 2 spurs of 2", BoundWeakHold, ReasonOneCaneWeak | ReasonWeakShoots, FlagWireGap},
		{"dead zone on one side of the head", double,
			one{leaf: 12, weightG: 700, sidedHead: true}, "1 cane of 14, 2 spurs of 2", BoundMostNodes, ReasonOneCaneSided, FlagWireGap},
		{"third leaf: one short cane", double,
			one{leaf: 3, weightG: 700, mm: 9}, "1 cane of 5, 2 spurs of 2", BoundLeaf, ReasonOneCaneYoung, FlagWireGap},
		{"fourth leaf: half of the full 27", double,
			one{leaf: 4, weightG: 900, mm: 9}, "1 cane of 10, 2 spurs of 2", BoundLeaf, ReasonOneCaneLeast, FlagWireGap},
		{"single Guyot, one metre: the system's cane of 10", single,
			one{spacingM: 1.1, leaf: 12, weightG: 560, mm: 9}, "1 cane of 10, 1 spur of 2", BoundMostNodes, ReasonMost, FlagWireGap},
		{"two spurs and one cane", armed,
			one{spacingM: 1.1, leaf: 12, weightG: 420, left: 8, right: 9}, "1 cane of 8, 2 spurs of 2", BoundGrowth, 0, FlagWireGap},
		{"the wire holds 11 nodes, the load is 13", SingleGuyotOf(14),
			one{spacingM: 0.8, leaf: 12, weightG: 490, mm: 9}, "1 cane of 10, 1 spur of 2", BoundSpace, 0, 0},

		// Three and four canes.
		{"36 nodes: three canes of 10, one node less to make them alike", four,
			one{spacingM: 2.4, leaf: 12, weightG: 1225}, "4 canes of 7, 2 spurs of 2", BoundGrowth, ReasonRounded, FlagWireGap},
		{"25 nodes: three canes of 7", four,
			one{spacingM: 2.4, leaf: 12, weightG: 875}, "3 canes of 7, 2 spurs of 2", BoundGrowth, ReasonOneCaneLeast, FlagWireGap},

		// No cane.
		{"no cane of 8 mm: spurs only", double,
			one{leaf: 12, weightG: 560, left: 7, right: 6}, "2 spurs of 2", BoundNoCane, ReasonNoThickCane, FlagRebuild},
		{"canes under 10 g: spurs only, no crop", double,
			one{leaf: 12, weightG: 300, caneG: 8}, "2 spurs of 2", BoundNoCane, ReasonVeryWeak, FlagRebuild},
		{"too few nodes for the shortest cane", double,
			one{leaf: 12, weightG: 210}, "2 spurs of 2", BoundNoCane, ReasonTooFewForCane, 0},
		{"no wire for the shortest cane", single,
			one{spacingM: 0.3, leaf: 12, weightG: 40, mm: 9}, "2 spurs of 2", BoundFloor, ReasonTooFewForCane, 0},
		{"hardly any prunings: the floor", single,
			one{leaf: 12, weightG: 40}, "2 spurs of 2", BoundFloor, ReasonTooFewForCane, 0},

		// Young vines.
		{"first leaf: back to two buds", single, one{leaf: 1}, "cut back to 2 buds", BoundCutBack, ReasonFirstLeaf, FlagCutBack},
		{"second leaf, pencil thick: a trunk", single,
			one{leaf: 2, mm: 8}, "1 straight cane to the wire, keep the top 4 buds", BoundTrunk, ReasonLeafLimits, FlagTrunk},
		{"second leaf, thinner than a pencil", single, one{leaf: 2, mm: 6}, "cut back to 2 buds", BoundCutBack, ReasonThin, FlagCutBack},
		{"second leaf, weak", single, one{leaf: 2, condition: vine.Weak}, "cut back to 2 buds", BoundCutBack, ReasonWeakCondition, FlagCutBack},
		{"second leaf, thickness not known: the pruner looks", single,
			one{leaf: 2}, "1 straight cane to the wire, keep the top 4 buds", BoundTrunk, ReasonDiameterUnknown, FlagTrunk | FlagLookFirst},
		{"third leaf, thinner than a pencil", single, one{leaf: 3, mm: 6.5, weightG: 200}, "cut back to 2 buds", BoundCutBack, ReasonThin, FlagCutBack},
		{"a replant of unknown age: as in its third leaf", single,
			one{condition: vine.Replanted, weightG: 300}, "2 spurs of 2", BoundLeaf, ReasonAgeUnknown | ReasonTooFewForCane, FlagLookFirst},

		// Spurs.
		{"cordon of 1.7 m, 12 positions on two arms", BilateralCordon(),
			one{leaf: 12, weightG: 1200}, "12 spurs of 2", BoundPositions, ReasonPositions, 0},
		{"cordon, 15 nodes make 7 spurs of 2", BilateralCordon(),
			one{leaf: 12, weightG: 525}, "7 spurs of 2", BoundGrowth, ReasonRounded, 0},
		{"cordon of 1.75 m: six whole positions on each arm, not 13 in all", BilateralCordon(),
			one{spacingM: 1.85, leaf: 12, weightG: 1200}, "12 spurs of 2", BoundPositions, ReasonPositions, 0},
		{"goblet of five arms", HeadTrained(), one{leaf: 30, weightG: 900}, "5 spurs of 2", BoundPositions, 0, 0},

		// Conditions and the agronomist.
		{"missing", single, one{condition: vine.Missing}, "nothing to prune", BoundNone, 0, 0},
		{"dead", single, one{condition: vine.Dead, weightG: 500}, "nothing to prune", BoundNone, 0, 0},
		{"doubtful: look first", single, one{leaf: 9, condition: vine.Doubtful, weightG: 280}, "1 cane of 6, 1 spur of 2", BoundGrowth, 0, FlagLookFirst | FlagWireGap},
		{"diseased: last", single, one{leaf: 9, condition: vine.Diseased, weightG: 350}, "1 cane of 8, 1 spur of 2", BoundGrowth, ReasonDiseased, FlagWireGap},
		{"the agronomist wants 14 on one cane", double,
			one{leaf: 12, weightG: 840, override: &Override{Nodes: 14, Canes: 1, Reason: "frost side", Author: "A. Roche"}}, "1 cane of 10, 2 spurs of 2", BoundOverride, ReasonOverrideCanes, FlagOverride | FlagWireGap},
		{"the agronomist wants one cane, of as many nodes as computed", double,
			one{leaf: 12, weightG: 560, override: &Override{Nodes: -1, Canes: 1, Reason: "split head", Author: "A. Roche"}}, "1 cane of 12, 2 spurs of 2", BoundGrowth, ReasonOverrideCanes, FlagOverride | FlagWireGap},
		{"the agronomist wants spurs only", double,
			one{leaf: 12, weightG: 280, override: &Override{Nodes: -1, Canes: 0, Reason: "reset", Author: "A. Roche"}}, "4 spurs of 2", BoundGrowth, ReasonOverrideCanes, FlagOverride},
		{"the agronomist wants a cane on a vine of the second leaf", single,
			one{leaf: 2, mm: 10, weightG: 300, override: &Override{Nodes: 8, Canes: 1, Reason: "very strong", Author: "A. Roche"}}, "1 cane of 6, 1 spur of 2", BoundOverride, ReasonOverrideCanes, FlagOverride | FlagWireGap},
		{"the agronomist wants more than the wire holds", single,
			one{spacingM: 1, leaf: 12, override: &Override{Nodes: 20, Canes: -1, Reason: "fill", Author: "A. Roche"}}, "1 cane of 18, 1 spur of 2", BoundOverride, 0, FlagOverride | FlagOverSpan},
		{"the agronomist cuts back", single,
			one{leaf: 12, override: &Override{Nodes: 2, Canes: -1, Reason: "reset", Author: "A. Roche"}}, "cut back to 2 buds", BoundOverride, 0, FlagOverride | FlagCutBack},

		// Greatest change per year.
		{"from 16 nodes at most a quarter more", double,
			one{leaf: 12, weightG: 840, nodesLeft: 16, canesLeft: 2}, "2 canes of 8, 2 spurs of 2", BoundChangeUp, 0, FlagWireGap},
		{"from 16 nodes one too many is cut to 20", double,
			one{leaf: 12, weightG: 735, nodesLeft: 16, canesLeft: 2}, "2 canes of 8, 2 spurs of 2", BoundChangeUp, 0, FlagWireGap},
		{"from 18 nodes a quarter more is 22.5: 22", double,
			one{leaf: 12, weightG: 840, nodesLeft: 18, canesLeft: 2}, "2 canes of 9, 2 spurs of 2", BoundChangeUp, 0, FlagWireGap},
		{"from 24 nodes at most a quarter less", double,
			one{leaf: 12, weightG: 420, nodesLeft: 24, canesLeft: 2}, "2 canes of 7, 2 spurs of 2", BoundChangeDown, 0, FlagWireGap},

		// Nothing known of growth.
		{"last year's load", double, one{leaf: 12, nodesLeft: 20, canesLeft: 2}, "2 canes of 8, 2 spurs of 2", BoundLastLoad, 0, FlagNoVigour | FlagWireGap},
		{"nothing at all: the middle of the system", single, one{leaf: 12}, "1 cane of 7, 1 spur of 2", BoundSystem, ReasonDiameterUnknown, FlagNoVigour | FlagWireGap},
	} {
		if c.vine.spacingM == 0 {
			c.vine.spacingM = 1.8
		}
		r := c.vine.plan(t, with(c.sys))
		explained := words(r.Explain(0))
		require.Equal(t, c.want, r.Instruction(0).String(), "%s\n%s", c.what, explained)
		require.Equal(t, c.bound.String(), r.Bound[0].String(), "%s\n%s", c.what, explained)
		require.Equal(t, c.reasons, r.Reasons[0]&c.reasons, "%s: has %s, wanted %s", c.what, r.Reasons[0], c.reasons)
		require.Equal(t, c.flags.String(), r.Flags[0].String(), c.what)
	}
}

// SingleGuyotOf is a single Guyot whose cane may carry so many nodes.
func SingleGuyotOf(most int) System {
	s := SingleGuyot()
	s.MostNodesPerCane = most
	return s
}

func words(steps []Step) string {
	var lines []string
	for _, s := range steps {
		lines = append(lines, s.Key+": "+s.Text)
	}
	return strings.Join(lines, "\n")
}

// Where one long cane carries more than two short ones, more load never leaves
// less: two canes that would are passed over.
func TestDecisions_ShortWire(t *testing.T) {
	st := with(DoubleGuyot(), func(s *Standards) { s.Limits.ShootsPerM, s.Wood.OneCaneUpTo = 40, 20 })
	for weight, want := range map[float64]string{700: "1 cane of 13, 2 spurs of 2", 735: "1 cane of 13, 2 spurs of 2", 1000: "1 cane of 13, 2 spurs of 2"} {
		r := one{spacingM: 0.92, leaf: 12, weightG: weight}.plan(t, st)
		require.Equal(t, want, r.Instruction(0).String(), "%g g", weight)
		require.Equal(t, BoundCaneLength, r.Bound[0])
	}
	r := one{spacingM: 0.3, leaf: 12, weightG: 400, mm: 9}.plan(t, st)
	require.Equal(t, "2 spurs of 2", r.Instruction(0).String())
	require.NotZero(t, r.Reasons[0]&ReasonWire, "0.2 m of wire hold no cane of 4 nodes")
}
