package pruning

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// Hours of sleep gained with two drugs by ten patients (Student, The probable
// error of a mean, Biometrika 6:20, 1908). The intervals are those that the
// standard example of R's t.test prints for these data (from memory).
func TestCompare_Student1908(t *testing.T) {
	first := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	second := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	paired, err := ComparePairs(first, second, 0)
	require.NoError(t, err)
	require.InDelta(t, -1.58, paired.Mean, 1e-9)
	require.InDelta(t, -2.4598858, paired.Low, 1e-6)
	require.InDelta(t, -0.7001142, paired.High, 1e-6)
	require.True(t, paired.Told)

	values, sides := append(append([]float64{math.NaN(), 99}, first...), second...), []Trial{TrialTreated, TrialNone}
	for range first {
		sides = append(sides, TrialTreated)
	}
	for range second {
		sides = append(sides, TrialUntreated)
	}
	welch, err := CompareTreated(values, sides, 0.95)
	require.NoError(t, err)
	require.Equal(t, 10, welch.Treated)
	require.InDelta(t, -1.58, welch.Mean, 1e-9)
	require.InDelta(t, -3.3654832, welch.Low, 1e-6)
	require.InDelta(t, 0.2054832, welch.High, 1e-6)
	require.False(t, welch.Told)
}

func TestCompare_Refuses(t *testing.T) {
	_, err := CompareTreated([]float64{1, 2, 3}, []Trial{TrialTreated, TrialTreated, TrialUntreated}, 0)
	require.ErrorIs(t, err, ErrInput)
	require.ErrorContains(t, err, "2 treated and 1 untreated")
	_, err = CompareTreated([]float64{1}, nil, 0)
	require.ErrorIs(t, err, ErrInput)
	_, err = CompareTreated([]float64{1}, []Trial{9}, 0)
	require.ErrorIs(t, err, ErrInput)
	_, err = ComparePairs([]float64{1, 2}, []float64{1, math.NaN()}, 0)
	require.ErrorContains(t, err, "two or more")
	_, err = ComparePairs([]float64{1, 2}, []float64{1, 1}, 2)
	require.ErrorContains(t, err, "confidence")
	same, err := CompareTreated([]float64{5, 5, 5, 5}, []Trial{TrialTreated, TrialTreated, TrialUntreated, TrialUntreated}, 0)
	require.NoError(t, err)
	require.False(t, same.Told)
	require.Zero(t, same.High)
}

// Two pruners of an invented crew: one leaves a node or two too many.
func TestCompareLeft(t *testing.T) {
	planned := []int16{10, 10, 12, 12, 14, 14, 10, 10, 12, 12, 8, -1}
	left := []int16{11, 12, 13, 14, 15, 14, 10, 11, 11, 12, -1, 9}
	keys := []string{"M", "M", "M", "M", "M", "M", "L", "L", "L", "L", "L", "L"}
	out, err := CompareLeft(planned, left, keys)
	require.NoError(t, err)
	require.Len(t, out, 3)
	all, l, m := out[0], out[1], out[2]
	require.Equal(t, 10, all.Vines)
	require.Equal(t, LeanShort, l.Leaning)
	require.InDelta(t, 0, l.Mean, 1e-9)
	require.InDelta(t, 0.5, l.Exact, 1e-9)
	require.InDelta(t, 1, l.Within1, 1e-9)
	require.Equal(t, LeanMany, m.Leaning)
	require.InDelta(t, 7.0/6, m.Mean, 1e-9)
	require.InDelta(t, 0.7527727, m.SD, 1e-6) // of 1, 2, 1, 2, 1, 0
	require.InDelta(t, 4.0/6, m.Within1, 1e-9)
	require.InDelta(t, 1, m.Within2, 1e-9)

	few, err := CompareLeft([]int16{9, 9, 9, 9, 9}, []int16{7, 7, 8, 7, 8}, nil)
	require.NoError(t, err)
	require.Len(t, few, 1)
	require.Equal(t, LeanFew, few[0].Leaning)
	even, err := CompareLeft([]int16{9, 9, 9, 9, 9}, []int16{10, 8, 9, 10, 8}, nil)
	require.NoError(t, err)
	require.Equal(t, LeanEven, even[0].Leaning)
	none, err := CompareLeft(nil, nil, nil)
	require.NoError(t, err)
	require.Zero(t, none[0].Vines)
	_, err = CompareLeft(planned, left[:3], nil)
	require.ErrorIs(t, err, ErrInput)
}

// By row and pruner from a plan: gaps and vines nobody told of do not count.
func TestAgainst(t *testing.T) {
	s := plotStand(t, 2, 4, 1.8, 2010)
	s.Condition[1] = vine.Missing
	r, err := Plan(&Block{Stand: s, WeightG: fill(8, 700)}, with(DoubleGuyot()))
	require.NoError(t, err)
	rows, pruners, err := r.Against([]int16{20, 18, 21, -1, 22, 22, 23, 21}, []string{"L", "L", "L", "", "M", "M", "M", ""})
	require.NoError(t, err)
	require.Equal(t, []string{"", "1", "2"}, []string{rows[0].Key, rows[1].Key, rows[2].Key})
	require.Equal(t, []int{6, 2, 4}, []int{rows[0].Vines, rows[1].Vines, rows[2].Vines})
	require.InDelta(t, 0.5, rows[1].Mean, 1e-9)
	require.InDelta(t, 2, rows[2].Mean, 1e-9)
	require.Equal(t, []string{"", "L", "M"}, []string{pruners[0].Key, pruners[1].Key, pruners[2].Key})
	require.Equal(t, 3, pruners[2].Vines)
	require.InDelta(t, 7.0/3, pruners[2].Mean, 1e-9)
	_, _, err = r.Against([]int16{1}, nil)
	require.ErrorIs(t, err, ErrInput)
}

func TestCountBudburst(t *testing.T) {
	out, err := CountBudburst([]int16{9, 10, 13, -1, 5}, []int16{12, 10, 10, 10, 0})
	require.NoError(t, err)
	require.Equal(t, 3, out.Vines)
	require.Equal(t, map[BudburstRead]int{BudburstBlind: 1, BudburstRight: 1, BudburstNonCount: 1}, out.By)
	require.InDelta(t, 1.0, out.Ratio, 1e-9)
	require.Equal(t, BudburstRight, out.Read)
	_, err = CountBudburst([]int16{1}, nil)
	require.ErrorIs(t, err, ErrInput)
	_, _, ok := BudburstRatio(5, 0)
	require.False(t, ok)
	_, _, ok = BudburstRatio(math.NaN(), 5)
	require.False(t, ok)
	_, ok = Ravaz(3, 0)
	require.False(t, ok)
	_, err = RavazSpan("any")
	require.ErrorIs(t, err, ErrInput)
}

// The ends belong to the right class: 0.90 and 1.10 (Practical Winery & Vineyard,
// June 2017).
func TestBudburst_Ends(t *testing.T) {
	for _, c := range []struct {
		shoots, nodes float64
		want          BudburstRead
	}{{9, 10, BudburstRight}, {89, 100, BudburstBlind}, {11, 10, BudburstRight}, {33, 30, BudburstRight}, {111, 100, BudburstNonCount}} {
		_, read, ok := BudburstRatio(c.shoots, c.nodes)
		require.True(t, ok)
		require.Equal(t, c.want, read, "%g of %g", c.shoots, c.nodes)
	}
}

// A first morning's list: as long as asked, every instruction and most rows on it,
// none to look at first, the same again with the same seed.
func TestPractice(t *testing.T) {
	s := plotStand(t, 10, 60, 1.8, 2010)
	weights := make([]float32, s.Ground.Len())
	for i := range weights {
		weights[i] = float32([]int{350, 560, 700, 840}[i*7%4])
	}
	for i := 0; i < len(weights); i += 5 {
		s.Condition[i] = vine.Doubtful
	}
	s.Condition[1] = vine.Missing
	r, err := Plan(&Block{Stand: s, WeightG: weights}, with(DoubleGuyot()))
	require.NoError(t, err)
	list := r.Practice(PracticeVines, 3)
	require.Len(t, list, 20)
	require.Equal(t, list, r.Practice(PracticeVines, 3))
	require.NotEqual(t, list, r.Practice(PracticeVines, 4))
	rows, kinds := map[int32]int{}, map[Instruction]int{}
	for k, i := range list {
		require.Zero(t, r.Flags[i]&FlagLookFirst)
		require.NotEqual(t, BoundNone, r.Bound[i])
		if k > 0 {
			require.Greater(t, i, list[k-1])
		}
		rows[s.Ground.Row[i]]++
		kinds[r.Instructions[i]]++
	}
	require.Len(t, kinds, 4)
	require.Len(t, rows, 10)
	for _, n := range rows {
		require.Equal(t, 2, n)
	}
	require.Len(t, r.Practice(10_000, 1), 600-120-1, "no more than there are")
	require.Empty(t, r.Practice(0, 1))
}
