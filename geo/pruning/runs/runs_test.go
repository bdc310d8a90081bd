package runs_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/pruning/runs"
)

var (
	one   = load{1, 8}  // 12 nodes
	two   = load{2, 8}  // 20 nodes
	short = load{1, 6}  // 10 nodes
	back  = load{0, -1} // cut back: pinned in these tests
)

// row makes a row from letters: 1 one cane, 2 two canes, s a short one, . a gap,
// b cut back. Each vine wants what its own instruction leaves.
func row(text string) (out []vine) {
	for i, c := range text {
		v := vine{Number: i + 1}
		switch c {
		case '1':
			v.Instruction = one
		case '2':
			v.Instruction = two
		case 's':
			v.Instruction = short
		case '.':
			v.Part = runs.Free
		case 'b':
			v.Part, v.Instruction = runs.Pinned, back
		}
		if v.Part == runs.Ordinary {
			v.Nodes = nodesOf(v.Instruction)
		}
		out = append(out, v)
	}
	return out
}

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		name, row string
		o         options
		want      string // instruction of each vine, - for none
		runs      int
	}{
		{"one vine that differs does not pay for two more runs", "22222s2222", options{Change: 6}, "2222222222", 1},
		{"unless marks are cheap", "22222s2222", options{Change: 4}, "22222s2222", 3},
		{"on a tie the instruction goes on", "22222s2222", options{Change: 5}, "2222222222", 1},
		{"three do", "222sss2222", options{Change: 6}, "222sss2222", 3},
		{"gaps break nothing", "22.2..22", options{Change: 1}, "22-2--22", 1},
		{"a pinned vine stands alone", "2222b2222", options{Change: 3}, "2222b2222", 3},
		{"pinned neighbours share a run", "22bb22", options{Change: 3}, "22bb22", 3},
		{"a run goes on past a pinned vine where asked", "2222b2222", options{Change: 3, Through: true}, "2222b2222", 2},
		{"nobody else is cut back for a pinned vine's sake", "bsb", options{Change: 1000}, "bsb", 3},
		{"greatest misfit: 12 stands for 10", "1s1s1s", options{Goal: runs.GreatestUnder, Limit: 2}, "111111", 1},
		{"greatest misfit: 12 does not stand for 20", "1s2s1s", options{Goal: runs.GreatestUnder, Limit: 2}, "112sss", 3},
		{"mean misfit: one in five may be off by 8", "11112", options{Goal: runs.MeanUnder, Limit: 1.6}, "11111", 1},
		{"mean misfit: of a run, not of the row", "ssssssss1112", options{Goal: runs.MeanUnder, Limit: 0.5}, "ssssssss1112", 3},
		{"nothing to do", "....", options{}, "----", 0},
		{"no vine", "", options{}, "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.o.Nodes = nodesOf
			vines := row(c.row)
			got, err := runs.Row(vines, c.o)
			require.NoError(t, err)
			require.Len(t, got.Runs, c.runs)
			require.Equal(t, c.want, letters(vines, got))
			require.False(t, got.Over)
		})
	}
}

func letters(vines []vine, s runs.Split[load]) string {
	text := make([]byte, len(vines))
	for i, l := range spread(vines, s) {
		text[i] = map[load]byte{one: '1', two: '2', short: 's', back: 'b'}[l]
		if vines[i].Part == runs.Free {
			text[i] = '-'
		}
	}
	return string(text)
}

func TestSplit_OverTheLimit(t *testing.T) {
	vines := row("22")
	vines[1].Nodes = 5 // fits no instruction of the row
	got, err := runs.Row(vines, options{Nodes: nodesOf, Goal: runs.GreatestUnder, Limit: 2})
	require.NoError(t, err)
	require.True(t, got.Over)
	require.Equal(t, 15, got.Greatest)
	require.Len(t, got.Runs, 1)
}

// One cane of 12 leaves as many nodes as two of 6: only a misfit of the caller's
// own tells them apart.
func TestSplit_MisfitOfTheCaller(t *testing.T) {
	a, b := load{1, 12}, load{2, 6}
	vines := []vine{{Number: 1, Instruction: a, Nodes: 16}, {Number: 2, Instruction: b, Nodes: 16}}
	o := options{Nodes: nodesOf, Change: 2}
	got, err := runs.Row(vines, o)
	require.NoError(t, err)
	require.Len(t, got.Runs, 1)
	o.Misfit = func(run load, v vine) int {
		return 3 * max(run.canes-v.Instruction.canes, v.Instruction.canes-run.canes)
	}
	got, err = runs.Row(vines, o)
	require.NoError(t, err)
	require.Len(t, got.Runs, 2)
}

func TestSplit_Refuses(t *testing.T) {
	for name, o := range map[string]options{
		"nothing to fit by":   {},
		"a negative price":    {Nodes: nodesOf, Change: -1},
		"a price that is NaN": {Nodes: nodesOf, Change: math.NaN()},
		"a negative limit":    {Nodes: nodesOf, Limit: -1},
		"an unknown goal":     {Nodes: nodesOf, Goal: 9},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := runs.New(o)
			require.ErrorIs(t, err, runs.ErrOption)
		})
	}
	_, err := runs.Row([]vine{{Nodes: -1}}, options{Nodes: nodesOf})
	require.ErrorIs(t, err, runs.ErrVine)
	_, err = runs.Row([]vine{{Part: 7}}, options{Nodes: nodesOf})
	require.ErrorIs(t, err, runs.ErrVine)
	_, err = runs.Row([]vine{{}}, options{Misfit: func(load, vine) int { return -1 }})
	require.ErrorIs(t, err, runs.ErrVine)
	_, err = runs.Row(make([]vine, 10_001), options{Nodes: nodesOf})
	require.ErrorIs(t, err, runs.ErrVine)
}

// Whatever the row: every vine that is not free has one run, sums agree, and gaps
// change nothing but the indices.
func TestSplit_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vines, o := anyRow(t, 60), anyOptions(t)
		got, err := runs.Row(vines, o)
		require.NoError(t, err)
		covered := make([]int, len(vines))
		n, misfit := 0, 0
		for _, r := range got.Runs {
			n, misfit = n+r.Vines, misfit+r.Misfit
			require.NotEqual(t, runs.Free, vines[r.From].Part)
			require.NotEqual(t, runs.Free, vines[r.To].Part)
			for i := r.From; i <= r.To; i++ {
				if vines[i].Part == runs.Free || (vines[i].Part == runs.Pinned) != r.Pinned {
					require.True(t, vines[i].Part == runs.Free || o.Through, "a run goes through a vine that is not its own")
					continue
				}
				covered[i]++
			}
		}
		for i, v := range vines {
			want := 1
			if v.Part == runs.Free {
				want = 0
			}
			require.Equal(t, want, covered[i], "vine %d", i)
		}
		require.Equal(t, got.Vines, n)
		require.Equal(t, got.Misfit, misfit)

		var dense []vine
		for _, v := range vines {
			if v.Part != runs.Free {
				dense = append(dense, v)
			}
		}
		again, err := runs.Row(dense, o)
		require.NoError(t, err)
		require.Len(t, again.Runs, len(got.Runs))
		for k, r := range again.Runs {
			require.Equal(t, vines[got.Runs[k].From].Number, dense[r.From].Number)
			require.Equal(t, vines[got.Runs[k].To].Number, dense[r.To].Number)
		}
	})
}

// Dearer marks never give more runs, nor a wider limit.
func TestSplit_DearerMarksFewerRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vines := anyRow(t, 40)
		for _, goal := range []runs.Goal{runs.Balance, runs.MeanUnder, runs.GreatestUnder} {
			before := math.MaxInt
			for _, x := range []float64{0, 0.5, 1, 2, 5, 30} {
				got, err := runs.Row(vines, options{Nodes: nodesOf, Goal: goal, Change: x, Limit: x})
				require.NoError(t, err)
				require.LessOrEqual(t, len(got.Runs), before)
				before = len(got.Runs)
			}
		}
	})
}

// A Splitter carries nothing over from one row to the next.
func TestSplitter_Again(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := anyOptions(t)
		s, err := runs.New(o)
		require.NoError(t, err)
		for range 3 {
			vines := anyRow(t, 30)
			got, err := s.Row(vines)
			require.NoError(t, err)
			want, err := runs.Row(vines, o)
			require.NoError(t, err)
			require.Equal(t, want, got)
		}
	})
}

// The cost is the misfit and a price for every run after the first; marks of
// pinned vines that runs go through cost nothing.
func TestSplit_Cost(t *testing.T) {
	for _, c := range []struct {
		row     string
		through bool
		want    float64
	}{{"2222", false, 0}, {"22221111", false, 2.5}, {"2222s222", false, 5}, {"22b22", false, 5}, {"22b22", true, 0}, {"", false, 0}} {
		o := options{Nodes: nodesOf, Change: 2.5, Through: c.through}
		got, err := runs.Row(row(c.row), o)
		require.NoError(t, err)
		require.InDelta(t, c.want, got.Cost(o), 1e-9, c.row)
	}
	require.InDelta(t, 2.5, runs.Run[load]{Vines: 2, Misfit: 5}.Mean(), 1e-9)
	require.Zero(t, runs.Run[load]{}.Mean())
}
