package replant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The 6-mercaptopurine arm of Freireich E.J. et al., Blood 21:699-716, 1963: weeks
// of remission, + for those still in remission; 6, 6, 6, 6+, 7, 9+, 10, 10+, 11+,
// 13, 16, 17+, 19+, 20+, 22, 23, 25+, 32+, 32+, 34+, 35+. The product-limit
// estimates and Greenwood standard errors are printed in many textbooks (such as
// Kleinbaum and Klein, Survival Analysis); data and values from memory.
func TestSurvive_Remission(t *testing.T) {
	var list []Lifetime
	for _, v := range []float64{6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35} {
		list = append(list, Lifetime{Seasons: math.Abs(v), Lost: v > 0})
	}
	c, err := Survive(list, 0.95)
	require.NoError(t, err)
	want := []Step{
		{Seasons: 6, AtRisk: 21, Lost: 3, Share: 0.857, SE: 0.0764},
		{Seasons: 7, AtRisk: 17, Lost: 1, Share: 0.807, SE: 0.0869},
		{Seasons: 10, AtRisk: 15, Lost: 1, Share: 0.753, SE: 0.0963},
		{Seasons: 13, AtRisk: 12, Lost: 1, Share: 0.690, SE: 0.1068},
		{Seasons: 16, AtRisk: 11, Lost: 1, Share: 0.627, SE: 0.1141},
		{Seasons: 22, AtRisk: 7, Lost: 1, Share: 0.538, SE: 0.1282},
		{Seasons: 23, AtRisk: 6, Lost: 1, Share: 0.448, SE: 0.1346},
	}
	require.Len(t, c.Steps, len(want))
	for k, w := range want {
		g := c.Steps[k]
		require.Equal(t, [3]float64{w.Seasons, float64(w.AtRisk), float64(w.Lost)}, [3]float64{g.Seasons, float64(g.AtRisk), float64(g.Lost)})
		require.InDelta(t, w.Share, g.Share, 0.0005)
		require.InDelta(t, w.SE, g.SE, 0.00006)
	}
	require.InDelta(t, 0.707, c.Steps[0].Low, 0.001) // 0.857 - 1.96 × 0.0764
	require.InDelta(t, 1.0, c.Steps[0].High, 0.01)   // cut at 1
	require.Equal(t, 9, c.Lost)
	require.InDelta(t, 0.627, c.At(21.5), 0.0005)
	require.Equal(t, 1.0, c.At(5))
}

// Without plants that left the record the curve is the plain share alive, and
// Greenwood's error that of a proportion.
func TestSurvive_AllFollowed(t *testing.T) {
	var list []Lifetime
	for k := range 100 {
		l := Lifetime{Seasons: 3}
		if k < 16 {
			l = Lifetime{Seasons: float64(1 + k%3), Lost: true}
		}
		list = append(list, l)
	}
	c, err := Survive(list, 0.95)
	require.NoError(t, err)
	last := c.Steps[len(c.Steps)-1]
	require.InDelta(t, 0.84, last.Share, 1e-12)
	require.InDelta(t, math.Sqrt(0.84*0.16/100), last.SE, 1e-12)
}

func TestSurvive_Refuses(t *testing.T) {
	for _, l := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := Survive([]Lifetime{{Seasons: l}}, 0.95)
		require.ErrorIs(t, err, ErrInput)
	}
	for _, level := range []float64{0, 1, math.NaN()} {
		_, err := Survive(nil, level)
		require.ErrorIs(t, err, ErrInput)
	}
	c, err := Survive(nil, 0.95)
	require.NoError(t, err)
	require.Empty(t, c.Steps)
}

// Invented batches of a supplier: seconds fail more often.
func TestLifetimes_ByBatchYearCause(t *testing.T) {
	all := []History{
		{Vine: 1, Plants: []Plant{{From: 2000, To: 2022, Why: "esca"}, {From: 2024, Batch: "A", Grade: "first"}}},
		{Vine: 2, Plants: []Plant{{From: 2000, To: 2022, Why: "esca"}, {From: 2024, To: 2024, Batch: "B", Grade: "second"}}},
		{Vine: 3, Plants: []Plant{{From: 2024, To: 2025, Batch: "B", Grade: "second", Why: "strimmer"}, {From: 2027, Batch: "C"}}},
		{Vine: 4, Plants: []Plant{{Batch: "B"}}}, // age not known
	}
	got := Lifetimes(all, 2027, func(p Plant) string { return p.Batch })
	require.Equal(t, map[string][]Lifetime{
		"A": {{Seasons: 3}},
		"B": {{Seasons: 1, Lost: true, Cause: "unknown"}, {Seasons: 2, Lost: true, Cause: "strimmer"}},
	}, got)
	require.Len(t, Lifetimes(all, 2027, nil)["all"], 5)
	curve, causes, err := Causes(Lifetimes(all, 2027, nil)["all"], 0.95)
	require.NoError(t, err)
	require.Equal(t, "esca", causes[0].Cause)
	require.Equal(t, 2, causes[0].Lost)
	require.InDelta(t, 0.8, curve.Steps[0].Share, 1e-12)
}

// A survival curve never rises and stays within 0 to 1, its interval holds it, and
// causes take all that it loses.
func TestSurvive_Curve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Lifetime {
			return Lifetime{Seasons: float64(rapid.IntRange(1, 12).Draw(t, "seasons")), Lost: rapid.Bool().Draw(t, "lost"), Cause: rapid.SampledFrom([]string{"esca", "frost", "unknown"}).Draw(t, "cause")}
		}), 0, 60).Draw(t, "plants")
		c, causes, err := Causes(list, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		before := 1.0
		for k, s := range c.Steps {
			if s.Share > before || s.Share < 0 || s.Low < 0 || s.High > 1 || s.Low > s.Share || s.High < s.Share || s.Lost < 1 || s.AtRisk < s.Lost {
				t.Fatalf("step %d: %+v after %v", k, s, before)
			}
			before = s.Share
			sum := s.Share
			for _, cause := range causes {
				sum += cause.Shares[k]
				if k > 0 && cause.Shares[k] < cause.Shares[k-1] {
					t.Fatalf("%s falls", cause.Cause)
				}
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Fatalf("step %d: alive and lost add up to %v", k, sum)
			}
		}
	})
}
