package vigour

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/stand"
	"courson/geo/vine"
)

// anyInput draws a block in some state with some measures.
func anyInput(t *rapid.T, outer testing.TB, p plot) Input {
	p.rows, p.vines = rapid.IntRange(1, 12).Draw(t, "rows"), rapid.IntRange(1, 25).Draw(t, "vines")
	if rapid.Bool().Draw(t, "mixed ages") {
		p.planted = func(row, number int) int { return []int{2005, 2005, 2024, 2026}[(row*7+number)%4] }
	}
	s := p.stand(outer, 2027)
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	weighed, gaps := rapid.Float64Range(0, 1).Draw(t, "weighed"), rapid.Float64Range(0, 0.5).Draw(t, "gaps")
	noise := rapid.SampledFrom([]float64{0, 0.05, 5}).Draw(t, "noise")
	in := Input{Stand: s, Options: Options{RadiusM: rapid.SampledFrom([]float64{0, 0, 3, 30}).Draw(t, "radius"), Neighbours: rapid.SampledFrom([]int{0, 1, 8, 24}).Draw(t, "near")}}
	size := make([]float64, len(s.WeightG))
	for i := range size {
		size[i] = r.NormFloat64()
		if r.Float64() < gaps {
			s.Condition[i] = vine.Condition(r.IntN(9))
		}
		if r.Float64() < weighed {
			s.WeightG[i] = float32(max(0, 400+100*size[i]))
		}
		if r.Float64() < 0.5 {
			s.Score[i] = float32(r.IntN(6))
		}
	}
	for _, q := range []vine.Quantity{vine.CaneCount, vine.CaneDiameter, vine.CanopyIndex} {
		if rapid.Bool().Draw(t, string(q)) {
			in.Columns = append(in.Columns, column(s, q, func(i int) (float64, bool) {
				return max(0, 8+2*(size[i]+noise*r.NormFloat64())), r.Float64() < 0.6
			}))
		}
	}
	if rapid.Bool().Draw(t, "covariate") {
		c := &Covariate{Name: "image", Values: make([]float32, len(size))}
		for i := range c.Values {
			c.Values[i] = float32(size[i] + noise*r.NormFloat64())
		}
		in.Covariate = c
	}
	return in
}

// What was weighed stands as weighed, what is not there has no value, errors are
// never below 0, and nothing but numbers comes out.
func TestProperty_Estimate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		in := anyInput(rt, t, field40)
		s := in.Stand
		r, err := Estimate(in)
		require.NoError(rt, err)
		onlyNumbers(rt, s, r)
		for i := range r.Basis {
			occupied := r.OccupiedM[i]
			if s.WeightG[i] >= 0 && s.Condition[i].Living() {
				if want := s.WeightG[i] / 1000 / occupied; r.Basis[i] != Measured || abs(r.KgPerM[i]-want) > 1e-6*want {
					rt.Fatalf("vine %d, %g g on %g m, came out as %v, %g kg/m", i, s.WeightG[i], occupied, r.Basis[i], r.KgPerM[i])
				}
			}
			if r.Basis[i] == Measured && s.WeightG[i] < 0 {
				rt.Fatalf("vine %d was never weighed", i)
			}
			if r.Basis[i] >= Calibrated && !(r.SE[i] > 0) && r.Kriging.Fit.Nugget+r.Kriging.Fit.Sill > 0 && r.Basis[i] == Estimated {
				rt.Fatalf("vine %d is estimated without any error", i)
			}
		}
		if total := r.Counts[0] + r.Counts[1] + r.Counts[2] + r.Counts[3]; total != s.Ground.Len() {
			rt.Fatalf("%d vines of %d", total, s.Ground.Len())
		}
		if r.Kriging.Err == nil && r.Counts[Estimated] != r.Kriging.Estimated {
			rt.Fatalf("%d estimated, %d told", r.Counts[Estimated], r.Kriging.Estimated)
		}
	})
}

func abs(v float32) float32 { return max(v, -v) }

// The same vines give the same values, bit for bit, however their rows are
// stored.
func TestProperty_OrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		in := anyInput(rt, t, field40)
		a := in.Stand
		rows := len(a.Ground.Rows)
		p := field40
		p.rows, p.vines, p.reverseOrder = rows, a.Ground.Len()/rows, true
		b := p.stand(t, 2027)
		other := in
		other.Stand, other.Columns, other.Covariate = b, nil, nil
		to := make([]int, a.Ground.Len())
		for i, id := range a.Ground.ID {
			k, ok := b.Ground.IndexOf(id)
			require.True(rt, ok)
			to[i] = k
			b.Condition[k], b.Leaf[k], b.WeightG[k], b.Score[k] = a.Condition[i], a.Leaf[i], a.WeightG[i], a.Score[i]
		}
		for _, c := range in.Columns {
			o := Column{Quantity: c.Quantity, Values: make([]float32, len(to)), Known: make([]bool, len(to))}
			for i := range to {
				o.Values[to[i]], o.Known[to[i]] = c.Values[i], c.known(i)
			}
			other.Columns = append(other.Columns, o)
		}
		if in.Covariate != nil {
			other.Covariate = &Covariate{Name: "image", Values: make([]float32, len(to))}
			for i := range to {
				other.Covariate.Values[to[i]] = in.Covariate.Values[i]
			}
		}
		first, err := Estimate(in)
		require.NoError(rt, err)
		second, err := Estimate(other)
		require.NoError(rt, err)
		for i := range to {
			k := to[i]
			if first.KgPerM[i] != second.KgPerM[k] || first.SE[i] != second.SE[k] || first.Source(i) != second.Source(k) {
				rt.Fatalf("vine %d: %g ± %g %s, in another order %g ± %g %s", a.Ground.ID[i], first.KgPerM[i], first.SE[i], first.Source(i), second.KgPerM[k], second.SE[k], second.Source(k))
			}
		}
		require.Equal(rt, first.Notes, second.Notes)
		again, err := Estimate(in)
		require.NoError(rt, err)
		require.Equal(rt, first.KgPerM, again.KgPerM)
	})
}

func TestCompareLabels(t *testing.T) {
	rising := []string{"", "1", "2", "2a", "2b", "03", "10", "10a", "100", "A1", "A2", "A10", "B1"}
	for i, a := range rising {
		for k, b := range rising {
			got := compareLabels(a, b)
			require.Equal(t, i < k, got < 0, "%q %q", a, b)
			require.Equal(t, i > k, got > 0, "%q %q", a, b)
		}
	}
	require.NotZero(t, compareLabels("1", "01"))
	require.Equal(t, -compareLabels("1", "01"), compareLabels("01", "1"))
}

func TestRowsDeg(t *testing.T) {
	for _, deg := range []float64{0, 1, 45, 89, 90, 135, 179} {
		p := field40
		p.azimuthDeg = deg
		require.InDelta(t, deg, rowsDeg(p.stand(t, 2027).Ground), 0.01)
		p.azimuthDeg = deg + 180
		got := rowsDeg(p.stand(t, 2027).Ground)
		require.InDelta(t, deg, got, 0.01)
	}
	require.Zero(t, rowsDeg(plot{rows: 1, vines: 1, rowM: 2, vineM: 1}.stand(t, 2027).Ground))
	require.Zero(t, rowsDeg(&stand.Ground{}))
}
