package rate

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patchy is three bands of vigour, the strongest in a corner of 6 rows x 20 vines,
// 240 m² less what smoothing rounds off.
func patchy(t *testing.T) (columns []Column, s scene) {
	rng := rand.New(rand.NewPCG(3, 3))
	st := plain.stand(t)
	c := Column{Name: "vigour", Values: make([]float32, st.Ground.Len())}
	for i := range c.Values {
		v := 0.3
		if st.Ground.Row[i] >= 30 {
			v = 0.6
		}
		if st.Ground.Row[i] >= 54 && st.Ground.Number[i] <= 20 {
			v = 0.9
		}
		c.Values[i] = float32(v + 0.02*rng.NormFloat64())
	}
	return []Column{c}, plain
}

// The remedy's settings, taken up, keep every zone; and it says what to change.
func TestMake_Remedy(t *testing.T) {
	columns, s := patchy(t)
	st := s.stand(t)
	for name, c := range map[string]struct {
		o    Options
		says string
	}{
		"least area":  {Options{}, "To keep all 3 zones, set the least area to 230 m² instead of 1000; or ask for fewer zones"},
		"whole rows":  {Options{WholeRows: true, LeastM2: 100}, "let zones end within rows"},
		"wide passes": {Options{PassRows: 60, LeastM2: 100}, "do without passes of 60 rows"},
		"both":        {Options{WholeRows: true}, "set the least area to 230 m² instead of 1000 and let zones end within rows"},
	} {
		t.Run(name, func(t *testing.T) {
			z := makeZones(t, st, columns, c.o)
			require.Less(t, len(z.List), 3)
			require.NotNil(t, z.Remedy)
			r := z.Remedy
			assert.Contains(t, r.Text, c.says)
			assert.True(t, slices.ContainsFunc(z.Notes, func(n string) bool { return strings.HasSuffix(n, r.Text+".") }), "%v", z.Notes)
			o := c.o
			o.LeastM2, o.WidthM, o.PassRows, o.WholeRows, o.Rounds = r.LeastM2, r.WidthM, r.PassRows, r.WholeRows, r.Rounds
			again := makeZones(t, st, columns, o)
			assert.Len(t, again.List, 3)
			assert.Nil(t, again.Remedy)
		})
	}
	whole := makeZones(t, st, columns, Options{LeastM2: 200})
	assert.Nil(t, whole.Remedy, "nothing is lost")
	one := makeZones(t, st, columns, Options{Zones: 2, LeastM2: 5000})
	require.Len(t, one.List, 1)
	assert.Contains(t, one.Notes[0], "1 of 2 zones is gone: it had no part left")
	_, err := one.Rates(Request{Material: Materials()[1], Aim: EvenOut, Rule: ByZone, ByZone: []float64{1, 2}})
	assert.ErrorContains(t, err, "2 rates or factors for 1 zone:")
}

// Zones that were kept give the same rates, rows, ground and comparison as those
// that were made; on other ground they are refused.
func TestRestore(t *testing.T) {
	columns, s := patchy(t)
	st := s.stand(t)
	z := makeZones(t, st, columns, Options{LeastM2: 200})
	kept, err := Restore(s.stand(t), slices.Clone(z.Zone), z.List, z.Scale)
	require.NoError(t, err)
	for name, q := range map[string]Request{
		"by zone": {Material: Materials()[1], Aim: EvenOut, Rule: ByZone, ByZone: []float64{15, 10, 5}, Budget: 6000},
		"linear":  {Material: Materials()[1], Aim: EvenOut, Rule: Linear, Base: 10, Slope: -3},
		"need":    {Material: Materials()[1], Aim: EvenOut, Rule: Need, Target: 0.9, PerUnit: 20},
	} {
		was, err := z.Rates(q)
		require.NoError(t, err, name)
		now, err := kept.Rates(q)
		require.NoError(t, err, name)
		assert.Equal(t, was, now, name)
		rowsWas, err := z.Stretches(was)
		require.NoError(t, err)
		rowsNow, err := kept.Stretches(now)
		require.NoError(t, err)
		assert.Equal(t, rowsWas, rowsNow, name)
	}
	assert.Equal(t, z.Outlines(), kept.Outlines())
	assert.Equal(t, z.Ground(), kept.Ground())

	other := s
	other.vineM = 1.01
	_, err = Restore(other.stand(t), z.Zone, z.List, z.Scale)
	require.ErrorIs(t, err, ErrGround)
	assert.ErrorContains(t, err, "drawn anew")
	other = s
	other.rows--
	_, err = Restore(other.stand(t), z.Zone, z.List, z.Scale)
	require.ErrorIs(t, err, ErrInput)
	_, err = Restore(st, z.Zone, z.List[:2], z.Scale)
	require.ErrorIs(t, err, ErrInput)
}
