package patch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/krige"
	"courson/geo/stand"
	"courson/geo/vine"
)

// sampled measures a share of the vines and kriges the others: the probability
// of lying under the limit.
func sampled(t testing.TB, st *stand.Stand, values Column, rng *rand.Rand, share, limit float64) (Sample, bool) {
	s := Sample{Stand: st, Probability: NewColumn(len(values.Value)), Measured: NewColumn(len(values.Value))}
	var points []krige.Point
	g := st.Ground
	for i, v := range values.Value {
		if st.Condition[i].Living() && rng.Float64() < share {
			s.Measured.Set(i, v)
			points = append(points, krige.Point{X: float64(g.X[i]), Y: float64(g.Y[i]), V: v})
		}
	}
	bins, err := krige.Empirical(points, krige.Bins{})
	require.NoError(t, err)
	fit, err := krige.FitBest(bins)
	if err != nil {
		return s, false
	}
	s.NuggetShare = fit.NuggetShare()
	field, err := krige.NewField(points, fit.Model, krige.Neighbours{Most: 16})
	require.NoError(t, err)
	w := field.Worker()
	for i := range values.Value {
		e := w.At(float64(g.X[i]), float64(g.Y[i]))
		switch {
		case !st.Condition[i].Living() || e.Used == 0:
		case e.Variance > 0:
			s.Probability.Set(i, math.Erfc((e.Value-limit)/math.Sqrt(2*e.Variance))/2)
		case e.Value < limit:
			s.Probability.Set(i, 1)
		default:
			s.Probability.Set(i, 0)
		}
	}
	return s, true
}

// TestLikely_PureNoise: where 5 % of the vines were measured and the others
// kriged, blocks without structure have no likely weak area in at least 95 % of
// cases, though the kriged map alone would show one in many.
func TestLikely_PureNoise(t *testing.T) {
	st := plot.stand(t)
	n, withArea, shown := fewer(200), 0, 0
	for seed := range n {
		rng := rand.New(rand.NewPCG(uint64(seed), 31))
		values := noise(st, rng, 0.6, 0.15)
		// A limit just under the mean: the most tempting case.
		s, ok := sampled(t, st, values, rng, 0.05, 0.59)
		if !ok {
			continue
		}
		s.Level = 0.7
		got, err := Likely(s)
		require.NoError(t, err)
		if len(got.Patches) > 0 {
			withArea++
		}
		at := 0
		for i, p := range s.Probability.Value {
			if s.Probability.Seen[i] && p >= s.Level {
				at++
			}
		}
		if at > 100 {
			shown++
		}
	}
	t.Logf("%d blocks of noise: %d with a likely weak area; %d have more than 100 vines at the level", n, withArea, shown)
	assert.LessOrEqual(t, withArea, n/20)
	assert.Greater(t, shown, n/10)
}

// TestLikely_PlantedTruth: a large weak area is found from one vine in ten.
func TestLikely_PlantedTruth(t *testing.T) {
	s := scene{rows: 40, vines: 60, rowM: 2, vineM: 1}
	st := s.stand(t)
	var inside, outside, missed, areas int
	for seed := range 10 {
		rng := rand.New(rand.NewPCG(uint64(seed), 37))
		for i := range st.Condition {
			st.Condition[i] = vine.Bearing
		}
		lose(st, rng, 0.05)
		values := noise(st, rng, 0.6, 0.12)
		planted := plant(st, values, 0.3, ellipse{XY{8, -5}, 19, 16, 30})
		sample, ok := sampled(t, st, values, rng, 0.1, 0.5)
		require.True(t, ok)
		got, err := Likely(sample)
		require.NoError(t, err)
		require.NoError(t, got.Refused)
		areas += len(got.Patches)
		in := map[int]bool{}
		for k, p := range got.Patches {
			requireValid(t, p.Outline)
			assert.InEpsilon(t, float64(len(p.Vines))*s.rowM*s.vineM, p.AreaM2, 0.01)
			assert.InEpsilon(t, p.AreaM2/s.rowM, p.RowM, 0.01)
			assert.GreaterOrEqual(t, p.LeastProbability, 0.8)
			assert.GreaterOrEqual(t, p.Probability, p.LeastProbability)
			assert.Equal(t, len(p.Vines), p.Living+p.Gaps)
			assert.GreaterOrEqual(t, p.Estimated, 10)
			assert.Greater(t, p.Measured, 0)
			for _, i := range p.Vines {
				assert.Equal(t, int32(k), got.PatchOf[i])
				in[i] = true
			}
		}
		for i := range planted {
			switch {
			case !st.Condition[i].Living():
			case in[i] && planted[i]:
				inside++
			case in[i]:
				outside++
			case planted[i]:
				missed++
			}
		}
	}
	recall, wrong := float64(inside)/float64(inside+missed), float64(outside)/float64(inside+outside)
	t.Logf("recall %.2f, outside %.2f, %d areas in 10 blocks", recall, wrong, areas)
	assert.GreaterOrEqual(t, recall, 0.5)
	assert.LessOrEqual(t, wrong, 0.1)
}

func TestLikely_Refusals(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	good := func() Sample {
		st := plot.stand(t)
		values := noise(st, rng, 0.6, 0.1)
		plant(st, values, 0.4, ellipse{XY{}, 15, 12, 0})
		s, ok := sampled(t, st, values, rng, 0.1, 0.5)
		require.True(t, ok)
		return s
	}
	for _, c := range []struct {
		name    string
		change  func(*Sample)
		refused error
		want    error
	}{
		{"as it is", func(*Sample) {}, nil, nil},
		{"all nugget", func(s *Sample) { s.NuggetShare = 1 }, ErrNoStructure, nil},
		{"nothing measured", func(s *Sample) { clear(s.Measured.Seen) }, ErrFewValues, nil},
		{"all equal", func(s *Sample) { clear(s.Measured.Value) }, ErrNoSpread, nil},
		{"all dead", func(s *Sample) {
			for i := range s.Stand.Condition {
				s.Stand.Condition[i] = vine.Dead
			}
		}, ErrFewValues, nil},
		{"no row spacing and one row", func(s *Sample) {
			*s = Sample{Stand: scene{rows: 1, vines: 30, vineM: 1}.stand(t), Probability: NewColumn(30), Measured: NewColumn(30)}
		}, ErrSpacing, nil},
		{"no estimates", func(s *Sample) { clear(s.Probability.Seen) }, nil, nil},
		{"no stand", func(s *Sample) { s.Stand = nil }, nil, ErrColumn},
		{"short column", func(s *Sample) { s.Probability = NewColumn(3) }, nil, ErrColumn},
		{"not a probability", func(s *Sample) { s.Probability.Set(4, 1.2) }, nil, ErrOption},
		{"not a number", func(s *Sample) { s.Probability.Set(4, math.NaN()) }, nil, ErrNotFinite},
		{"nugget above 1", func(s *Sample) { s.NuggetShare = 1.5 }, nil, ErrOption},
		{"level below a half", func(s *Sample) { s.Level = 0.3 }, nil, ErrOption},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := good()
			c.change(&s)
			got, err := Likely(s)
			require.ErrorIs(t, err, c.want)
			require.ErrorIs(t, got.Refused, c.refused)
			if c.name == "as it is" {
				require.NotEmpty(t, got.Patches)
				return
			}
			assert.Empty(t, got.Patches)
			assert.False(t, math.IsNaN(got.Moran.I+got.Moran.Z))
		})
	}
}
