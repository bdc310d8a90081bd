package vigour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
)

// On blocks whose truth is known the surface is nearer to the vigour of the place
// than what was weighed at the vine, at weighed vines too: what single vines add is
// left out. The vigour of the place is the truth less that, by the way the block
// is made.
func TestSurface_IsOfThePlace(t *testing.T) {
	p := plot{rows: 30, vines: 45, rowM: 2.2, vineM: 1.1}
	s := p.stand(t, 2027)
	truth := grown(p, s, 0.6, 0.12, 0.10, 5)
	place := grown(p, s, 0.6, 0.12, 0, 5)
	weighEvery(s, 2, func(i int) float64 { return 1000 * truth[i] })
	in := Input{Stand: s}
	values, se, err := Surface(in)
	require.NoError(t, err)
	one := estimate(t, in)

	var own, smooth, n float64
	for i := range values {
		if !s.Condition[i].Living() {
			assert.Negative(t, values[i])
			continue
		}
		require.GreaterOrEqual(t, values[i], float32(0))
		require.Greater(t, se[i], float32(0))
		if one.Basis[i] == Measured {
			n++
			own += math.Abs(float64(one.KgPerM[i]) - place[i])
			smooth += math.Abs(float64(values[i]) - place[i])
		}
	}
	require.Greater(t, n, 500.0)
	assert.Less(t, smooth/n, 0.7*own/n, "the surface lies nearer to the place than the weighed vines do")
}

func TestSurface_Refuses(t *testing.T) {
	p := plot{rows: 10, vines: 20, rowM: 2, vineM: 1}
	_, _, err := Surface(Input{Stand: p.stand(t, 2027)})
	require.ErrorIs(t, err, ErrFewVines)
	_, _, err = Surface(Input{Stand: &stand.Stand{}})
	require.ErrorIs(t, err, ErrInput)
}
