package krige

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// simulated gives points with a random field of a given model: their covariances'
// Cholesky factor times independent normal deviates (N. Cressie, Statistics for
// Spatial Data, 1993, section 3.6.1).
func simulated(t *testing.T, n int, side float64, m Model, seed uint64) []Point {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 2))
	points := make([]Point, n)
	for i := range points {
		points[i] = Point{X: r.Float64() * side, Y: r.Float64() * side}
	}
	s, c := math.Sincos(m.AngleDeg * math.Pi / 180)
	a := make([]float64, n*n)
	for i, p := range points {
		for j, q := range points[:i] {
			dx, dy := p.X-q.X, p.Y-q.Y
			h := math.Hypot(dx*s+dy*c, (dx*c-dy*s)/m.Ratio)
			a[i*n+j] = m.Nugget + m.Sill - m.Gamma(h)
		}
		a[i*n+i] = m.Nugget + m.Sill
	}
	require.True(t, factor(a, n))
	z := make([]float64, n)
	for i := range z {
		z[i] = r.NormFloat64()
	}
	for i := range points {
		points[i].V = dot(a[i*n:i*n+i+1], z[:i+1])
	}
	return points
}

// The way the longest range runs, and about how much longer it is, comes out of
// fields whose truth is known; and fields alike in all directions are mostly
// said to be so.
func TestFitAlong_FindsTheDirection(t *testing.T) {
	const fields = 12
	for _, c := range []struct {
		name         string
		truth        Model
		rowsDeg      float64
		ratio        [2]float64 // of the middle fit
		rightAtLeast int        // fields in which the direction is right
	}{
		{"longest along the rows", Model{Shape: Exponential, Nugget: 0.1, Sill: 0.9, Range: 12, AngleDeg: 30, Ratio: 0.4}, 30, [2]float64{0.25, 0.55}, 11},
		{"longest across the rows", Model{Shape: Spherical, Nugget: 0.2, Sill: 0.8, Range: 50, AngleDeg: 120, Ratio: 0.4}, 30, [2]float64{0.25, 0.6}, 11},
		{"alike in all directions", Model{Shape: Exponential, Nugget: 0.2, Sill: 0.8, Range: 10, Ratio: 1}, 30, [2]float64{0.7, 1}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			ratios, ranges, right := []float64{}, []float64{}, 0
			for seed := range uint64(fields) {
				fit, err := FitAlong(simulated(t, 300, 100, c.truth, seed), c.rowsDeg, nil)
				require.NoError(t, err)
				ratios, ranges = append(ratios, fit.Ratio), append(ranges, fit.Range*effective(fit.Shape))
				if fit.Ratio < 1 && math.Abs(fit.AngleDeg-c.truth.AngleDeg) < 1e-9 {
					right++
				}
			}
			slices.Sort(ratios)
			slices.Sort(ranges)
			middle := ratios[fields/2]
			t.Logf("ratios %v, middle range %.1f of %.1f, direction right in %d", ratios, ranges[fields/2], c.truth.Range*effective(c.truth.Shape), right)
			assert.GreaterOrEqual(t, middle, c.ratio[0])
			assert.LessOrEqual(t, middle, c.ratio[1])
			assert.GreaterOrEqual(t, right, c.rightAtLeast)
			assert.InEpsilon(t, c.truth.Range*effective(c.truth.Shape), ranges[fields/2], 0.5)
		})
	}
}

// effective turns the range of a shape into about the distance at which it ends.
func effective(s Shape) float64 {
	if s == Exponential {
		return 3
	}
	return 1
}

// With ranges alike, the classes of the two ways are those of Empirical.
func TestTwoWays_AreTheDirectionalClasses(t *testing.T) {
	points := scattered(300, 100, 3)
	edges := EvenEdges(40, 12)
	for _, angle := range []float64{0, 30, 77} {
		got := twoWays(points, angle, edges)
		want := []Bin{}
		for _, dir := range []float64{angle, angle + 90} {
			bins, err := Empirical(points, Bins{Edges: edges, DirDeg: dir, DirTolDeg: 45})
			require.NoError(t, err)
			want = append(want, bins...)
		}
		require.Len(t, got, len(want))
		for i, b := range want {
			assert.Equal(t, b.Pairs, got[i].Pairs)
			assert.InEpsilon(t, b.Dist, got[i].Dist, 1e-12)
			assert.InEpsilon(t, b.Gamma, got[i].Gamma, 1e-12)
			assert.InEpsilon(t, b.Dist, got.lags(1, false)[i].h, 1e-12)
		}
	}
}

// What a known error of reading adds to the differences is taken off again: the
// classes are on average those of the values without it.
func TestEmpirical_TakesKnownErrorsOff(t *testing.T) {
	truth := Model{Shape: Exponential, Nugget: 0.2, Sill: 0.8, Range: 10, Ratio: 1}
	r := rand.New(rand.NewPCG(5, 5))
	edges := EvenEdges(40, 8)
	var clean, read, raw [8]float64
	for seed := range uint64(20) {
		points := simulated(t, 250, 100, truth, seed)
		noisy, blind := slices.Clone(points), slices.Clone(points)
		for i := range points {
			e := []float64{0, 0.5, 1.5}[i%3]
			v := points[i].V + r.NormFloat64()*math.Sqrt(e)
			noisy[i].V, noisy[i].E, blind[i].V = v, e, v
		}
		for k, p := range [][]Point{points, noisy, blind} {
			bins, err := Empirical(p, Bins{Edges: edges})
			require.NoError(t, err)
			for i, b := range bins {
				[]*[8]float64{&clean, &read, &raw}[k][i] += b.Gamma / 20
			}
		}
	}
	for i := range clean {
		assert.InDelta(t, clean[i], read[i], 0.12, "class %d", i)
		assert.Greater(t, raw[i], clean[i]+0.5, "class %d", i)
	}
}
