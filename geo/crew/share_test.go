package crew_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// rowsOf makes rows of so many minutes; below 0: the same for skilled hands.
func rowsOf(minutes ...float64) (rows []crew.Row) {
	for i, m := range minutes {
		rows = append(rows, crew.Row{Block: 1, ID: vine.ID(i + 1), Label: fmt.Sprint(i + 1), Vines: int(math.Abs(m)), Minutes: math.Abs(m), Skilled: m < 0})
	}
	return rows
}

// gang is a crew that gets through people × 60 minutes a day.
func gang(name string, people int, skilled bool) crew.Crew {
	return crew.Crew{Name: name, People: people, Hours: 1, Efficiency: 1, Skilled: skilled}
}

func TestShareOut(t *testing.T) {
	a, b := gang("a", 1, false), gang("b", 1, false)
	old := gang("old hands", 1, true)
	for _, c := range []struct {
		name  string
		rows  []crew.Row
		crews []crew.Crew
		want  [][]int
		days  float64
	}{
		{"two crews alike halve the rows", rowsOf(60, 60, 60, 60), []crew.Crew{a, b}, [][]int{{0, 1}, {2, 3}}, 2},
		{"a crew of twice the people gets twice the rows", rowsOf(60, 60, 60, 60, 60, 60), []crew.Crew{gang("a", 2, false), b}, [][]int{{0, 1, 2, 3}, {4, 5}}, 2},
		{"rows of more work count for more", rowsOf(180, 60, 60, 60), []crew.Crew{a, b}, [][]int{{0}, {1, 2, 3}}, 3},
		{"rows side by side go before the last minute of fairness", rowsOf(60, 62, 60, 58), []crew.Crew{a, b}, [][]int{{0, 1}, {2, 3}}, 122.0 / 60},
		{"a young stand goes to skilled hands", rowsOf(60, 60, -60, -60), []crew.Crew{old, a}, [][]int{{2, 3}, {0, 1}}, 2},
		{"young rows on both sides: two stretches", rowsOf(-60, 60, 60, 60, 60, -60), []crew.Crew{old, a, b}, [][]int{{0, 5}, {1, 2}, {3, 4}}, 2},
		{"one crew gets everything", rowsOf(60, -60, 60), []crew.Crew{old}, [][]int{{0, 1, 2}}, 3},
		{"the last crew is not left with the rest alone", rowsOf(60, 60, 60, 60, 60, 60, 60, 60, 60, 60), []crew.Crew{a, b, gang("c", 1, false), gang("d", 1, false)},
			[][]int{{0, 1, 2}, {3, 4, 5}, {6, 7}, {8, 9}}, 3},
		{"no rows", nil, []crew.Crew{a, b}, [][]int{nil, nil}, 0},
		{"more crews than rows", rowsOf(60), []crew.Crew{a, b}, [][]int{{0}, nil}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := crew.ShareOut(c.rows, c.crews, crew.ShareOptions{})
			require.NoError(t, err)
			var each [][]int
			for _, e := range got.Each {
				each = append(each, e.Rows)
			}
			require.InDelta(t, c.days, got.Greatest, 1e-9)
			require.Equal(t, c.want, each)
		})
	}
}

// What a crew has already counts.
func TestShareOut_Had(t *testing.T) {
	crews := []crew.Crew{gang("a", 1, false), gang("b", 1, false)}
	got, err := crew.ShareOut(rowsOf(60, 60, 60, 60), crews, crew.ShareOptions{Had: []float64{120, 0}})
	require.NoError(t, err)
	require.Len(t, got.Each[0].Rows, 1)
	require.Len(t, got.Each[1].Rows, 3)
	require.InDelta(t, 3, got.Greatest, 1e-9)
}

func TestShareOut_Refuses(t *testing.T) {
	a := gang("a", 1, false)
	for _, c := range []struct {
		name  string
		rows  []crew.Row
		crews []crew.Crew
		o     crew.ShareOptions
		want  string
	}{
		{"no crew", rowsOf(1), nil, crew.ShareOptions{}, "crews"},
		{"nobody skilled", rowsOf(1, -1), []crew.Crew{a}, crew.ShareOptions{}, "row 2"},
		{"nobody in the crew", rowsOf(1), []crew.Crew{gang("a", 0, false)}, crew.ShareOptions{}, "people"},
		{"no hours", rowsOf(1), []crew.Crew{{Name: "a", People: 1}}, crew.ShareOptions{}, "hours"},
		{"no name", rowsOf(1), []crew.Crew{{People: 1, Hours: 1}}, crew.ShareOptions{}, "name"},
		{"more than the hours", rowsOf(1), []crew.Crew{{Name: "a", People: 1, Hours: 1, Efficiency: 2}}, crew.ShareOptions{}, "efficiency"},
		{"a pace below 0", rowsOf(1), []crew.Crew{{Name: "a", People: 1, Hours: 1, Pace: -1}}, crew.ShareOptions{}, "pace"},
		{"had below 0", rowsOf(1), []crew.Crew{a}, crew.ShareOptions{Had: []float64{-1}}, "had"},
		{"the same name twice", rowsOf(1), []crew.Crew{a, a}, crew.ShareOptions{}, "twice"},
		{"no number", rowsOf(math.NaN()), []crew.Crew{a}, crew.ShareOptions{}, "minutes"},
		{"had of another length", rowsOf(1), []crew.Crew{a}, crew.ShareOptions{Had: []float64{1, 2}}, "had"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := crew.ShareOut(c.rows, c.crews, c.o)
			require.ErrorIs(t, err, crew.ErrShare)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func anyCrews(t *rapid.T, most int) (crews []crew.Crew) {
	n := rapid.IntRange(1, most).Draw(t, "crews")
	for i := range n {
		crews = append(crews, gang(fmt.Sprint("crew ", i), rapid.IntRange(1, 4).Draw(t, "people"), i == 0 || rapid.Bool().Draw(t, "skilled")))
	}
	return crews
}

func anyRows(t *rapid.T, most int) []crew.Row {
	some := rapid.SampledFrom([]int{0, 0, 1, 4}).Draw(t, "share of rows for skilled hands")
	minutes := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) float64 {
		m := float64(rapid.IntRange(1, 300).Draw(t, "minutes"))
		if rapid.IntRange(0, 7).Draw(t, "skilled") < some {
			return -m
		}
		return m
	}), 1, most).Draw(t, "rows")
	return rowsOf(minutes...)
}

// daysOf is the greatest days of a sharing; 0, false where somebody may not.
func daysOf(rows []crew.Row, crews []crew.Crew, to []int) (float64, bool) {
	load := make([]float64, len(crews))
	for r, c := range to {
		if rows[r].Skilled && !crews[c].Skilled {
			return 0, false
		}
		load[c] += rows[r].Minutes
	}
	days := 0.0
	for c := range crews {
		days = max(days, load[c]/crews[c].PerDay())
	}
	return days, true
}

// sideBySide tells whether each crew's rows lie side by side.
func sideBySide(to []int) bool {
	seen := map[int]bool{}
	for r, c := range to {
		if r > 0 && to[r-1] == c {
			continue
		}
		if seen[c] {
			return false
		}
		seen[c] = true
	}
	return true
}

// bestOf tries every sharing.
func bestOf(rows []crew.Row, crews []crew.Crew, only func([]int) bool) float64 {
	best := math.Inf(1)
	to := make([]int, len(rows))
	for {
		if days, ok := daysOf(rows, crews, to); ok && only(to) {
			best = min(best, days)
		}
		k := 0
		for k < len(to) && to[k] == len(crews)-1 {
			to[k] = 0
			k++
		}
		if k == len(to) {
			return best
		}
		to[k]++
	}
}

// Every sharing of a few rows is tried: without slack the one found is as fair as
// any; with the usual slack it is within 5 % of the fairest; and where it is one
// stretch for each crew, no other such sharing is fairer.
func TestShareOut_AgainstAllSharings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		crews := anyCrews(t, 3)
		rows := anyRows(t, 8)
		best := bestOf(rows, crews, func([]int) bool { return true })

		fair, err := crew.ShareOut(rows, crews, crew.ShareOptions{Slack: -1})
		require.NoError(t, err)
		require.InDelta(t, best, fair.Greatest, 1e-6*best)

		neat, err := crew.ShareOut(rows, crews, crew.ShareOptions{})
		require.NoError(t, err)
		require.LessOrEqual(t, neat.Greatest, 1.05*best*(1+1e-6))
		require.LessOrEqual(t, neat.Least, best*(1+1e-9))
		require.LessOrEqual(t, neat.Greatest, neat.Bound*best*(1+1e-6))
		one := true
		for _, e := range neat.Each {
			one = one && e.Stretches <= 1
		}
		if one && neat.Exact {
			require.InDelta(t, bestOf(rows, crews, sideBySide), neat.Greatest, 1e-6*best)
		}
	})
}

// One stretch for each crew, with any slack, is the best such sharing.
func TestShareOut_OneStretch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		crews := anyCrews(t, 4)
		rows := anyRows(t, 7)
		best := bestOf(rows, crews, sideBySide)
		got, err := crew.ShareOut(rows, crews, crew.ShareOptions{Slack: 1e6})
		require.NoError(t, err)
		if math.IsInf(best, 1) {
			return
		}
		require.InDelta(t, best, got.Greatest, 1e-6*best)
		for _, e := range got.Each {
			require.LessOrEqual(t, e.Stretches, 1)
		}
	})
}

// Whatever the rows and crews: each row once, rows for skilled hands with skilled
// crews, sums that add up, the same answer again.
func TestShareOut_EveryRowOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		crews := anyCrews(t, 12)
		rows := anyRows(t, 120)
		o := crew.ShareOptions{Slack: rapid.SampledFrom([]float64{-1, 0, 0.01, 0.5}).Draw(t, "slack")}
		got, err := crew.ShareOut(rows, crews, o)
		require.NoError(t, err)
		seen := make([]int, len(rows))
		for c, e := range got.Each {
			minutes, vines := 0.0, 0
			for _, r := range e.Rows {
				seen[r]++
				minutes, vines = minutes+rows[r].Minutes, vines+rows[r].Vines
				require.True(t, crews[c].Skilled || !rows[r].Skilled)
			}
			require.InDelta(t, minutes, e.Minutes, 1e-6)
			require.Equal(t, vines, e.Vines)
			require.InDelta(t, minutes/crews[c].PerDay(), e.Days, 1e-9)
			require.LessOrEqual(t, e.Days, got.Greatest+1e-9)
		}
		for r := range rows {
			require.Equal(t, 1, seen[r])
		}
		require.GreaterOrEqual(t, got.Greatest, got.Least-1e-9)
		again, err := crew.ShareOut(rows, crews, o)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}

// Many rows, crews alike: never more than 4/3 - 1/(3m) times what cannot be
// beaten (R. L. Graham, Bounds on multiprocessing timing anomalies, SIAM Journal
// on Applied Mathematics 17, 1969), by the slack for stretches at most.
func TestShareOut_Graham(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(2, 8).Draw(t, "crews")
		var crews []crew.Crew
		for i := range m {
			crews = append(crews, gang(fmt.Sprint(i), 3, true))
		}
		rows := anyRows(t, 200)
		got, err := crew.ShareOut(rows, crews, crew.ShareOptions{})
		require.NoError(t, err)
		graham := 4.0/3 - 1/(3*float64(m))
		require.LessOrEqual(t, got.Bound, 1.05*graham+1e-9)
		if len(rows) >= 20*m { // the work of the crews dwarfs the longest row
			require.LessOrEqual(t, got.Greatest, 1.05*graham*got.Least+1e-9)
		}
	})
}

// Graham's own worst case for two crews, 3 3 2 2 2: longest first alone would
// take 7, all that is needed is 6.
func TestShareOut_GrahamsWorstCase(t *testing.T) {
	got, err := crew.ShareOut(rowsOf(3, 2, 3, 2, 2), []crew.Crew{gang("a", 1, false), gang("b", 1, false)}, crew.ShareOptions{Slack: -1})
	require.NoError(t, err)
	require.InDelta(t, 6.0/60, got.Greatest, 1e-12)
	require.True(t, got.Exact)
	require.Equal(t, 1.0, got.Bound)
}

// Two thousand rows among eight crews of different size, young rows here and
// there: within 5 % of what no sharing can be below; and one stretch for each crew
// where no row is young.
func TestShareOut_Large(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for _, young := range []float64{0, 0.1} {
		var minutes []float64
		for range 2000 {
			m := 60 + 240*random.Float64()
			if random.Float64() < young {
				m = -m
			}
			minutes = append(minutes, m)
		}
		var crews []crew.Crew
		for i := range 8 {
			crews = append(crews, gang(fmt.Sprint(i), 3+i%4, i < 3))
		}
		got, err := crew.ShareOut(rowsOf(minutes...), crews, crew.ShareOptions{})
		require.NoError(t, err)
		require.LessOrEqual(t, got.Greatest, 1.05*got.Least)
		require.LessOrEqual(t, got.Bound, 1.05)
		if young == 0 {
			for _, e := range got.Each {
				require.Equal(t, 1, e.Stretches)
			}
		}
	}
}
