package vigour

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Anscombe's first three sets (F. J. Anscombe, Graphs in statistical analysis,
// The American Statistician 27, 1973): he prints for each the line y = 3.0 + 0.5 x
// and R² 0.667. Weight stands for y (kg/m), shoot length for x.
var anscombe = struct{ x, y1, y2, y3 []float64 }{
	[]float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5},
	[]float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68},
	[]float64{9.14, 8.14, 8.74, 8.77, 9.26, 8.10, 6.13, 3.10, 9.13, 7.26, 4.74},
	[]float64{7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73},
}

// paired is a row with weights on the first vines and a measure on these and some
// more.
func paired(t *testing.T, q vine.Quantity, x, kgPerM, more []float64) (*stand.Stand, Column) {
	t.Helper()
	s := plot{rows: 1, vines: len(x) + len(more), rowM: 2, vineM: 1}.stand(t, 2027)
	for i, v := range kgPerM {
		weigh(s, i, 1000*v)
	}
	all := append(append([]float64{}, x...), more...)
	return s, column(s, q, func(i int) (float64, bool) { return all[i], true })
}

func TestCalibration_AnscombesLine(t *testing.T) {
	for k, y := range [][]float64{anscombe.y1, anscombe.y2, anscombe.y3} {
		s, c := paired(t, vine.ShootLength, anscombe.x, y, []float64{5, 9, 14, 20})
		r := estimate(t, Input{Stand: s, Columns: []Column{c}})
		require.Len(t, r.Calibrations, 1)
		got := r.Calibrations[0]
		require.NoError(t, got.Err)
		assert.Equal(t, 11, got.Pairs)
		assert.InDelta(t, 3.0, got.Intercept, 0.005, "set %d", k+1)
		assert.InDelta(t, 0.5, got.Slope, 0.0005, "set %d", k+1)
		assert.InDelta(t, 0.667, got.R2, 0.001, "set %d", k+1)
		assert.InDelta(t, 1.24, got.SE, 0.005, "set %d", k+1)
		assert.Equal(t, []any{4, 4, 1, 4.0, 14.0}, []any{got.Vines, got.Used, got.Beyond, got.From, got.To})
	}
}

// R 4.2.2: predict(lm(y1 ~ x1, anscombe), data.frame(x1 = c(5, 9, 14, 20)),
// se.fit = TRUE); the error of a single value is root of se.fit² + residual.scale².
func TestCalibration_PredictionErrorEqualsR(t *testing.T) {
	s, c := paired(t, vine.ShootLength, anscombe.x, anscombe.y1, []float64{5, 9, 14, 20})
	r := estimate(t, Input{Stand: s, Columns: []Column{c}})
	for k, want := range [][2]float64{{5.50054545455, 1.37500260422}, {7.50090909091, 1.29159004660}, {10.0013636364, 1.41977023678},
		{13.0019090909, 1.83038558890}} {
		i := len(anscombe.x) + k
		assert.Equal(t, Calibrated, r.Basis[i])
		assert.Equal(t, "calibrated from shoot length", r.Source(i))
		assert.InDelta(t, want[0], r.KgPerM[i], 2e-6)
		assert.InDelta(t, want[1], r.SE[i], 2e-6)
	}
}

func TestCalibration_Refuses(t *testing.T) {
	rising := func(n int) (x []float64) {
		for i := range n {
			x = append(x, float64(10+i))
		}
		return x
	}
	wobble := func(x []float64, slope, noise float64) (y []float64) {
		r := rand.New(rand.NewPCG(4, 4))
		for _, v := range x {
			y = append(y, 0.5+slope*(v-20)+noise*r.NormFloat64())
		}
		return y
	}
	for _, c := range []struct {
		name string
		q    vine.Quantity
		x, y []float64
		want error
		says string
	}{
		{"seven pairs", vine.ShootLength, rising(7), wobble(rising(7), 0.01, 0.001), ErrFewPairs, "shoot length: it and weight are both known for 7 vines, at least 8 are needed"},
		{"eight pairs", vine.ShootLength, rising(8), wobble(rising(8), 0.01, 0.001), nil, ""},
		{"mere noise", vine.ShootLength, rising(30), wobble(rising(30), 0.001, 0.1), ErrWeakFit, "from 30 vines, at least 0.40 is needed"},
		{"falling", vine.CaneDiameter, rising(20), wobble(rising(20), -0.01, 0.001), ErrFalls, "falls where weight rises"},
		{"an index may fall", vine.CanopyIndex, rising(20), wobble(rising(20), -0.01, 0.001), nil, ""},
		{"a heavy crop may cost growth", vine.Yield, rising(20), wobble(rising(20), -0.01, 0.001), nil, ""},
		{"one score on all", vine.VisualScore, make([]float64, 12), wobble(rising(12), 0.01, 0.1), ErrNoSpread, "it is 0 on all 12 vines"},
		{"one weight on all", vine.ShootLength, rising(12), make([]float64, 12), ErrNoSpread, "the weights of all 12 vines are equal"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, col := paired(t, c.q, c.x, c.y, []float64{15, 16})
			r := estimate(t, Input{Stand: s, Columns: []Column{col}})
			require.Len(t, r.Calibrations, 1)
			got := r.Calibrations[0]
			if c.want == nil {
				require.NoError(t, got.Err)
				assert.Empty(t, got.Refused)
				assert.Equal(t, 2, r.Counts[Calibrated])
				return
			}
			require.ErrorIs(t, got.Err, c.want)
			assert.Contains(t, got.Refused, c.says)
			assert.Equal(t, len(c.x), got.Pairs)
			assert.Zero(t, r.Counts[Calibrated])
			assert.Contains(t, r.Notes[0], c.says, "the page says so")
		})
	}
}

// Each vine takes the best measure that it has.
func TestCalibration_BestMeasureOfTheVine(t *testing.T) {
	const n = 40
	s := plot{rows: 1, vines: n, rowM: 2, vineM: 1}.stand(t, 2027)
	r := rand.New(rand.NewPCG(1, 1))
	truth := make([]float64, n)
	for i := range truth {
		truth[i] = 0.3 + 0.3*r.Float64()
	}
	for i := range 20 {
		weigh(s, i, 1000*truth[i])
	}
	noisy := func(v, sd float64) float64 { return v + sd*r.NormFloat64() }
	length := column(s, vine.ShootLength, func(i int) (float64, bool) { return 300 * noisy(truth[i], 0.01), i < 30 })
	index := column(s, vine.CanopyIndex, func(i int) (float64, bool) { return noisy(truth[i], 0.04), i < 36 })
	for i := range n {
		s.Score[i] = float32(math.Round(10 * r.Float64())) // says nothing
	}
	got := estimate(t, Input{Stand: s, Columns: []Column{length, index}})
	require.Len(t, got.Calibrations, 3)
	assert.Equal(t, []vine.Quantity{vine.ShootLength, vine.CanopyIndex, vine.VisualScore},
		[]vine.Quantity{got.Calibrations[0].Quantity, got.Calibrations[1].Quantity, got.Calibrations[2].Quantity}, "best first, refused last")
	assert.ErrorIs(t, got.Calibrations[2].Err, ErrWeakFit)
	for i := range n {
		want := map[bool]string{true: "measured"}[i < 20]
		switch {
		case i >= 20 && i < 30:
			want = "calibrated from shoot length"
		case i >= 30 && i < 36:
			want = "calibrated from canopy index"
		case i >= 36:
			want = "estimated by kriging"
		}
		assert.Equal(t, want, got.Source(i), "vine %d", i)
	}
	assert.Less(t, got.SE[25], got.SE[33], "the better measure is surer")
}

// Canes and their cross-section count per metre, also beside a gap, and together
// they say more than the number alone where diameters differ.
func TestCalibration_CanesAndDiameter(t *testing.T) {
	const n = 60
	s := plot{rows: 1, vines: n, rowM: 2, vineM: 1}.stand(t, 2027)
	s.Condition[50] = vine.Missing
	r := rand.New(rand.NewPCG(2, 1))
	canes, diameter := make([]float64, n), make([]float64, n)
	occupied := OccupiedM(s)
	for i := range n {
		canes[i] = math.Round((6 + 8*r.Float64()) * float64(occupied[i]))
		diameter[i] = 6 + 6*r.Float64()
		section := canes[i] * math.Pi * diameter[i] * diameter[i] / 4
		if i < 40 {
			s.WeightG[i] = float32(section * 0.55 * (1 + 0.03*r.NormFloat64())) // g per mm² of cane: about 1.2 m of wood
		}
	}
	in := Input{Stand: s, Columns: []Column{
		column(s, vine.CaneCount, func(i int) (float64, bool) { return canes[i], true }),
		column(s, vine.CaneDiameter, func(i int) (float64, bool) { return diameter[i], true })}}
	got := estimate(t, in)
	best := got.Calibrations[0]
	assert.Equal(t, "cane count and diameter", best.Label)
	assert.Greater(t, best.R2, 0.95)
	assert.InDelta(t, 0.55e-3, best.Slope, 0.03e-3, "kg/m per mm²/m")
	for _, i := range []int{45, 49, 51} { // 49 and 51 stand beside the gap
		want := canes[i] * math.Pi * diameter[i] * diameter[i] / 4 * 0.55e-3 / float64(got.OccupiedM[i])
		assert.InDelta(t, want, got.KgPerM[i], 3.5*float64(got.SE[i]), "vine %d", i)
	}
	assert.Equal(t, float32(1.5), got.OccupiedM[49])
	assert.InDelta(t, float64(s.WeightG[7])/canes[7], got.CaneG[7], 1e-4, "mean weight of a cane")
	assert.Equal(t, float32(-1), got.CaneG[45], "never from an estimate")
}

// A girth is taken as the cross-section of the trunk: C² / 4π.
func TestCalibration_TrunkGirth(t *testing.T) {
	girth := []float64{100, 120, 140, 160, 180, 200, 220, 240, 260, 280}
	kg := []float64{}
	for _, c := range girth {
		kg = append(kg, 0.1+0.02*c*c/(4*math.Pi)/100)
	}
	s, c := paired(t, vine.TrunkGirth, girth, kg, []float64{160})
	r := estimate(t, Input{Stand: s, Columns: []Column{c}})
	assert.InDelta(t, 0.02, r.Calibrations[0].Slope, 1e-6)
	assert.InDelta(t, 1, r.Calibrations[0].R2, 1e-6)
	assert.InDelta(t, 0.1+0.02*20.37, r.KgPerM[10], 1e-4, "160 mm around: 20.4 cm² (viticulture handbooks, derived)")
}
