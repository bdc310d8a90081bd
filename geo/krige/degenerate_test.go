package krige

import (
	"encoding/binary"
	"math"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func line(n int, v func(i int) float64) []Point {
	out := make([]Point, n)
	for i := range out {
		out[i] = Point{X: float64(i), Y: 2 * float64(i), V: v(i)}
	}
	return out
}

func wavy(i int) float64 { return math.Sin(float64(i) * 1.7) }

// What cannot be computed is refused by name, never answered with no number.
func TestFitAlong_Refuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name   string
		points []Point
		angle  float64
		edges  []float64
		want   error
	}{
		{"nothing", nil, 0, nil, ErrFewPoints},
		{"one point", line(1, wavy), 0, nil, ErrFewPoints},
		{"two points", line(2, wavy), 0, nil, ErrFewPoints},
		{"all on one spot", []Point{{V: 1}, {V: 2}, {V: 3}}, 0, nil, ErrNoExtent},
		{"all equal", line(30, func(int) float64 { return 4 }), 0, nil, ErrNoSpread},
		{"a value that is no number", append(line(30, wavy), Point{V: nan}), 0, nil, ErrNotFinite},
		{"a place at infinity", append(line(30, wavy), Point{X: inf}), 0, nil, ErrNotFinite},
		{"a place beyond reach", append(line(30, wavy), Point{X: 1e200}), 0, nil, ErrNotFinite},
		{"a value beyond reach", append(line(30, wavy), Point{V: 1e300}), 0, nil, ErrNotFinite},
		{"a negative error", append(line(30, wavy), Point{E: -1}), 0, nil, ErrNotFinite},
		{"no direction", line(30, wavy), nan, nil, ErrNotFinite},
		{"edges that fall", line(30, wavy), 0, []float64{3, 2}, ErrModel},
		{"an edge at 0", line(30, wavy), 0, []float64{0, 2}, ErrModel},
		{"an edge that is no number", line(30, wavy), 0, []float64{nan}, ErrModel},
		{"one class only", line(30, wavy), 0, []float64{5}, ErrFewPoints},
		{"no pair near enough", line(30, wavy), 0, []float64{0.1, 0.2, 0.3}, ErrFewPoints},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitAlong(c.points, c.angle, c.edges)
			require.ErrorIs(t, err, c.want)
			if c.want != ErrNotFinite || !math.IsNaN(c.angle) {
				bins, err := Empirical(c.points, Bins{Edges: c.edges})
				if err == nil {
					_, err = FitBest(bins)
				}
				require.ErrorIs(t, err, c.want)
			}
		})
	}
	// Points along one line have a variogram.
	fit, err := FitAlong(line(40, wavy), 26.565, nil)
	require.NoError(t, err)
	require.NoError(t, fit.Check())
	// Bins that no point can have made.
	for _, b := range []Bin{{1, nan, 1}, {1, 1, inf}, {0, 1, 1}, {1, -1, 1}, {1, 1, -1}, {1, 0, 1}} {
		_, err := FitModel(Spherical, []Bin{b, {1, 2, 1}, {1, 3, 1}})
		require.ErrorIs(t, err, ErrNotFinite, "%+v", b)
	}
}

func TestNewField_Refuses(t *testing.T) {
	good := Model{Shape: Spherical, Nugget: 1, Sill: 1, Range: 10}
	with := func(change func(*Model)) Model {
		m := good
		change(&m)
		return m
	}
	for _, c := range []struct {
		name   string
		points []Point
		model  Model
		near   Neighbours
		want   error
	}{
		{"nothing", nil, good, Neighbours{}, ErrFewPoints},
		{"one point", line(1, wavy), good, Neighbours{}, ErrFewPoints},
		{"one spot", []Point{{V: 1}, {V: 2}}, good, Neighbours{}, ErrNoExtent},
		{"a value that is no number", []Point{{V: 1}, {X: 1, V: math.NaN()}}, good, Neighbours{}, ErrNotFinite},
		{"an error that is no number", []Point{{V: 1}, {X: 1, E: math.NaN()}}, good, Neighbours{}, ErrNotFinite},
		{"more than can be used at once", line(4001, wavy), good, Neighbours{}, ErrTooMany},
		{"fewer than none", line(9, wavy), good, Neighbours{Most: -1}, ErrModel},
		{"a radius below 0", line(9, wavy), good, Neighbours{Radius: -1}, ErrModel},
		{"a radius that is no number", line(9, wavy), good, Neighbours{Radius: math.NaN()}, ErrModel},
		{"a step that is no number", line(9, wavy), good, Neighbours{Step: math.Inf(1)}, ErrModel},
		{"no model", line(9, wavy), Model{}, Neighbours{}, ErrModel},
		{"no variance", line(9, wavy), with(func(m *Model) { m.Nugget, m.Sill = 0, 0 }), Neighbours{}, ErrModel},
		{"a nugget below 0", line(9, wavy), with(func(m *Model) { m.Nugget = -1 }), Neighbours{}, ErrModel},
		{"a sill that is no number", line(9, wavy), with(func(m *Model) { m.Sill = math.NaN() }), Neighbours{}, ErrNotFinite},
		{"no range", line(9, wavy), with(func(m *Model) { m.Range = 0 }), Neighbours{}, ErrModel},
		{"a ratio above 1", line(9, wavy), with(func(m *Model) { m.Ratio = 1.5 }), Neighbours{}, ErrModel},
		{"another shape", line(9, wavy), with(func(m *Model) { m.Shape = "linear" }), Neighbours{}, ErrModel},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewField(c.points, c.model, c.near)
			require.ErrorIs(t, err, c.want)
		})
	}
}

func TestField_OddPlaces(t *testing.T) {
	smooth := Model{Shape: Spherical, Sill: 1, Range: 10}
	points := line(20, wavy)
	for _, near := range []Neighbours{{}, {Most: 5}, {Radius: 4}} {
		f, err := NewField(points, smooth, near)
		require.NoError(t, err)
		w := f.Worker()
		for _, v := range []float64{math.NaN(), math.Inf(1), 1e300} {
			assert.Zero(t, w.At(v, 0))
			assert.Zero(t, w.At(0, v))
		}
		far := w.At(1e9, 1e9)
		if near.Radius > 0 {
			assert.Zero(t, far, "nothing is near")
		} else {
			assert.GreaterOrEqual(t, far.Variance, 1.0, "no less than the sill")
		}
	}
	// Two places nearer to each other than numbers can tell in a field without
	// nugget: still an answer.
	f, err := NewField([]Point{{X: 1, V: 1}, {X: 1 + 1e-15, V: 3}, {X: 5, V: 2}, {X: 9, V: 1}}, smooth, Neighbours{Most: 4})
	require.NoError(t, err)
	got := f.Worker().At(3, 0)
	assert.NotZero(t, got.Used)
	assert.InDelta(t, 2, got.Value, 1)
}

// Points on one spot count as their mean, errors as that of a mean.
func TestField_Duplicates(t *testing.T) {
	m := Model{Shape: Exponential, Nugget: 0.2, Sill: 1, Range: 10}
	once, err := NewField([]Point{{V: 2, E: 0.1}, {X: 5, V: 4}, {X: 9, Y: 3, V: 1}}, m, Neighbours{})
	require.NoError(t, err)
	thrice, err := NewField([]Point{{V: 1, E: 0.3}, {X: 5, V: 4}, {V: 3, E: 0.3}, {X: 9, Y: 3, V: 1}, {V: 2, E: 0.3}}, m, Neighbours{})
	require.NoError(t, err)
	a, b := once.Worker().At(2, 1), thrice.Worker().At(2, 1)
	assert.InDelta(t, a.Value, b.Value, 1e-12)
	assert.InDelta(t, a.Variance, b.Variance, 1e-12)
	assert.Equal(t, 3, b.Used)
}

// Of points at one distance those that come first are taken, also where
// rounding pulls their distances apart.
func TestField_Ties(t *testing.T) {
	m := Model{Shape: Spherical, Nugget: 0.2, Sill: 1, Range: 30}
	around := []Point{{X: 100, Y: 110, V: 1}, {X: 110, Y: 100, V: 2}, {X: 100, Y: 90, V: 4}, {X: 90, Y: 100, V: 8}}
	near := Neighbours{Most: 2, Step: 0.01}
	for _, jitter := range []float64{0, 1e-9, 1e-4, -1e-4} {
		p := append([]Point{}, around...)
		p[0].Y += jitter
		p[1].X += jitter / 2
		p[3].X += jitter
		f, err := NewField(p, m, near)
		require.NoError(t, err)
		assert.InDelta(t, 1.5, f.Worker().At(100, 100).Value, 1e-4, "jitter %g", jitter)
	}
}

func TestMap_StopsAndChecks(t *testing.T) {
	f, err := NewField(line(30, wavy), Model{Shape: Spherical, Nugget: 1, Sill: 1, Range: 9}, Neighbours{Most: 8})
	require.NoError(t, err)
	xs := make([]float64, 5000)
	out := make([]Estimate, 5000)
	require.ErrorIs(t, f.Map(xs, xs[1:], out, nil), ErrLengths)
	require.ErrorIs(t, f.Map(xs, xs, out[1:], nil), ErrLengths)
	var asked atomic.Int32
	stop := func() bool { return asked.Add(1) > 3 }
	require.ErrorIs(t, f.Map(xs, xs, out, stop), ErrStopped)
	require.Less(t, asked.Load(), int32(10), "nothing goes on after a stop")
	_, err = f.LeaveOneOut(func() bool { return true })
	require.ErrorIs(t, err, ErrStopped)
	require.NoError(t, f.Map(nil, nil, nil, nil))
}

func TestLeaveOut_Some(t *testing.T) {
	p := line(40, wavy)
	for i := range p {
		if i%2 == 1 {
			p[i].E = 0.5
		}
	}
	m := Model{Shape: Spherical, Nugget: 0.1, Sill: 1, Range: 6}
	for _, near := range []Neighbours{{}, {Most: 12}, {Most: 100}} {
		f, err := NewField(p, m, near)
		require.NoError(t, err)
		cv, err := f.LeaveOut(func(p Point) bool { return p.E == 0 }, nil)
		require.NoError(t, err)
		assert.Equal(t, 20, cv.N)
		all, err := f.LeaveOneOut(nil)
		require.NoError(t, err)
		assert.Equal(t, 40, all.N)
	}
	two, err := NewField(p[:2], m, Neighbours{})
	require.NoError(t, err)
	cv, err := two.LeaveOneOut(nil)
	require.NoError(t, err)
	assert.Equal(t, 2, cv.N)
	assert.False(t, math.IsNaN(cv.Corr))
	// All equal: estimated without error, no correlation to speak of.
	f, err := NewField(line(9, func(int) float64 { return 3 }), m, Neighbours{})
	require.NoError(t, err)
	cv, err = f.LeaveOneOut(nil)
	require.NoError(t, err)
	assert.InDelta(t, 0, cv.RMSE, 1e-12)
	assert.False(t, math.IsNaN(cv.Corr))
}

func TestProbabilityBelow(t *testing.T) {
	for _, c := range []struct {
		name  string
		e     Estimate
		limit float64
		want  float64
	}{
		{"at the limit", Estimate{0.3, 0.01, 9}, 0.3, 0.5},
		{"1.96 deviates under", Estimate{0.3, 0.01, 9}, 0.3 + 0.1959964, 0.975},
		{"1.96 deviates over", Estimate{0.3, 0.01, 9}, 0.3 - 0.1959964, 0.025},
		{"measured, under", Estimate{0.3, 0, 9}, 0.4, 1},
		{"measured, at the limit", Estimate{0.3, 0, 9}, 0.3, 0},
		{"nothing known", Estimate{}, 0.4, 0.5},
		{"no limit", Estimate{0.3, 0.01, 9}, math.NaN(), 0.5},
	} {
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.want, c.e.ProbabilityBelow(c.limit), 1e-7) })
	}
}

// Whatever the bytes say: a typed refusal or numbers.
func FuzzField(f *testing.F) {
	f.Add([]byte{})
	seed := []byte{}
	for _, v := range []float64{0, 0, 1, 1, 0, 2, 0, 3, 1, 5, 5, 2, 1e9, 4, 3, math.NaN(), 1, 1, 1e-300, 0, 1} {
		seed = binary.LittleEndian.AppendUint64(seed, math.Float64bits(v))
	}
	f.Add(seed)
	f.Add(seed[:len(seed)-6*8])
	f.Fuzz(func(t *testing.T, raw []byte) {
		var v []float64
		for ; len(raw) >= 8 && len(v) < 120; raw = raw[8:] {
			v = append(v, math.Float64frombits(binary.LittleEndian.Uint64(raw)))
		}
		points := []Point{}
		for ; len(v) >= 3; v = v[3:] {
			points = append(points, Point{X: v[0], Y: v[1], V: v[2]})
		}
		fit, err := FitAlong(points, 30, nil)
		if err != nil {
			return
		}
		for _, near := range []Neighbours{{}, {Most: 3}, {Radius: 5, Step: 0.01}} {
			field, err := NewField(points, fit.Model, near)
			if err != nil {
				continue
			}
			w := field.Worker()
			for _, p := range points {
				for _, e := range []Estimate{w.At(p.X, p.Y), w.At(p.X+1, p.Y), w.Smooth(p.X, p.Y)} {
					if s := e.Value + e.Variance; math.IsNaN(s) || math.IsInf(s, 0) || e.Variance < 0 {
						t.Fatalf("%+v from %+v", e, fit)
					}
				}
			}
			cv, err := field.LeaveOneOut(nil)
			if s := cv.RMSE + cv.MSDR + cv.Corr + cv.MeanError; err != nil || math.IsNaN(s) || math.IsInf(s, 0) {
				t.Fatalf("%+v, %v", cv, err)
			}
		}
	})
}
