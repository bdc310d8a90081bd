package rate

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStability(t *testing.T) {
	st := plain.stand(t)
	n := st.Ground.Len()
	make3 := func(name string, at func(i int) float32) Column {
		c := Column{Name: name, Values: make([]float32, n)}
		for i := range c.Values {
			c.Values[i] = at(i)
		}
		return c
	}
	a := make3("2025", func(i int) float32 { return float32(1 + i%3) })
	b := make3("2026", func(i int) float32 { return 0.5 * float32(1+i%3) }) // weaker everywhere
	c := make3("2027", func(i int) float32 {                                // every tenth vine goes one up
		if i%10 == 0 {
			return float32(1 + (i+1)%3)
		}
		return float32(1 + i%3)
	})
	c.Values[7] = -1
	s, err := Stability(st, []Column{a, b, c}, 3)
	require.NoError(t, err)
	require.Len(t, s.Pairs, 3)
	assert.Equal(t, 1.0, s.Pairs[0].Rand)
	assert.Zero(t, s.Pairs[0].Changed, "a season that is weaker everywhere changes nothing")
	assert.Equal(t, n-1, s.Pairs[1].Vines)
	assert.Equal(t, n/10, s.Pairs[1].Changed)
	assert.InDelta(t, 0.1, s.Pairs[1].ChangedShare(), 0.001)
	assert.InDelta(t, 0.74, s.Pairs[1].Rand, 0.03)
	assert.Equal(t, []int{n - 1, n - 1 - n/10}, []int{s.Vines, s.Always})
	assert.Equal(t, []uint8{1, 0, 255}, []uint8{s.Times[0], s.Times[1], s.Times[7]})
	assert.Contains(t, s.Text[0], "0 of 4800 vines (0 %) change zone")
	assert.InDelta(t, 1, s.Seasons[0].Explained, 1e-12)

	_, err = Stability(st, []Column{a}, 3)
	require.ErrorIs(t, err, ErrFewValues)
	_, err = Stability(st, []Column{a, b}, 4)
	require.ErrorIs(t, err, ErrDistinct)
	require.ErrorContains(t, err, "2025")
	_, err = Stability(st, []Column{a, make3("flat", func(int) float32 { return 1 })}, 3)
	require.ErrorIs(t, err, ErrNoSpread)
	_, err = Agree([]uint8{1, 0}, []uint8{0, 1})
	require.ErrorIs(t, err, ErrFewValues)
	_, err = Agree([]uint8{1}, []uint8{0, 1})
	require.ErrorIs(t, err, ErrInput)
}

// Chance alone: two seasons of noise agree by 0.
func TestStability_Noise(t *testing.T) {
	st := plain.stand(t)
	rng := rand.New(rand.NewPCG(5, 5))
	columns := []Column{{Name: "a"}, {Name: "b"}}
	for k := range columns {
		for range st.Ground.Len() {
			columns[k].Values = append(columns[k].Values, rng.Float32())
		}
	}
	s, err := Stability(st, columns, 3)
	require.NoError(t, err)
	assert.InDelta(t, 0, s.Pairs[0].Rand, 0.01)
	assert.InDelta(t, 2.0/3, s.Pairs[0].ChangedShare(), 0.05)
}

func TestNumber_FindsClearGroups(t *testing.T) {
	st := plain.stand(t)
	rng := rand.New(rand.NewPCG(2, 2))
	for groups := 2; groups <= 4; groups++ {
		columns := []Column{{Name: "a"}, {Name: "b"}}
		for i := range st.Ground.Len() {
			g := float64(i % groups)
			columns[0].Values = append(columns[0].Values, float32(10+5*g+0.3*rng.NormFloat64()))
			columns[1].Values = append(columns[1].Values, float32(30+5*g*g-2*g+0.3*rng.NormFloat64()))
		}
		a, err := Number(st, columns, Options{})
		require.NoError(t, err)
		require.Len(t, a.Indices, 5)
		assert.Equal(t, []int{groups, groups}, []int{a.ByPerformance, a.ByEntropy})
		assert.Contains(t, a.Text[0], "Zones are clearest with")
		for k, x := range a.Indices {
			require.Empty(t, x.Refused)
			assert.True(t, x.Performance >= 0 && x.Performance <= 1 && x.ModifiedEntropy <= 1)
			if k > 0 {
				assert.Greater(t, x.Explained, a.Indices[k-1].Explained-1e-9)
			}
		}
		assert.Greater(t, a.Indices[groups-2].Explained, 0.97)
		if groups == 2 {
			again, err := Number(st, columns, Options{})
			require.NoError(t, err)
			assert.Equal(t, a, again)
		}
	}
}

// Few different values: what cannot be asked is said, the rest is there.
func TestNumber_FewValues(t *testing.T) {
	st := plain.stand(t)
	c := Column{Name: "score"}
	for i := range st.Ground.Len() {
		c.Values = append(c.Values, float32(i%3))
	}
	a, err := Number(st, []Column{c}, Options{})
	require.NoError(t, err)
	assert.Equal(t, 3, a.ByPerformance)
	assert.Contains(t, a.Indices[2].Refused, "only 3 different values")
	for i := range c.Values {
		c.Values[i] = 1
	}
	_, err = Number(st, []Column{c}, Options{})
	require.ErrorIs(t, err, ErrNoSpread)
}

// A large block: indices rest on a part of the vines, and classes found on a part
// of them are those of all.
func TestLargeBlock(t *testing.T) {
	st := scene{rows: 150, vines: 200, rowM: 2, vineM: 1}.stand(t)
	columns := []Column{waves(st, "a", 1, 0.05), waves(st, "b", 2, 0.05)}
	a, err := Number(st, columns, Options{Method: FuzzyMethod})
	require.NoError(t, err)
	assert.Equal(t, indexOn, a.Points)
	f, err := read(st, columns)
	require.NoError(t, err)
	p, err := KMeans(f.z, f.d, 3, 10, 1)
	require.NoError(t, err)
	all := &Partition{Centres: [][]float64{{-1.2, -1.2}, {0, 0}, {1.2, 1.2}}}
	all.run(f.z, f.d, 0)
	assert.InEpsilon(t, all.WithinSS, p.WithinSS, 1e-3)
	assert.InDelta(t, p.Explained(), a.Indices[1].Explained, 0.05)
	u, err := FuzzyMeans(f.z, f.d, 3, 2, 3, 1)
	require.NoError(t, err)
	whole := fuzzyFrom(f.z, f.d, all.Centres, 2)
	assert.InEpsilon(t, whole.Objective, u.Objective, 1e-4)
	for i := 0; i < len(u.Membership); i += 3 {
		assert.InDelta(t, 1, u.Membership[i]+u.Membership[i+1]+u.Membership[i+2], 1e-9)
	}
}

func TestClustering_OddInput(t *testing.T) {
	_, err := NaturalBreaks(nil, 2)
	require.ErrorIs(t, err, ErrFewValues)
	_, err = NaturalBreaks([]float64{1, 2}, 0)
	require.ErrorIs(t, err, ErrOption)
	_, err = NaturalBreaks([]float64{1, 1, 2}, 3)
	require.ErrorIs(t, err, ErrDistinct)
	_, err = KMeans(nil, 2, 2, 1, 1)
	require.ErrorIs(t, err, ErrFewValues)
	_, err = KMeans([]float64{1, 2, 3}, 2, 1, 1, 1)
	require.ErrorIs(t, err, ErrOption)
	_, err = KMeans([]float64{1, 2, 3}, 1, 2, 0, 1)
	require.ErrorIs(t, err, ErrOption)
	got, err := NaturalBreaks([]float64{5, 5, 5}, 1)
	require.NoError(t, err)
	assert.Zero(t, got[0].Explained())
	p, err := KMeans([]float64{5, 5, 5}, 1, 1, 1, 1)
	require.NoError(t, err)
	assert.Zero(t, p.Explained())
	// Large values with little spread lose nothing.
	big, err := NaturalBreaks([]float64{1e9, 1e9 + 1, 1e9 + 5, 1e9 + 6}, 2)
	require.NoError(t, err)
	assert.InDelta(t, 1, big[1].WithinSS, 1e-6)
	assert.Equal(t, []int{2, 2}, big[1].Sizes)
	assert.Equal(t, []int{0, 0, 1, 1, 1}, []int{big[1].Class(0), big[1].Class(1e9 + 1), big[1].Class(1e9 + 3), big[1].Class(1e9 + 6), big[1].Class(2e9)})
}
