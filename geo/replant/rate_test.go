package replant

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Wilson's interval at 95 %, as printed by Newcombe R., Statistics in Medicine
// 17:857-872, 1998, Table I, method 3 (from memory).
func TestCountRate_Newcombe(t *testing.T) {
	for _, c := range []struct {
		gaps, n   int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		r, err := CountRate(c.gaps, c.n, 0.95)
		require.NoError(t, err)
		require.InDelta(t, c.low, r.Low, 0.00005)
		require.InDelta(t, c.high, r.High, 0.00005)
	}
	for _, c := range [][2]int{{1, 0}, {-1, 5}, {6, 5}} {
		_, err := CountRate(c[0], c[1], 0.95)
		require.ErrorIs(t, err, ErrInput)
	}
	r, err := CountRate(20, 20, 0.95)
	require.NoError(t, err)
	require.Equal(t, 1.0, r.High)
}

// Three of twelve rows by hand: gaps 2, 4, 9 on 40, 50, 60 positions. p = 15/150 =
// 0.1; a - p m = -2, -1, 3; sum of squares 14; mean m = 50; variance (1 - 3/12) / 3
// × 14 / 2 / 2 500 = 0.0007; t with 2 degrees of freedom 4.3027 (any table).
func TestSampleRate_ByHand(t *testing.T) {
	r, err := SampleRate([]RowCount{{0, 40, 2}, {5, 50, 4}, {9, 60, 9}}, 12, 0.1, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 0.1, r.Share, 1e-12)
	require.InDelta(t, math.Sqrt(0.0007), r.SE, 1e-12)
	require.InDelta(t, 0.1+4.3027*math.Sqrt(0.0007), r.High, 1e-4)
	require.Zero(t, r.Low)
	full, err := SampleRate([]RowCount{{0, 40, 2}, {1, 50, 4}}, 2, 0, 0.95)
	require.NoError(t, err)
	require.Zero(t, full.SE, "all rows counted: nothing left to chance")
	same, err := SampleRate([]RowCount{{0, 40, 2}, {1, 40, 2}}, 9, 0, 0.95)
	require.NoError(t, err)
	require.Contains(t, same.Text, "cannot vouch")
}

func TestSampleRate_Refuses(t *testing.T) {
	two := []RowCount{{0, 10, 1}, {1, 10, 1}}
	for name, try := range map[string]func() (Rate, error){
		"one row":        func() (Rate, error) { return SampleRate(two[:1], 9, 0.1, 0.95) },
		"more than all":  func() (Rate, error) { return SampleRate(two, 1, 0.1, 0.95) },
		"a row twice":    func() (Rate, error) { return SampleRate([]RowCount{{1, 10, 1}, {1, 10, 1}}, 9, 0.1, 0.95) },
		"more gaps":      func() (Rate, error) { return SampleRate([]RowCount{{0, 10, 11}, {1, 10, 1}}, 9, 0.1, 0.95) },
		"no positions":   func() (Rate, error) { return SampleRate([]RowCount{{0, 0, 0}, {1, 0, 0}}, 9, 0.1, 0.95) },
		"allowance of 1": func() (Rate, error) { return SampleRate(two, 9, 1, 0.95) },
		"level":          func() (Rate, error) { return SampleRate(two, 9, 0.1, 1) },
	} {
		_, err := try()
		require.ErrorIs(t, err, ErrInput, name)
	}
}

// Blocks whose gaps gather in rows: the interval by rows holds the true share about
// as often as it says; one that took every vine for itself would not.
func TestSampleRate_Coverage(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	const blocks, rows, drawn, vines = 600, 80, 12, 60
	byRow, byVine := 0, 0
	for range blocks {
		all := make([]RowCount, rows)
		gaps := 0
		for k := range all {
			chance := 0.02 + 0.16*r.Float64()
			all[k] = RowCount{Row: k, Positions: vines}
			for range vines {
				if r.Float64() < chance {
					all[k].Gaps++
				}
			}
			gaps += all[k].Gaps
		}
		truth := float64(gaps) / (rows * vines)
		r.Shuffle(rows, func(i, j int) { all[i], all[j] = all[j], all[i] })
		s, err := SampleRate(all[:drawn], rows, 0, 0.95)
		require.NoError(t, err)
		w, err := CountRate(s.Gaps, s.Positions, 0.95)
		require.NoError(t, err)
		if s.Low <= truth && truth <= s.High {
			byRow++
		}
		if w.Low <= truth && truth <= w.High {
			byVine++
		}
	}
	require.Greater(t, byRow, blocks*91/100)
	require.Less(t, byRow, blocks*99/100)
	require.Less(t, byVine, byRow)
}

func TestSideBySide(t *testing.T) {
	sample, err := SampleRate([]RowCount{{0, 100, 4}, {5, 100, 5}, {9, 100, 6}}, 40, 0.1, 0.95)
	require.NoError(t, err)
	for gaps, says := range map[int]string{200: "They agree", 40: "below the sample's interval", 600: "above the sample's interval"} {
		full, err := CountRate(gaps, 4000, 0.95)
		require.NoError(t, err)
		require.Contains(t, SideBySide(sample, full), says)
	}
}
