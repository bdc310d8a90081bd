package patch

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The figures of testdata/robust are those of R 4.2.2: t.test, wilcox.test,
// binom.test, mcnemar.test, mad, quantile; SciPy 1.10.1 agrees where it has the
// test.

type rPaired struct {
	N      int
	Mean   float64
	SD     float64
	Median float64
	MAD    float64 `json:"mad_1.4826"`
	T      struct {
		T, DF float64
		P     float64    `json:"p_two_sided"`
		CI    [2]float64 `json:"ci95"`
	}
	Wilcoxon struct {
		Method       string
		V            float64
		P            float64 `json:"p_two_sided"`
		HL           float64 `json:"hodges_lehmann_median_of_walsh_averages"`
		ZerosDropped int     `json:"zeros_dropped"`
	}
	Sign struct {
		N    int     `json:"n_nonzero"`
		Fell int     `json:"n_negative"`
		P    float64 `json:"p_two_sided"`
	} `json:"sign_test"`
	Percent       float64 `json:"percent_change_of_means"`
	MedianPercent float64 `json:"median_percent_change"`
	Dz            float64 `json:"cohen_dz"`
}

func readR(t *testing.T) map[string]json.RawMessage {
	t.Helper()
	data, err := os.ReadFile("../../testdata/robust/expected.json")
	require.NoError(t, err)
	var out map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(data, &out))
	return out
}

func TestPair_EqualsR(t *testing.T) {
	r := readR(t)
	vines := readTable(t, "vineyard", "vines.csv")
	column := func(name string) []float64 { return vines.column(t, name, alive) }
	for _, c := range []struct {
		name          string
		before, after []float64
		relative      float64 // of what R printed
	}{
		{"pairs12", nil, nil, 1e-9},
		{"pairs10_ties_zeros", nil, nil, 1e-9},
		{"pairs12_one_outlier", nil, nil, 1e-9},
		{"vineyard_row_means_2019_2020", nil, nil, 1e-7}, // its differences were rounded to 9 decimals
		{"vineyard_all_vines_2019_2020", column("v2019"), column("v2020"), 1e-9},
		{"vineyard_all_vines_2020_2021", column("v2020"), column("v2021"), 1e-9},
	} {
		t.Run(c.name, func(t *testing.T) {
			var want rPaired
			if c.before == nil {
				var in struct {
					Before, After []float64
					Result        rPaired
				}
				require.NoError(t, json.Unmarshal(r[c.name], &in))
				c.before, c.after, want = in.Before, in.After, in.Result
			} else {
				require.NoError(t, json.Unmarshal(r[c.name], &want))
			}
			got := Pair(c.before, c.after)
			close := func(want, got float64, what string) {
				if want == 0 {
					assert.InDelta(t, want, got, 1e-300, what)
					return
				}
				assert.InEpsilon(t, want, got, c.relative, what)
			}
			assert.Equal(t, want.N, got.N)
			close(want.Mean, got.Mean, "mean")
			close(want.SD, got.SD, "sd")
			close(want.Median, got.Median, "median")
			close(want.MAD, got.MAD, "mad")
			close(want.Percent, got.Percent, "percent")
			close(want.MedianPercent, got.MedianPercent, "median percent")
			close(want.Wilcoxon.HL, got.HodgesLehmann, "Hodges-Lehmann")
			close(want.Dz, got.Effect, "effect")
			close(want.T.T, got.T.T, "t")
			close(want.T.DF, got.T.DF, "df")
			close(want.T.P, got.T.P, "p of t")
			close(want.T.CI[0], got.T.Low, "low")
			close(want.T.CI[1], got.T.High, "high")
			close(want.Wilcoxon.V, got.Rank.V, "V")
			close(want.Wilcoxon.P, got.Rank.P, "p of V")
			assert.Equal(t, want.Wilcoxon.Method == "Wilcoxon signed rank exact test", got.Rank.Exact)
			assert.Equal(t, want.N-want.Wilcoxon.ZerosDropped, got.Rank.N)
			assert.Equal(t, want.Sign.Fell, got.Sign.Fell)
			assert.Equal(t, want.Sign.N-want.Sign.Fell, got.Sign.Rose)
			close(want.Sign.P, got.Sign.P, "p of signs")
		})
	}
}

func TestSmallThings_EqualR(t *testing.T) {
	r := readR(t)
	var q struct {
		X, P, Type7 []float64
	}
	require.NoError(t, json.Unmarshal(r["quantiles"], &q))
	for i, p := range q.P {
		assert.InDelta(t, q.Type7[i], Quantile(q.X, p), 1e-12)
	}
	var m struct {
		Table      map[string]int `json:"table_before_rows"`
		Corrected  float64        `json:"chi2_corrected"`
		PCorrected float64        `json:"p_corrected"`
		Chi2, P    float64
		Exact      float64 `json:"exact_binomial_p"`
	}
	require.NoError(t, json.Unmarshal(r["mcnemar"], &m))
	got := Turn(m.Table["ok_ok"], m.Table["ok_to_weak"], m.Table["weak_to_ok"], m.Table["weak_weak"])
	assert.InEpsilon(t, m.Chi2, got.ChiSquare, 1e-9)
	assert.InEpsilon(t, m.P, got.P, 1e-9)
	assert.InEpsilon(t, m.Corrected, got.ChiSquareCorrected, 1e-9)
	assert.InEpsilon(t, m.PCorrected, got.PCorrected, 1e-9)
	assert.InEpsilon(t, m.Exact, got.PExact, 1e-9)
	assert.Equal(t, [2]int{46, 93}, [2]int{got.WeakBefore.Count, got.WeakAfter.Count})
	var w struct {
		P      float64
		Wilson [2]float64
	}
	require.NoError(t, json.Unmarshal(r["missing_rate_41_of_960"], &w))
	share := ShareOf(41, 960)
	assert.InEpsilon(t, w.P, share.Share, 1e-9)
	assert.InEpsilon(t, w.Wilson[0], share.Low, 1e-9)
	assert.InEpsilon(t, w.Wilson[1], share.High, 1e-9)
}

// TestPair_Degenerate: too little or nothing to test leaves the test out, and
// nothing is NaN.
func TestPair_Degenerate(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after []float64
		t, rank       bool
	}{
		{"nothing", nil, nil, false, false},
		{"one pair", []float64{1}, []float64{2}, false, true},
		{"one pair, no change", []float64{1}, []float64{1}, false, false},
		{"all the same change", []float64{1, 2, 3.5}, []float64{0.9, 1.9, 3.4}, false, true},
		{"no change at all", []float64{1, 2, 3}, []float64{1, 2, 3}, false, false},
		{"from nothing", []float64{0, 0, 0}, []float64{1, 2, 3}, true, true},
		{"all 0", []float64{0, 0}, []float64{0, 0}, false, false},
		{"below 0", []float64{-1, -2}, []float64{-3, -2}, true, true},
		{"huge", []float64{1e150, 2e150}, []float64{3e150, 1e150}, true, true},
		{"tiny", []float64{1e-100, 2e-100}, []float64{3e-100, 1e-100}, true, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Pair(c.before, c.after)
			assert.Equal(t, len(c.before), p.N)
			assert.Equal(t, c.t, p.T != nil, "t")
			assert.Equal(t, c.rank, p.Rank != nil, "rank")
			text, err := json.Marshal(p) // refuses what is not finite
			require.NoError(t, err, "%s", text)
		})
	}
	assert.Equal(t, Share{}, ShareOf(0, 0))
	assert.Equal(t, 0.0, ShareOf(0, 50).Low)
	assert.Equal(t, 1.0, Turn(10, 0, 0, 3).P)
	assert.Zero(t, Quantile(nil, 0.5))
	assert.Equal(t, 3.0, Quantile([]float64{3}, 0.9))
}

// TestPair_Properties: turning the seasons round turns the signs; a factor keeps
// the tests; the typical change is that of all pairs of changes by brute force.
func TestPair_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 70).Draw(t, "n")
		whole := rapid.SliceOfN(rapid.IntRange(0, 500), n, n)
		before, after := hundredths(whole.Draw(t, "before")), hundredths(whole.Draw(t, "after"))
		p, back := Pair(before, after), Pair(after, before)
		require.InDelta(t, p.Mean, -back.Mean, 1e-12)
		require.InDelta(t, p.HodgesLehmann, -back.HodgesLehmann, 1e-12)
		require.InDelta(t, bruteWalsh(before, after), p.HodgesLehmann, 1e-12)
		if p.Rank != nil {
			require.InDelta(t, p.Rank.P, back.Rank.P, 1e-12)
			require.InDelta(t, p.Rank.Biserial, -back.Rank.Biserial, 1e-12)
			require.InDelta(t, float64(p.Rank.N*(p.Rank.N+1))/2, p.Rank.V+back.Rank.V, 1e-9)
			require.True(t, p.Rank.P > 0 && p.Rank.P <= 1)
		}
		double := func(v []float64) (out []float64) {
			for _, x := range v {
				out = append(out, 2*x)
			}
			return out
		}
		twice := Pair(double(before), double(after))
		if p.T != nil {
			require.InEpsilon(t, p.T.P, twice.T.P, 1e-9)
			require.InDelta(t, 2*p.T.Low, twice.T.Low, 1e-9)
		}
	})
}

func hundredths(v []int) (out []float64) {
	for _, x := range v {
		out = append(out, float64(x)/100)
	}
	return out
}

func bruteWalsh(before, after []float64) float64 {
	var d, all []float64
	for i := range before {
		d = append(d, math.Round((after[i]-before[i])*100)/100)
	}
	for i := range d {
		for j := i; j < len(d); j++ {
			all = append(all, (d[i]+d[j])/2)
		}
	}
	slices.Sort(all)
	return median(all)
}

// FuzzPair: whatever the numbers, nothing panics and nothing finite turns into
// what is not.
func FuzzPair(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 1.5, 2.5, 2.0)
	f.Add(0.0, 0.0, 1e308, -1e308, 1e-320, 4.2)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g float64) {
		const most = 1e150 // squares must fit
		for _, v := range []float64{a, b, c, d, e, g} {
			if math.IsNaN(v) || math.Abs(v) > most {
				t.Skip()
			}
		}
		_, err := json.Marshal(Pair([]float64{a, b, c}, []float64{d, e, g}))
		require.NoError(t, err)
	})
}
