package stand

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// line is one vine of a stand, as far as the log and the plan make it.
type line struct {
	condition vine.Condition
	leaf      uint8
	progress  vine.Progress
	flags     Flags
	vigour    uint8
	weight    float32
	score     float32
	yield     float32
	nodes     uint8
	left      uint8
}

func (s *Stand) line(i int) line {
	return line{s.Condition[i], s.Leaf[i], s.Progress[i], s.Flags[i], s.Vigour[i], s.WeightG[i], s.Score[i], s.YieldG[i], s.Nodes[i], s.Left[i]}
}

func TestStand_Set(t *testing.T) {
	pruned := func(n int) *vine.Pruned { return &vine.Pruned{Nodes: &n} }
	measures := func(q vine.Quantity, r vine.Reading) map[vine.Quantity]vine.Reading {
		return map[vine.Quantity]vine.Reading{q: r}
	}
	// nothing is a vine of 13 leaves of which nothing is known.
	nothing := line{leaf: 13, weight: -1, score: -1, yield: -1, nodes: None, left: None}
	with := func(change func(l *line)) line { l := nothing; change(&l); return l }
	for _, c := range []struct {
		name  string
		plan  int
		state vine.State
		want  line
	}{
		{"nothing known", -1, vine.State{}, nothing},
		{"bearing", -1, vine.State{Condition: vine.Bearing, Planted: 2015}, with(func(l *line) { l.condition = vine.Bearing })},
		{"missing: no leaf", -1, vine.State{Condition: vine.Missing, Planted: 2015}, with(func(l *line) { l.condition, l.leaf = vine.Missing, 0 })},
		{"dead: its wood is no vigour", -1, vine.State{Condition: vine.Dead, Planted: 2015, Measures: measures(vine.PruningWeight, read(600))},
			with(func(l *line) { l.condition, l.leaf, l.weight = vine.Dead, 0, 600 })},
		{"replanted, second leaf", -1, vine.State{Condition: vine.Replanted, Planted: 2026}, with(func(l *line) { l.condition, l.leaf = vine.Replanted, 2 })},
		{"replanted, past its third leaf", -1, vine.State{Condition: vine.Replanted, Planted: 2024}, with(func(l *line) { l.condition, l.leaf = vine.Bearing, 4 })},
		{"to be planted next season", -1, vine.State{Condition: vine.Replanted, Planted: 2028}, with(func(l *line) { l.condition, l.leaf = vine.Replanted, 0 })},
		{"weighed: 600 g on 1.2 m", -1, vine.State{Measures: measures(vine.PruningWeight, read(600))}, with(func(l *line) { l.weight, l.vigour = 600, 3 })},
		{"weighed at the limit: 360 g on 1.2 m", -1, vine.State{Measures: measures(vine.PruningWeight, read(360))}, with(func(l *line) { l.weight, l.vigour = 360, 3 })},
		{"scored", -1, vine.State{Measures: measures(vine.VisualScore, read(2))}, with(func(l *line) { l.score, l.vigour = 2, 2 })},
		{"scored on another scale", -1, vine.State{Measures: measures(vine.VisualScore, vine.Reading{Value: 10, Scale: "0-10"})}, with(func(l *line) { l.score, l.vigour = 5, 5 })},
		{"scored on a scale that cannot be read", -1, vine.State{Measures: measures(vine.VisualScore, vine.Reading{Value: 3, Scale: "stars"})}, nothing},
		{"yield is no vigour", -1, vine.State{Measures: measures(vine.Yield, read(2700))}, with(func(l *line) { l.yield = 2700 })},
		{"pruned as planned", 12, vine.State{Pruned: pruned(12), Work: map[string]vine.Progress{vine.Pruning: vine.Done}},
			with(func(l *line) { l.nodes, l.left, l.progress = 12, 12, vine.Done })},
		{"pruned otherwise than planned", 12, vine.State{Pruned: pruned(10)}, with(func(l *line) { l.nodes, l.left, l.flags = 12, 10, FlagDiffers })},
		{"pruned as instructed", 12, vine.State{Pruned: &vine.Pruned{}}, with(func(l *line) { l.nodes = 12 })},
		{"pruned without a plan", -1, vine.State{Pruned: pruned(0)}, with(func(l *line) { l.left = 0 })},
		{"more nodes than a byte holds", 300, vine.State{Pruned: pruned(400)}, with(func(l *line) { l.nodes, l.left = 254, 254 })},
		{"clash", -1, vine.State{Clashes: []vine.Clash{{}}}, with(func(l *line) { l.flags = FlagClash })},
		{"notes", -1, vine.State{Notes: 2}, with(func(l *line) { l.flags = FlagNote })},
		{"look again", -1, vine.State{Condition: vine.Weak, LookAgain: time.Unix(1, 0)}, with(func(l *line) { l.condition, l.flags = vine.Weak, FlagLookAgain })},
		{"doubtful", -1, vine.State{Condition: vine.Doubtful}, with(func(l *line) { l.condition, l.flags = vine.Doubtful, FlagLookAgain })},
		{"other work", -1, vine.State{Work: map[string]vine.Progress{"tying": vine.Done}}, nothing},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, order := range []string{"plan first", "plan last"} {
				s := NewStand(smallPlot.ground(t), 2027, 9)
				if order == "plan first" {
					s.SetPlan(7, c.plan, 3)
				}
				s.Set(7, c.state, 8)
				if order == "plan last" {
					s.SetPlan(7, c.plan, 3)
				}
				require.Equal(t, c.want, s.line(7), order)
				require.Equal(t, int64(8), s.Changed[7])
				require.Equal(t, nothing, s.line(6), "the vine beside it")
			}
		})
	}
}

func TestStand_WeightPerMetre(t *testing.T) {
	s := NewStand(smallPlot.ground(t), 2027, 9)
	_, ok := s.WeightPerMetre(7)
	require.False(t, ok)
	s.Set(7, vine.State{Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: read(600)}}, 1)
	g, ok := s.WeightPerMetre(7)
	require.True(t, ok)
	require.InDelta(t, 500, g, 0.01)
}

// A stand changed step by step is the stand built at once; whoever holds an
// earlier one sees no change.
func TestStand_With(t *testing.T) {
	g := smallPlot.ground(t)
	rapid.Check(t, func(t *rapid.T) {
		first := anyStand(t, g)
		kept := first.Clone()
		var changes []Change
		want := first.Clone()
		want.Revision = 20
		for range rapid.IntRange(0, 4).Draw(t, "changes") {
			c := Change{Vine: rapid.IntRange(0, g.Len()-1).Draw(t, "vine"), State: anyState(t), Changed: int64(rapid.IntRange(10, 20).Draw(t, "at"))}
			changes = append(changes, c)
			want.Set(c.Vine, c.State, c.Changed)
		}
		require.Equal(t, want, first.With(20, changes))
		require.Equal(t, kept, first)
	})
}

func TestStand_WithPlan(t *testing.T) {
	g := smallPlot.ground(t)
	rapid.Check(t, func(t *rapid.T) {
		first := anyStand(t, g)
		kept := first.Clone()
		nodes := map[int]int{}
		var plan []PlanNodes
		for range rapid.IntRange(0, 6).Draw(t, "planned") {
			p := PlanNodes{rapid.IntRange(0, g.Len()-1).Draw(t, "vine"), rapid.IntRange(-1, 300).Draw(t, "nodes")}
			plan = append(plan, p)
			nodes[p.Vine] = p.Nodes
		}
		got := first.WithPlan(20, plan)
		want := first.Clone()
		want.Revision = 20
		for i := range g.Len() {
			n, ok := nodes[i]
			if !ok {
				n = -1
			}
			before := want.line(i)
			want.SetPlan(i, n, 0)
			if want.line(i) != before {
				want.Changed[i] = 20
			}
		}
		require.Equal(t, want, got)
		require.Equal(t, kept, first)
	})
}

// Columns in which nothing differs are shared, not copied.
func TestStand_WithShares(t *testing.T) {
	first := NewStand(smallPlot.ground(t), 2027, 9)
	next := first.With(10, []Change{{7, vine.State{Condition: vine.Weak}, 10}})
	require.NotSame(t, &first.Condition[0], &next.Condition[0])
	require.NotSame(t, &first.Changed[0], &next.Changed[0])
	for _, c := range [][2]any{{&first.Leaf[0], &next.Leaf[0]}, {&first.WeightG[0], &next.WeightG[0]}, {&first.Left[0], &next.Left[0]}, {&first.Flags[0], &next.Flags[0]}} {
		require.Same(t, c[0], c[1])
	}
}

func TestDraw(t *testing.T) {
	s := NewStand(smallPlot.ground(t), 2027, 9)
	for i, c := range []vine.Condition{vine.Bearing, vine.Young, vine.Weak, vine.Diseased, vine.Dead, vine.Missing, vine.Replanted, vine.Doubtful} {
		s.Set(i, vine.State{Condition: c, Planted: 2026, Measures: map[vine.Quantity]vine.Reading{vine.VisualScore: read(float64(1 + i%5))},
			Work: map[string]vine.Progress{vine.Pruning: vine.Progress(i % 5)}}, 1)
	}
	require.Equal(t, "oywdx\n_r!??\n?????\n", Draw(s, "condition"))
	require.Equal(t, "1234_\n_23..\n.....\n", Draw(s, "vigour"))
	require.Equal(t, "./#~_\n_/#..\n.....\n", Draw(s, "progress"))
	require.Empty(t, Draw(s, "other"))
}
