package runs_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/pruning/runs"
)

// load is an instruction of the tests: canes and nodes on each, with two spurs
// of two nodes.
type load struct{ canes, nodes int }

func (l load) String() string { return fmt.Sprintf("%d×%d", l.canes, l.nodes) }

func nodesOf(l load) int { return l.canes*l.nodes + 4 }

type (
	vine    = runs.Vine[load]
	options = runs.Options[load]
)

// division is one way to give instructions to the vines that take part.
type division struct {
	given  []int // index into choices
	runs   int
	misfit int
}

// choice is what a vine may be given.
type choice struct {
	load
	pinned bool
}

// tried lists who takes part and what there is to choose from.
func tried(row []vine, o options) (part []vine, choices []choice) {
	for _, v := range row {
		if v.Part == runs.Free || v.Part == runs.Pinned && o.Through {
			continue
		}
		part = append(part, v)
		if c := (choice{v.Instruction, v.Part == runs.Pinned}); !slices.Contains(choices, c) {
			choices = append(choices, c)
		}
	}
	return part, choices
}

// every calls do for each way to give choices to vines.
func every(vines, choices int, do func([]int)) {
	given := make([]int, vines)
	for {
		do(given)
		k := vines - 1
		for k >= 0 && given[k] == choices-1 {
			given[k] = 0
			k--
		}
		if k < 0 {
			return
		}
		given[k]++
	}
}

func misfitOf(v vine, c choice) (int, bool) {
	switch {
	case v.Part == runs.Pinned:
		return 0, c == choice{v.Instruction, true}
	case c.pinned:
		return 0, false
	}
	d := nodesOf(c.load) - v.Nodes
	return max(d, -d), true
}

// weigh gives a division's runs and misfit; ok is false where it breaks a rule.
func weigh(part []vine, choices []choice, given []int, o options) (d division, ok bool) {
	var sum, allowed float64
	within := func() bool { return o.Goal != runs.MeanUnder || sum <= allowed+1e-9 }
	for v, k := range given {
		m, can := misfitOf(part[v], choices[k])
		if !can {
			return d, false
		}
		least := math.MaxInt
		for _, c := range choices {
			if f, can := misfitOf(part[v], c); can {
				least = min(least, f)
			}
		}
		allowance := max(o.Limit, float64(least))
		if o.Goal == runs.GreatestUnder && float64(m) > allowance+1e-9 {
			return d, false
		}
		if v == 0 || given[v-1] != k {
			if !within() {
				return d, false
			}
			sum, allowed = 0, 0
			d.runs++
		}
		sum, allowed = sum+float64(m), allowed+allowance
		d.misfit += m
	}
	d.given = slices.Clone(given)
	return d, within()
}

// better compares two divisions by what the goal makes small, then by the rule
// for ties.
func better(a, b division, choices []choice, o options) bool {
	cost := func(d division) []int {
		if o.Goal == runs.Balance {
			return []int{1000*d.misfit + int(math.Round(1000*o.Change))*(d.runs-1), d.runs}
		}
		return []int{d.runs, d.misfit}
	}
	if c := slices.Compare(cost(a), cost(b)); c != 0 {
		return c < 0
	}
	last := -1 // instruction of the last run of ordinary vines
	for v := range a.given {
		x, y := a.given[v], b.given[v]
		if x == y {
			if !choices[x].pinned {
				last = x
			}
			continue
		}
		if v > 0 && (x == a.given[v-1] || y == a.given[v-1]) {
			return x == a.given[v-1]
		}
		if x == last || y == last {
			return x == last
		}
		return x < y
	}
	return false
}

func anyRow(t *rapid.T, longest int) []vine {
	loads := []load{{1, 6}, {1, 8}, {2, 6}, {1, 12}}
	choices := rapid.SliceOfN(rapid.SampledFrom(loads), 1, 3).Draw(t, "instructions")
	n := rapid.IntRange(0, longest).Draw(t, "vines")
	row := make([]vine, n)
	for i := range row {
		part := rapid.SampledFrom([]runs.Part{runs.Ordinary, runs.Ordinary, runs.Ordinary, runs.Ordinary, runs.Free, runs.Pinned}).Draw(t, "part")
		own := rapid.SampledFrom(choices).Draw(t, "own")
		row[i] = vine{Number: i + 1, Part: part, Instruction: own, Nodes: nodesOf(own) + rapid.IntRange(-3, 3).Draw(t, "off")}
		if part == runs.Pinned {
			row[i].Instruction = rapid.SampledFrom([]load{own, {0, 0}}).Draw(t, "pinned")
		}
	}
	return row
}

func anyOptions(t *rapid.T) options {
	return options{
		Nodes:   nodesOf,
		Goal:    rapid.SampledFrom([]runs.Goal{runs.Balance, runs.MeanUnder, runs.GreatestUnder}).Draw(t, "goal"),
		Change:  rapid.SampledFrom([]float64{0, 0.4, 1, 2, 2.5, 4, 7, 1000}).Draw(t, "change"),
		Limit:   rapid.SampledFrom([]float64{0, 0.3, 0.5, 1, 1.5, 2, 4, 20}).Draw(t, "limit"),
		Through: rapid.Bool().Draw(t, "through"),
	}
}

// Every division of short rows is tried; the one found must be the best by the
// stated rule, ties included.
func TestSplit_AgainstAllDivisions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		row, o := anyRow(t, 8), anyOptions(t)
		got, err := runs.Row(row, o)
		require.NoError(t, err)

		part, choices := tried(row, o)
		var best *division
		every(len(part), max(1, len(choices)), func(given []int) {
			if len(part) == 0 {
				return
			}
			if d, ok := weigh(part, choices, given, o); ok && (best == nil || better(d, *best, choices, o)) {
				best = &d
			}
		})
		if len(part) == 0 {
			require.Zero(t, got.Misfit)
			return
		}
		require.NotNil(t, best)
		require.Equal(t, best.misfit, got.Misfit)
		require.Equal(t, instructions(row, part, choices, best.given), spread(row, got))
	})
}

// instructions gives each vine of the row what a division gives it.
func instructions(row, part []vine, choices []choice, given []int) []load {
	out := make([]load, len(row))
	v := 0
	for i := range row {
		switch {
		case v < len(part) && part[v].Number == row[i].Number:
			out[i] = choices[given[v]].load
			v++
		case row[i].Part == runs.Pinned:
			out[i] = row[i].Instruction
		}
	}
	return out
}

// spread gives each vine of the row the instruction of its run.
func spread(row []vine, s runs.Split[load]) []load {
	out := make([]load, len(row))
	for _, pinned := range []bool{false, true} {
		for _, r := range s.Runs {
			for i := r.From; i <= r.To; i++ {
				if r.Pinned == pinned && row[i].Part != runs.Free && (row[i].Part == runs.Pinned) == pinned {
					out[i] = r.Instruction
				}
			}
		}
	}
	return out
}
