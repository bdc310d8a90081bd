package krige

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The certified values of the US National Institute of Standards and
// Technology, Statistical Reference Datasets, linear regression: Norris (easy)
// and Longley (six covariates that nearly depend on each other; J. W. Longley,
// JASA 62, 1967; employment in thousands there, here in millions as R has it).
// R 4.2.2's lm gives the same to 11 digits.
func TestFitDrift_EqualsNIST(t *testing.T) {
	norris := [][2]float64{{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3},
		{998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9},
		{339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6}, {557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2},
		{0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1},
		{117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}}
	values, rows := []float64{}, [][]float64{}
	for _, p := range norris {
		values, rows = append(values, p[0]), append(rows, []float64{1, p[1]})
	}
	d, err := FitDrift(values, rows)
	require.NoError(t, err)
	equalTo(t, d, []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-3}, 0.884796396144373, 0.999993745883712)

	longley := [][]float64{{83.0, 234.289, 235.6, 159.0, 107.608, 1947, 60.323}, {88.5, 259.426, 232.5, 145.6, 108.632, 1948, 61.122},
		{88.2, 258.054, 368.2, 161.6, 109.773, 1949, 60.171}, {89.5, 284.599, 335.1, 165.0, 110.929, 1950, 61.187},
		{96.2, 328.975, 209.9, 309.9, 112.075, 1951, 63.221}, {98.1, 346.999, 193.2, 359.4, 113.270, 1952, 63.639},
		{99.0, 365.385, 187.0, 354.7, 115.094, 1953, 64.989}, {100.0, 363.112, 357.8, 335.0, 116.219, 1954, 63.761},
		{101.2, 397.469, 290.4, 304.8, 117.388, 1955, 66.019}, {104.6, 419.180, 282.2, 285.7, 118.734, 1956, 67.857},
		{108.4, 442.769, 293.6, 279.8, 120.445, 1957, 68.169}, {110.8, 444.546, 468.1, 263.7, 121.950, 1958, 66.513},
		{112.6, 482.704, 381.3, 255.2, 123.366, 1959, 68.655}, {114.2, 502.601, 393.1, 251.4, 125.368, 1960, 69.564},
		{115.7, 518.173, 480.6, 257.2, 127.852, 1961, 69.331}, {116.9, 554.894, 400.7, 282.7, 130.081, 1962, 70.551}}
	values, rows = nil, nil
	for _, l := range longley {
		values, rows = append(values, l[6]), append(rows, append([]float64{1}, l[:6]...))
	}
	d, err = FitDrift(values, rows)
	require.NoError(t, err)
	equalTo(t, d, []float64{-3482.25863459582, 0.0150618722713733, -0.0358191792925910, -0.0202022980381683, -0.0103322686717359, -0.0511041056535807, 1.82915146461355},
		[]float64{890.420383607373, 0.0849149257747669, 0.0334910077722432, 0.00488399681651699, 0.00214274163161675, 0.226073200069370, 0.455478499142212},
		0.304854073561965, 0.995479004577296)
}

func equalTo(t *testing.T, d *Drift, coef, se []float64, sigma, r2 float64) {
	t.Helper()
	for j := range coef {
		assert.InEpsilon(t, coef[j], d.Coef[j], 1e-8, "coefficient %d", j)
		assert.InEpsilon(t, se[j], d.SE[j], 1e-8, "its error %d", j)
	}
	assert.InEpsilon(t, sigma, d.Sigma, 1e-9)
	assert.InEpsilon(t, r2, d.R2, 1e-9)
}

func TestFitDrift_Refuses(t *testing.T) {
	ones := func(n int) [][]float64 {
		out := make([][]float64, n)
		for i := range out {
			out[i] = []float64{1, float64(i)}
		}
		return out
	}
	for _, c := range []struct {
		name   string
		values []float64
		rows   [][]float64
		want   error
	}{
		{"nothing", nil, nil, ErrFewPoints},
		{"as many as covariates", []float64{1, 2}, ones(2), ErrFewPoints},
		{"no covariate", []float64{1, 2}, [][]float64{{}, {}}, ErrFewPoints},
		{"of another length", []float64{1, 2, 3}, ones(4), ErrLengths},
		{"a ragged row", []float64{1, 2, 3}, [][]float64{{1, 2}, {1}, {1, 4}}, ErrLengths},
		{"a value that is no number", []float64{1, math.NaN(), 3, 4}, ones(4), ErrNotFinite},
		{"a covariate at infinity", []float64{1, 2, 3}, [][]float64{{1, 2}, {1, math.Inf(1)}, {1, 3}}, ErrNotFinite},
		{"a covariate that does not vary", []float64{1, 2, 3}, [][]float64{{1, 2}, {1, 2}, {1, 2}}, ErrCollinear},
		{"a covariate of nothing", []float64{1, 2, 3}, [][]float64{{1, 0}, {1, 0}, {1, 0}}, ErrCollinear},
		{"one covariate twice", []float64{1, 2, 5, 3}, [][]float64{{1, 2, 4}, {1, 3, 6}, {1, 5, 10}, {1, 9, 18}}, ErrCollinear},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitDrift(c.values, c.rows)
			require.ErrorIs(t, err, c.want)
		})
	}
	d, err := FitDrift([]float64{4, 4, 4, 4}, ones(4))
	require.NoError(t, err)
	assert.False(t, math.IsNaN(d.R2) || math.IsNaN(d.Sigma))

	f, err := NewField(line(9, wavy), Model{Shape: Spherical, Sill: 1, Range: 4}, Neighbours{Radius: 3})
	require.NoError(t, err)
	r := &Regression{d, f}
	out := make([]Estimate, 2)
	require.ErrorIs(t, r.Map([]float64{1, 2}, []float64{1, 2}, ones(3), out, nil), ErrLengths)
	require.ErrorIs(t, r.Map([]float64{1, 2}, []float64{1, 2}, [][]float64{{1}, {1, 2}}, out, nil), ErrLengths)
	require.ErrorIs(t, r.Map([]float64{1, 2}, []float64{1, 2}, ones(2), out, func() bool { return true }), ErrStopped)
	require.NoError(t, r.Map([]float64{1, 900}, []float64{1, 900}, ones(2), out, nil))
	assert.NotZero(t, out[0].Used)
	assert.Zero(t, out[1], "no residual is near")
}

// Residuals are uncorrelated with every covariate; adding a column never fits
// worse; a trend without error is found.
func TestProperty_Drift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 40).Draw(t, "n")
		truth := []float64{rapid.Float64Range(-5, 5).Draw(t, "a"), rapid.Float64Range(-5, 5).Draw(t, "b"), rapid.Float64Range(-5, 5).Draw(t, "c")}
		noise := rapid.SampledFrom([]float64{0, 1}).Draw(t, "noise")
		values, rows, short := make([]float64, n), make([][]float64, n), make([][]float64, n)
		for i := range rows {
			rows[i] = []float64{1, rapid.Float64Range(-10, 10).Draw(t, "x"), rapid.Float64Range(100, 110).Draw(t, "z")}
			short[i] = rows[i][:2]
			values[i] = dot(truth, rows[i]) + noise*rapid.Float64Range(-1, 1).Draw(t, "e")
		}
		d, err := FitDrift(values, rows)
		if err != nil {
			require.ErrorIs(t, err, ErrCollinear)
			return
		}
		rest := d.Residuals(values, rows)
		for j := range truth {
			sum := 0.0
			for i := range rows {
				sum += rows[i][j] * rest[i]
			}
			if math.Abs(sum) > 1e-6*float64(n) {
				t.Fatalf("residuals hang on covariate %d: %g", j, sum)
			}
		}
		if noise == 0 && dot(rest, rest) > 1e-12 {
			t.Fatalf("residuals %v of an exact trend", rest)
		}
		if less, err := FitDrift(values, short); err == nil && less.R2 > d.R2+1e-9 {
			t.Fatalf("R² %g with a column less, %g with it", less.R2, d.R2)
		}
		if _, v := d.At(rows[0]); v < 0 {
			t.Fatalf("variance %g", v)
		}
	})
}
