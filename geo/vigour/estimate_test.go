package vigour

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/krige"
	"courson/geo/stand"
	"courson/geo/vine"
)

var field40 = plot{rows: 20, vines: 40, rowM: 2.2, vineM: 1.1, azimuthDeg: 20}

// What can go wrong with the measures is said in plain words; there is a result
// all the same.
func TestEstimate_Degenerate(t *testing.T) {
	for _, c := range []struct {
		name   string
		plot   plot
		do     func(s *stand.Stand)
		want   error  // of kriging
		says   string // in the notes
		counts [4]int
	}{
		{"nothing measured", field40, func(*stand.Stand) {}, ErrFewVines, "at least 20 known vines are needed to estimate the others, there are 0", [4]int{800, 0, 0, 0}},
		{"one vine, not measured", plot{rows: 1, vines: 1, rowM: 2, vineM: 1}, func(*stand.Stand) {}, ErrFewVines, "there are 0", [4]int{1, 0, 0, 0}},
		{"one vine, measured", plot{rows: 1, vines: 1, rowM: 2, vineM: 1}, func(s *stand.Stand) { weigh(s, 0, 400) }, nil, "", [4]int{0, 1, 0, 0}},
		{"19 measured", field40, func(s *stand.Stand) { weighEvery(s, 43, wave(s)) }, ErrFewVines, "at least 20 known vines are needed to estimate the others, there are 19", [4]int{781, 19, 0, 0}},
		{"all equal", field40, func(s *stand.Stand) { weighEvery(s, 9, func(int) float64 { return 400 }) }, ErrNoSpread, "differ in nothing", [4]int{711, 89, 0, 0}},
		{"every vine measured", field40, func(s *stand.Stand) { weighEvery(s, 1, wave(s)) }, nil, "", [4]int{0, 800, 0, 0}},
		{"one row", plot{rows: 1, vines: 200, rowM: 2, vineM: 1}, func(s *stand.Stand) { weighEvery(s, 4, wave(s)) }, nil, "", [4]int{0, 50, 0, 150}},
		{"one vine stands out of a flat field", field40, func(s *stand.Stand) {
			weighEvery(s, 9, func(i int) float64 { return map[bool]float64{true: 400, false: 900}[i != 360] })
		}, nil, "", [4]int{0, 89, 0, 711}},
		{"all missing", field40, func(s *stand.Stand) {
			weighEvery(s, 3, wave(s))
			for i := range s.Condition {
				s.Condition[i] = vine.Missing
			}
		}, nil, "", [4]int{800, 0, 0, 0}},
		{"no wood at all", field40, func(s *stand.Stand) { weighEvery(s, 5, func(int) float64 { return 0 }) }, ErrNoSpread, "differ in nothing", [4]int{640, 160, 0, 0}},
		{"measured in one corner only", field40, func(s *stand.Stand) {
			for i := range 30 {
				weigh(s, i, wave(s)(i))
			}
		}, nil, "", [4]int{0, 30, 0, 770}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := c.plot.stand(t, 2027)
			c.do(s)
			r := estimate(t, Input{Stand: s})
			require.ErrorIs(t, r.Kriging.Err, c.want)
			assert.Equal(t, c.counts, r.Counts)
			if c.says != "" {
				require.NotEmpty(t, r.Notes)
				assert.Contains(t, r.Notes[0], c.says)
			}
		})
	}
}

// All vines on one spot, and vines on top of each other.
func TestEstimate_PlacesThatCoincide(t *testing.T) {
	s := field40.stand(t, 2027)
	weighEvery(s, 7, wave(s))
	for i := range s.Ground.X {
		s.Ground.X[i], s.Ground.Y[i] = 5, 5
	}
	r := estimate(t, Input{Stand: s})
	require.ErrorIs(t, r.Kriging.Err, krige.ErrNoExtent)
	assert.Contains(t, r.Notes[0], "lie on one spot")

	s = field40.stand(t, 2027)
	weighEvery(s, 3, wave(s))
	for i := 0; i+1 < len(s.Ground.X); i += 6 {
		s.Ground.X[i], s.Ground.Y[i] = s.Ground.X[i+1], s.Ground.Y[i+1]
	}
	r = estimate(t, Input{Stand: s})
	require.NoError(t, r.Kriging.Err)
	assert.Equal(t, 800-267, r.Counts[Estimated])
}

func TestEstimate_RefusesInput(t *testing.T) {
	good := func() Input {
		s := field40.stand(t, 2027)
		weighEvery(s, 5, wave(s))
		return Input{Stand: s}
	}
	nan := float32(math.NaN())
	for _, c := range []struct {
		name string
		do   func(in *Input)
		want error
	}{
		{"no stand", func(in *Input) { in.Stand = nil }, ErrInput},
		{"a weight that is no number", func(in *Input) { in.Stand.WeightG[3] = float32(math.Inf(1)) }, ErrInput},
		{"a column of another length", func(in *Input) {
			in.Columns = []Column{{Quantity: vine.ShootLength, Values: make([]float32, 9)}}
		}, ErrInput},
		{"a validity of another length", func(in *Input) {
			in.Columns = []Column{{Quantity: vine.ShootLength, Values: make([]float32, 800), Known: make([]bool, 8)}}
		}, ErrInput},
		{"a value that is no number", func(in *Input) {
			v, k := make([]float32, 800), make([]bool, 800)
			v[9], k[9] = nan, true
			in.Columns = []Column{{Quantity: vine.CanopyIndex, Values: v, Known: k}}
		}, ErrInput},
		{"a quantity nobody knows", func(in *Input) { in.Columns = []Column{{Quantity: "height", Values: filled(800)}} }, ErrInput},
		{"weight as a column", func(in *Input) { in.Columns = []Column{{Quantity: vine.PruningWeight, Values: filled(800)}} }, ErrInput},
		{"a covariate of another length", func(in *Input) { in.Covariate = &Covariate{Name: "image", Values: make([]float32, 2)} }, ErrInput},
		{"a vine nowhere", func(in *Input) { in.Stand.Ground.X[5] = nan }, ErrInput},
		{"no positions", func(in *Input) { in.Stand.Ground.X = nil }, ErrInput},
		{"neighbours below 0", func(in *Input) { in.Options.Neighbours = -1 }, ErrBadOption},
		{"a radius that is no number", func(in *Input) { in.Options.RadiusM = math.NaN() }, ErrBadOption},
		{"an R² above 1", func(in *Input) { in.Options.MinR2 = 1.5 }, ErrBadOption},
		{"stopped", func(in *Input) { in.Stop = func() bool { return true } }, ErrStopped},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := good()
			c.do(&in)
			r, err := Estimate(in)
			require.ErrorIs(t, err, c.want)
			require.Nil(t, r)
		})
	}
}

// Values that the column does not know may be anything.
func TestEstimate_UnknownValuesDoNotCount(t *testing.T) {
	s := field40.stand(t, 2027)
	weighEvery(s, 5, wave(s))
	v := make([]float32, 800)
	for i := range v {
		v[i] = float32(math.NaN())
	}
	r := estimate(t, Input{Stand: s, Columns: []Column{{Quantity: vine.CanopyIndex, Values: v, Known: make([]bool, 800)}}})
	assert.Empty(t, r.Calibrations)
}

func TestEstimate_ProgressAndStop(t *testing.T) {
	p := plot{rows: 100, vines: 400, rowM: 2, vineM: 1}
	s := p.stand(t, 2027)
	weighEvery(s, 101, wave(s))
	told := []float64{}
	estimate(t, Input{Stand: s, Progress: func(share float64) { told = append(told, share) }})
	require.Greater(t, len(told), 4)
	for k := 1; k < len(told); k++ {
		assert.GreaterOrEqual(t, told[k], told[k-1])
	}
	assert.Equal(t, 1.0, told[len(told)-1])

	last := 0.0
	_, err := Estimate(Input{Stand: s, Progress: func(share float64) { last = share }, Stop: func() bool { return last > 0.6 }})
	require.True(t, errors.Is(err, ErrStopped))
	assert.Less(t, last, 1.0)
}

// Missing and dead vines have no value, whatever was written down for them; a
// gap widens what its neighbours occupy and so lowers their weight per metre.
func TestEstimate_GapsHaveNoneAndThinTheirNeighbours(t *testing.T) {
	s := field40.stand(t, 2027)
	weighEvery(s, 2, func(i int) float64 { return 400 + float64(i%5) })
	gap := field40.at(4, 20)
	s.Condition[gap], s.Condition[gap+2] = vine.Missing, vine.Dead
	r := estimate(t, Input{Stand: s})
	assert.Equal(t, []any{None, None, float32(-1), float32(0)}, []any{r.Basis[gap], r.Basis[gap+2], r.KgPerM[gap], r.OccupiedM[gap]})
	between := gap + 1
	assert.InDelta(t, 2.2, r.OccupiedM[between], 1e-4)
	weigh(s, between, 400)
	r = estimate(t, Input{Stand: s})
	assert.InDelta(t, 0.2, r.KgPerM[between], 1e-4)
	assert.Equal(t, uint8(2), r.Class[between], "0.15 to 0.3 kg/m")
	assert.Equal(t, "measured", r.Source(between))
}

// A value that was weighed carries the rounding of the scale: step / √12.
func TestEstimate_MeasuredError(t *testing.T) {
	s := plot{rows: 1, vines: 3, rowM: 2, vineM: 1.2}.stand(t, 2027)
	s.WeightG[0], s.WeightG[1] = 600, 240
	r := estimate(t, Input{Stand: s})
	assert.InDelta(t, 0.5, r.KgPerM[0], 1e-6)
	assert.InDelta(t, 0.010/math.Sqrt(12)/1.2, r.SE[0], 1e-7)
	r = estimate(t, Input{Stand: s, Options: Options{WeighingStepG: 50}})
	assert.InDelta(t, 0.050/math.Sqrt(12)/1.2, r.SE[1], 1e-7)
}

// Classes are those of the block's limits, fixed for all seasons.
func TestEstimate_Classes(t *testing.T) {
	s := plot{rows: 1, vines: 5, rowM: 2, vineM: 1}.stand(t, 2027)
	for i, g := range []float64{100, 200, 400, 700, 1200} {
		weigh(s, i, g)
	}
	r := estimate(t, Input{Stand: s})
	assert.Equal(t, []uint8{1, 2, 3, 4, 5}, r.Class)
	assert.Equal(t, stand.DefaultVigourLimits(), r.Limits)
	r = estimate(t, Input{Stand: s, Options: Options{Limits: stand.VigourLimits{0.05, 0.15, 0.25, 0.5}}})
	assert.Equal(t, []uint8{2, 3, 4, 5, 5}, r.Class, "a block's own standards")
}

// Young vines are not estimated from old ones.
func TestEstimate_YoungVinesApart(t *testing.T) {
	p := field40
	p.planted = func(row, number int) int {
		if row%4 == 3 {
			return 2025 // third leaf in 2027
		}
		return 2005
	}
	level := func(s *stand.Stand) func(i int) float64 {
		w := wave(s)
		return func(i int) float64 {
			if s.Leaf[i] == 3 {
				return w(i) - 250
			}
			return w(i)
		}
	}
	s := p.stand(t, 2027)
	weighEvery(s, 7, level(s))
	r := estimate(t, Input{Stand: s})
	require.Len(t, r.Kriging.Leaves, 2)
	assert.InDelta(t, 0.25, r.Kriging.Leaves[1].KgPerM-r.Kriging.Leaves[0].KgPerM, 0.05)
	var old, young, n, m float64
	for i := range r.Basis {
		if r.Basis[i] == Estimated {
			d := float64(r.KgPerM[i]) - level(s)(i)/1000
			if s.Leaf[i] == 3 {
				young, n = young+d, n+1
			} else {
				old, m = old+d, m+1
			}
		}
	}
	assert.InDelta(t, 0, young/n, 0.02, "mean error of young vines, kg/m")
	assert.InDelta(t, 0, old/m, 0.02)

	// Only grown-up vines were weighed: the young ones have no value.
	s = p.stand(t, 2027)
	for i := range s.WeightG {
		if i%7 == 0 && s.Leaf[i] != 3 {
			weigh(s, i, level(s)(i))
		}
	}
	r = estimate(t, Input{Stand: s})
	assert.Equal(t, 200, r.Counts[None])
	require.NotEmpty(t, r.Notes)
	assert.Contains(t, r.Notes[len(r.Notes)-1], "No value for 200 vines in third leaf")
}

func TestEstimate_RadiusLeavesSomeWithout(t *testing.T) {
	s := field40.stand(t, 2027)
	for i := range 200 {
		if i%3 == 0 {
			weigh(s, i, wave(s)(i))
		}
	}
	r := estimate(t, Input{Stand: s, Options: Options{RadiusM: 6}})
	require.NoError(t, r.Kriging.Err)
	assert.Greater(t, r.Counts[None], 300)
	assert.Contains(t, r.Notes[len(r.Notes)-1], "no measured vine lies within 6 m")
}

// A high nugget is said to give the trend only; a field without structure that
// its estimates are little more than a mean.
func TestEstimate_SaysWhatTheNuggetMeans(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	noise := make([]float64, 4000)
	for i := range noise {
		noise[i] = 90 * r.NormFloat64()
	}
	p := plot{rows: 50, vines: 80, rowM: 2, vineM: 1}
	weighed := func(level func(x, y float64) float64, share float64) *Result {
		s := p.stand(t, 2027)
		weighEvery(s, 6, func(i int) float64 {
			return 450 + level(float64(s.Ground.X[i]), float64(s.Ground.Y[i])) + share*noise[i]
		})
		return estimate(t, Input{Stand: s})
	}
	hill := func(x, y float64) float64 { return 60 * math.Sin(x/13) * math.Sin(y/11) }
	noisy, clear := weighed(hill, 1), weighed(hill, 0.1)
	assert.Greater(t, noisy.Kriging.Nugget, highNugget)
	assert.Contains(t, noisy.Notes[0], "not the single vine")
	assert.Less(t, clear.Kriging.Nugget, 0.3)
	for _, n := range clear.Notes {
		assert.NotContains(t, n, "not the single vine")
	}
	assert.InDelta(t, 0.09, noisy.Kriging.LeaveOut.RMSE, 0.015)
	assert.Equal(t, 667, noisy.Kriging.LeaveOut.Vines)
}

// A covariate that helps is used and makes estimates surer; one that says nothing
// is left aside, and the report says so.
func TestEstimate_Covariate(t *testing.T) {
	s := field40.stand(t, 2027)
	r := rand.New(rand.NewPCG(8, 8))
	last, nothing := make([]float32, 800), make([]float32, 800)
	truth := make([]float64, 800)
	for i := range last {
		u := r.NormFloat64() // what makes each vine strong or weak in every year
		truth[i] = wave(s)(i) + 100*u
		last[i], nothing[i] = float32(0.6+0.08*u+0.01*r.NormFloat64()), float32(r.Float64())
	}
	last[3] = -1 // not known
	weighEvery(s, 5, func(i int) float64 { return truth[i] })
	errorOf := func(res *Result) float64 {
		sum, n := 0.0, 0.0
		for i, b := range res.Basis {
			if b == Estimated {
				d := float64(res.KgPerM[i]) - truth[i]/1000
				sum, n = sum+d*d, n+1
			}
		}
		return math.Sqrt(sum / n)
	}
	plain := estimate(t, Input{Stand: s})
	with := estimate(t, Input{Stand: s, Covariate: &Covariate{Name: "vigour of 2026", Values: last}})
	aside := estimate(t, Input{Stand: s, Covariate: &Covariate{Name: "a number", Values: nothing}})
	c := with.Kriging.Covariate
	require.NotNil(t, c)
	assert.True(t, c.Used)
	assert.InDelta(t, 0.1/0.08, c.Slope, 0.2)
	assert.Less(t, c.RMSE, c.RMSEWithout)
	assert.Less(t, errorOf(with), 0.8*errorOf(plain))
	assert.InDelta(t, plain.KgPerM[3], with.KgPerM[3], 1e-7, "where the covariate is not known, plain kriging")
	assert.False(t, aside.Kriging.Covariate.Used)
	assert.Equal(t, plain.KgPerM, aside.KgPerM)
	assert.Contains(t, aside.Notes[len(aside.Notes)-1], "a number was not used")
	flat := estimate(t, Input{Stand: s, Covariate: &Covariate{Name: "flat", Values: make([]float32, 800)}})
	assert.False(t, flat.Kriging.Covariate.Used)
	assert.Contains(t, flat.Kriging.Covariate.Why, "does not differ enough")
	none := estimate(t, Input{Stand: s, Covariate: &Covariate{Name: "none", Values: filled(800)}})
	assert.Contains(t, none.Kriging.Covariate.Why, "there are 0")
}

func TestBasis_Words(t *testing.T) {
	for b, want := range []string{"none", "measured", "calibrated", "estimated"} {
		text, err := Basis(b).MarshalText()
		require.NoError(t, err)
		assert.Equal(t, want, string(text))
	}
}

// A vine whose metres of row nobody knows has no value, and the notes say so.
func TestEstimate_MetresNotKnown(t *testing.T) {
	s := plot{rows: 1, vines: 1, rowM: 2}.stand(t, 2027)
	s.WeightG[0] = 500
	r := estimate(t, Input{Stand: s})
	assert.Equal(t, "none", r.Source(0))
	_, known := r.ProbabilityBelow(0, 0.3)
	assert.False(t, known)
	assert.Contains(t, r.Notes[0], "No value for 1 vine: the metres of row occupied are not known")
}
