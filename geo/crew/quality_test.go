package crew_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// yesterday is so many vines of each person, row after row of 20.
func yesterday(people map[string]int) (done []crew.DoneVine) {
	id := 0
	for _, who := range []string{"ana", "bo", "cem", "dee"} {
		for range people[who] {
			done = append(done, crew.DoneVine{Vine: vine.ID(1000 + id), Row: vine.ID(50 + id/20), Label: fmt.Sprint(1 + id/20), Number: 1 + id%20, Who: who})
			id++
		}
	}
	return done
}

func TestCheckList(t *testing.T) {
	for _, c := range []struct {
		name   string
		people map[string]int
		share  float64
		least  int
		want   map[string]int
	}{
		{"one in ten of each", map[string]int{"ana": 100, "bo": 40}, 0.1, 0, map[string]int{"ana": 10, "bo": 4}},
		{"rounded up", map[string]int{"ana": 101}, 0.1, 0, map[string]int{"ana": 11}},
		{"five at least", map[string]int{"ana": 100, "bo": 20}, 0.1, 5, map[string]int{"ana": 10, "bo": 5}},
		{"no more than there are", map[string]int{"bo": 3}, 0.1, 5, map[string]int{"bo": 3}},
		{"none", nil, 0.1, 5, map[string]int{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := crew.CheckList(yesterday(c.people), c.share, c.least, 1)
			require.NoError(t, err)
			count := map[string]int{}
			for _, d := range got {
				count[d.Who]++
			}
			require.Equal(t, c.want, count)
		})
	}
	_, err := crew.CheckList(nil, 1.5, 0, 1)
	require.ErrorIs(t, err, crew.ErrCheck)
}

// Each vine once and of those done, in walking order; the same seed gives the same
// list, whatever the order of the records.
func TestCheckList_Any(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		done := yesterday(map[string]int{"ana": rapid.IntRange(0, 60).Draw(t, "ana"), "bo": rapid.IntRange(0, 60).Draw(t, "bo")})
		seed := rapid.Uint64().Draw(t, "seed")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		got, err := crew.CheckList(done, share, 2, seed)
		require.NoError(t, err)
		seen := map[vine.ID]bool{}
		for k, d := range got {
			require.Contains(t, done, d)
			require.False(t, seen[d.Vine])
			seen[d.Vine] = true
			if k > 0 && got[k-1].Row == d.Row {
				require.Less(t, got[k-1].Number, d.Number)
			}
		}
		again, err := crew.CheckList(rapid.Permutation(append(done, done...)).Draw(t, "order"), share, 2, seed)
		require.NoError(t, err)
		require.ElementsMatch(t, got, again)
	})
}

// Over many seeds every vine is drawn about equally often: chi-square with 99
// degrees of freedom stays under 149 (0.999 point, standard tables).
func TestCheckList_Fair(t *testing.T) {
	done := yesterday(map[string]int{"ana": 100})
	count := map[vine.ID]int{}
	for seed := range uint64(2000) {
		got, err := crew.CheckList(done, 0.1, 0, seed)
		require.NoError(t, err)
		for _, d := range got {
			count[d.Vine]++
		}
	}
	chi := 0.0
	for _, d := range done {
		off := float64(count[d.Vine]) - 200
		chi += off * off / 200
	}
	require.Less(t, chi, 149.0)
	require.Greater(t, chi, 50.0)
}

func TestQualityOf(t *testing.T) {
	at := func(label string, planned, found int, fault bool) crew.Checked {
		return crew.Checked{DoneVine: crew.DoneVine{Label: label, Who: "ana"}, Planned: planned, Found: found, Fault: fault}
	}
	list := []crew.Checked{at("7", 16, 16, false), at("7", 16, 18, false), at("7", 16, 19, false), at("7", 12, 8, true), at("2", 12, 12, false), at("7", 12, 12, true)}
	got, err := crew.QualityOf(list, 2, crew.ByRow)
	require.NoError(t, err)
	require.Len(t, got, 2)
	low, high, err := crew.ShareRange(3, 5, 0.8)
	require.NoError(t, err)
	require.Equal(t, crew.Quality{Of: "7", Checked: 5, TooMany: 1, TooFew: 1, Faults: 2, Wrong: 3, MeanOff: 0.2, WrongLow: low, WrongTop: high}, got[0])
	require.Equal(t, "2", got[1].Of)
	require.Zero(t, got[1].Wrong)
	_, err = crew.QualityOf(list, -1, crew.ByRow)
	require.ErrorIs(t, err, crew.ErrCheck)
	_, err = crew.QualityOf([]crew.Checked{at("7", -1, 2, false)}, 1, crew.ByRow)
	require.ErrorContains(t, err, "row 7")
}

// R. V. Krejcie and D. W. Morgan, Determining sample size for research activities,
// Educational and Psychological Measurement 30, 1970, table 1 (from memory): 95 %,
// margin 5 %, share one half. The table rounds to the nearest, here it is up.
func TestSampleSize(t *testing.T) {
	for _, c := range []struct{ vines, want int }{
		{10, 10}, {50, 44}, {100, 80}, {200, 132}, {300, 169}, {500, 217}, {1000, 278}, {2000, 322}, {5000, 357}, {10_000, 370},
	} {
		got, err := crew.SampleSize(c.vines, 0.05, 0.95, 0.5)
		require.NoError(t, err)
		require.GreaterOrEqual(t, got, c.want, "%d vines", c.vines)
		require.LessOrEqual(t, got, c.want+1, "%d vines", c.vines)
		require.LessOrEqual(t, got, c.vines)
	}
	got, err := crew.SampleSize(0, 0.05, 0.95, 0.5)
	require.NoError(t, err)
	require.Zero(t, got)
	for _, c := range [][3]float64{{0, 0.95, 0.5}, {0.05, 1, 0.5}, {0.05, 0.95, 0}} {
		_, err := crew.SampleSize(10, c[0], c[1], c[2])
		require.ErrorIs(t, err, crew.ErrCheck)
	}
}

// Wilson's interval at 95 %: 5 of 10 is 0.2366 to 0.7634 (from memory: the usual
// printed example); none of n ends at z²/(n + z²).
func TestShareRange(t *testing.T) {
	low, high, err := crew.ShareRange(5, 10, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 0.2366, low, 5e-5)
	require.InDelta(t, 0.7634, high, 5e-5)
	low, high, err = crew.ShareRange(0, 20, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 0, low, 1e-12)
	require.InDelta(t, 3.841459/(20+3.841459), high, 1e-6)
	low, high, err = crew.ShareRange(0, 0, 0.95)
	require.NoError(t, err)
	require.Equal(t, [2]float64{0, 1}, [2]float64{low, high})
	_, _, err = crew.ShareRange(3, 2, 0.95)
	require.ErrorIs(t, err, crew.ErrCheck)
}

// A sample of the stated size finds the share of wrong vines to within the margin
// at the stated rate.
func TestSampleSize_Holds(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	n, err := crew.SampleSize(400, 0.1, 0.9, 0.5)
	require.NoError(t, err)
	within := 0
	const rounds = 3000
	for range rounds {
		wrong := 0
		for _, k := range random.Perm(400)[:n] {
			if k < 200 {
				wrong++
			}
		}
		if off := float64(wrong)/float64(n) - 0.5; off <= 0.1 && off >= -0.1 {
			within++
		}
	}
	require.GreaterOrEqual(t, within, rounds*88/100)
}
