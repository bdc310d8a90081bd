package patch

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Tails of the gamma distribution from R 4.2.2 (pgamma).
func TestPearsonTail_EqualsR(t *testing.T) {
	for _, c := range []struct{ z, skew, want float64 }{
		{3, 0.5, 0.00542574535583623},
		{4, 1, 0.00229179120779142},
		{2, -0.5, 0.0082310109868449},
		{5, 0.02, 4.27587245505965e-07},
		{1, -1, 0.142876539501453},
	} {
		assert.InEpsilon(t, c.want, pearsonTail(c.z, c.skew), 1e-9, "z %g, skewness %g", c.z, c.skew)
	}
	assert.InEpsilon(t, TwoSided(3)/2, pearsonTail(3, 0), 1e-12)
	assert.InEpsilon(t, TwoSided(3)/2, pearsonTail(3, 2e-4), 1e-3, "joins up with the normal")
	assert.Zero(t, pearsonTail(3, -1), "beyond the end of the short tail")
}

// TestSkew: the skewness of the sum of k of n values is that of all ways to draw
// them.
func TestSkew(t *testing.T) {
	v := []float64{3.1, 2.7, 3.9, 4.4, 1.2, 0.8, 1.9, 9.5}
	l := newLopsided(v)
	for k := 1; k < len(v); k++ {
		var sums []float64
		for set := range uint(1) << len(v) {
			if bits.OnesCount(set) != k {
				continue
			}
			var s float64
			for i, x := range v {
				if set>>i&1 == 1 {
					s += x
				}
			}
			sums = append(sums, s)
		}
		mean, sd := moments(sums)
		var third float64
		for _, s := range sums {
			third += math.Pow((s-mean)/sd, 3) / float64(len(sums))
		}
		assert.InDelta(t, third, l.skew(float64(k)), 1e-9, "%d of them", k)
	}
}

// TestProbability_Lopsided: in noise with a long tail, the probability of strong
// surroundings is not too small: about 1 in 1000 lie below 0.001, where the
// normal one has several.
func TestProbability_Lopsided(t *testing.T) {
	st := plain.stand(t)
	x, y := make([]float64, st.Ground.Len()), make([]float64, st.Ground.Len())
	for i := range x {
		x[i], y[i] = float64(st.Ground.X[i]), float64(st.Ground.Y[i])
	}
	normal, corrected, n := 0, 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 3))
		v := make([]float64, len(x))
		for i := range v {
			v[i] = math.Exp(rng.NormFloat64())
		}
		got, err := GiStar(x, y, v, Reach{AlongM: 2.5, AcrossM: 2.5})
		require.NoError(t, err)
		shape := newLopsided(v)
		for _, l := range got {
			n++
			if l.P < 0.001 {
				normal++
			}
			if shape.probability(l) < 0.001 {
				corrected++
			}
		}
	}
	t.Logf("of %d: %d by the normal distribution, %d corrected", n, normal, corrected)
	assert.Greater(t, float64(normal), 0.004*float64(n))
	assert.Less(t, float64(corrected), 0.002*float64(n))
}

// TestField_OwnDirections: a reach turned vine by vine is that turned for all.
func TestField_OwnDirections(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 3))
	n := 500
	x, y, v, along := make([]float64, n), make([]float64, n), make([]float64, n), make([]XY, n)
	for i := range x {
		x[i], y[i], v[i] = 40*rng.Float64(), 40*rng.Float64(), rng.Float64()
		along[i] = XY{math.Sin(0.7), math.Cos(0.7)}
		if i%2 == 1 {
			along[i] = along[i].times(-1) // either way along a row is the same
		}
	}
	want, err := GiStar(x, y, v, Reach{AlongM: 6, AcrossM: 2, AzimuthDeg: 0.7 * 180 / math.Pi})
	require.NoError(t, err)
	got := giStar(newField(x, y, v, Reach{AlongM: 6, AcrossM: 2, AzimuthDeg: -50}, along), v)
	for i := range want {
		require.Equal(t, want[i].Neighbours, got[i].Neighbours)
		require.InDelta(t, want[i].Z, got[i].Z, 1e-9)
	}
}
