package rate

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

func TestMake_FindsPlantedZones(t *testing.T) {
	for _, method := range []Method{KMeansMethod, NaturalMethod, FuzzyMethod} {
		for _, seasons := range []int{1, 2} {
			st := plain.stand(t)
			rng := rand.New(rand.NewPCG(1, 1))
			var columns []Column
			for range seasons {
				c := Column{Name: "vigour", Unit: "kg/m", Values: make([]float32, st.Ground.Len())}
				for i := range c.Values { // three bands of 20 rows
					c.Values[i] = float32(0.3+0.2*float64(st.Ground.Row[i]/20)) + float32(0.05*rng.NormFloat64())
				}
				columns = append(columns, c)
			}
			z := makeZones(t, st, columns, Options{Method: method})
			sound(t, st, z)
			require.Len(t, z.List, 3)
			wrong := 0
			for i, v := range z.Zone {
				if int(v) != 1+int(st.Ground.Row[i])/20 {
					wrong++
				}
			}
			assert.LessOrEqual(t, wrong, 10, "%v, %d seasons", method, seasons)
			for k, of := range z.List {
				assert.Equal(t, 1, of.Parts)
				assert.InDelta(t, 0.3+0.2*float64(k), of.Means[0], 0.01)
				assert.InDelta(t, 20*80*2, of.AreaM2, 30)
				assert.InDelta(t, of.AreaM2/2, of.RowM, 0.5)
			}
			assert.Greater(t, z.Kept, 0.85)
		}
	}
}

func TestMake_LeastAreaAndParts(t *testing.T) {
	st := plain.stand(t)
	c := Column{Name: "v", Values: make([]float32, st.Ground.Len())}
	for i := range c.Values {
		row, n := int(st.Ground.Row[i]), int(st.Ground.Number[i])
		switch {
		case row < 30 && n <= 40:
			c.Values[i] = 1
		case row >= 50 && n > 60: // 10 rows x 20 vines: 400 m²
			c.Values[i] = 1
		default:
			c.Values[i] = 2
		}
	}
	z := makeZones(t, st, []Column{c}, Options{Zones: 2, Rounds: -1})
	assert.Equal(t, []int{1, 1}, []int{z.List[0].Parts, z.List[1].Parts}, "the small part is merged")
	assert.Equal(t, 200, z.Changed)
	assert.InDelta(t, 2400, z.List[0].AreaM2, 1e-6)
	z = makeZones(t, st, []Column{c}, Options{Zones: 2, Rounds: -1, LeastM2: 300})
	assert.Equal(t, 2, z.List[0].Parts, "parts that are large enough may lie apart")
	assert.InDelta(t, 2800, z.List[0].AreaM2, 1e-6)
	assert.Zero(t, z.Changed)
}

// By hand: a lone vine takes the zone around it; a straight border, where each
// side has as many votes as the other or more, stays.
func TestMajority(t *testing.T) {
	z := zonesFrom(t, scene{rows: 9, vines: 12, rowM: 2, vineM: 1}, func(row, n int) uint8 {
		if row == 4 && n == 3 || n >= 6 {
			return 2
		}
		return 1
	})
	got := z.lie.majority(z.Zone, 2, 1)
	for i := range got {
		require.Equal(t, i%12 >= 6, got[i] == 2, "vine %d", i)
	}
	// One row of two and two: two votes each, the vine keeps its own.
	z = zonesFrom(t, scene{rows: 1, vines: 4, rowM: 2, vineM: 1}, func(_, n int) uint8 { return []uint8{2, 2, 1, 1}[n] })
	require.Equal(t, z.Zone, z.lie.majority(z.Zone, 2, 3))
}

// By hand: a small part goes to the zone of its longest border, not of the one
// named first; parts that grow large enough by a smaller one stay.
func TestMerge(t *testing.T) {
	z := zonesFrom(t, scene{rows: 20, vines: 20, rowM: 2, vineM: 1}, func(row, n int) uint8 {
		switch {
		case row < 3 && n < 8: // 3 rows by 8 m: 16 links to the row beside, 3 to the zone behind
			return 2
		case row < 3:
			return 1
		}
		return 3
	})
	z.lie.merge(z.Zone, 60)
	assert.Equal(t, uint8(3), z.Zone[0])
	z = zonesFrom(t, scene{rows: 20, vines: 20, rowM: 2, vineM: 1}, func(row, n int) uint8 {
		switch {
		case row < 2 && n < 10: // 40 m², beside zone 2 along 10 m and zone 3 along 4 m
			return 1
		case row < 5 && n < 10: // 60 m², beside zone 3 along 10 m and 6 m
			return 2
		}
		return 3
	})
	z.lie.merge(z.Zone, 80)
	assert.Equal(t, []uint8{2, 2, 3}, []uint8{z.Zone[0], z.Zone[4*20], z.Zone[5*20]}, "40 and 60 m² are 100")
}

func TestMake_ZoneGone(t *testing.T) {
	st := scene{rows: 10, vines: 40, rowM: 2, vineM: 1}.stand(t) // 800 m²
	z := makeZones(t, st, []Column{waves(st, "v", 1, 0.2)}, Options{})
	sound(t, st, z)
	require.Len(t, z.List, 1)
	require.Len(t, z.Small, 1)
	assert.Contains(t, z.Notes[0], "2 of 3 zones are gone")
	assert.InDelta(t, 0, z.Kept, 1e-9)
}

func TestMake_SnapsToPasses(t *testing.T) {
	for _, s := range []scene{plain, {rows: 61, vines: 70, rowM: 2, vineM: 1, azimuthDeg: 33, alternate: true, roadAt: 30, roadM: 6}} {
		st := s.stand(t)
		lose(st, 1, 0.1)
		c := waves(st, "v", 2, 0.1)
		z := makeZones(t, st, []Column{c}, Options{WidthM: 5.5, ReactionM: 12, LeastM2: -1})
		sound(t, st, z)
		passOf, n := z.lie.passes(3)
		require.Equal(t, s.rows/3, n, "a width of 5.5 m is 3 rows of 2 m; rows left over go along")
		change := false
		for i := range z.Zone { // rows of one pass have the same zone side by side
			if j := z.lie.left[i]; j >= 0 && passOf[st.Ground.Row[i]] == passOf[st.Ground.Row[j]] {
				require.Equal(t, z.Zone[i], z.Zone[j])
			} else if j >= 0 && z.Zone[i] != z.Zone[j] {
				change = true
			}
		}
		require.True(t, change)
		requireLongStretches(t, z, 12)

		z = makeZones(t, st, []Column{c}, Options{WholeRows: true, LeastM2: -1})
		for i := range z.Zone {
			require.Equal(t, z.Zone[st.Ground.Rows[st.Ground.Row[i]].First], z.Zone[i])
		}
		require.Greater(t, len(z.List), 1)
	}
}

// requireLongStretches wants at least so many metres between two changes of zone
// along a piece of row, but for a rounding to whole vines.
func requireLongStretches(t *testing.T, z *Zones, leastM float64) {
	for _, p := range z.lie.pieces {
		for lo := p.lo; lo < p.hi; {
			hi := lo + 1
			for hi < p.hi && z.Zone[hi] == z.Zone[lo] {
				hi++
			}
			require.GreaterOrEqual(t, float64(hi-lo)*z.lie.vineM, leastM-z.lie.vineM)
			lo = hi
		}
	}
}

func TestMake_MissingValues(t *testing.T) {
	st := plain.stand(t)
	lose(st, 3, 0.05)
	a, b := waves(st, "2026", 1, 0.03), waves(st, "2027", 2, 0.03)
	for i := range a.Values {
		if i%3 == 0 {
			b.Values[i] = -1
		}
		if i%12 == 0 {
			a.Values[i] = -1
		}
	}
	z := makeZones(t, st, []Column{a, b}, Options{})
	sound(t, st, z)
	for i := range z.Zone {
		require.NotZero(t, z.Zone[i], "gaps and vines without a value lie in a zone too")
		require.Equal(t, st.Condition[i].Living() && i%12 != 0, z.Class[i] > 0)
		require.Equal(t, z.Class[i] > 0, z.Sure[i] >= 0)
	}
	require.Len(t, z.Notes, 4)
	assert.Contains(t, z.Notes[0], "sorted by some of the columns only")
	assert.Contains(t, z.Notes[1], "without any value lie in the zone of the vines around")
	assert.Contains(t, z.Notes[2], "without a living vine")
	assert.Contains(t, z.Notes[3], "headlands")
}

// A vine halfway between two centres is a toss-up; the probability is that of
// the normal distribution (tables: 0.8413 at one standard error, 0.9772 at two).
func TestSure_NormalTable(t *testing.T) {
	m := &maker{f: &features{d: 1}, centres: [][]float64{{0}, {2}, {5}}}
	for _, c := range []struct {
		v, se float64
		z     int
		want  float64
	}{
		{1, 0.5, 0, 0.5}, {1, 0.5, 1, 0.5}, {0.5, 0.5, 0, 0.8413}, {0, 0.5, 0, 0.9772},
		{3.5, 1, 2, 0.5}, {2.25, 1.25, 1, 0.8413 - 0.1587}, {0, 0, 0, 1}, {0, 0, 1, 0}, {1, 0, 1, 0.5},
	} {
		assert.InDelta(t, c.want, m.probability([]float64{c.v}, []float64{c.se}, c.z), 1e-4, "%+v", c)
	}
	m = &maker{f: &features{d: 2}, centres: [][]float64{{0, 0}, {2, 0}}}
	assert.InDelta(t, 0.8413, m.probability([]float64{0.5, 9}, []float64{0.5, 3}, 0), 1e-4, "the second column says nothing")
	assert.InDelta(t, 0.6827, within(0, 1, []float64{-1, 1}, 1), 1e-4)
}

func TestSure_ByStandardErrors(t *testing.T) {
	st := plain.stand(t)
	c := waves(st, "v", 1, 0.02)
	c.SE = make([]float32, len(c.Values))
	for i := range c.SE {
		c.SE[i] = 0.03
	}
	for _, columns := range [][]Column{{c}, {c, c}} {
		for _, method := range []Method{KMeansMethod, NaturalMethod} {
			z := makeZones(t, st, columns, Options{Method: method})
			require.Equal(t, "standard error", z.SureBy)
			sound(t, st, z)
			var own, other []float32
			for i := range z.Zone {
				if z.Class[i] == z.Zone[i] {
					own = append(own, z.Sure[i])
				} else {
					other = append(other, z.Sure[i])
				}
			}
			assert.Greater(t, mean32(own), 0.7)
			assert.Less(t, mean32(other), 0.5, "smoothing moves doubtful vines")
		}
	}
	z := makeZones(t, st, []Column{c}, Options{Method: FuzzyMethod})
	require.Equal(t, "membership", z.SureBy)
	sound(t, st, z)
}

func mean32(v []float32) (m float64) {
	for _, x := range v {
		m += float64(x) / float64(len(v))
	}
	return m
}

func TestMake_WeightsOfColumns(t *testing.T) {
	st := plain.stand(t)
	along, across := Column{Name: "a", Values: make([]float32, st.Ground.Len())}, Column{Name: "b", Values: make([]float32, st.Ground.Len())}
	for i := range along.Values {
		along.Values[i], across.Values[i] = float32(st.Ground.Number[i]), float32(st.Ground.Row[i])
	}
	along.Weight = 100
	z := makeZones(t, st, []Column{along, across}, Options{Zones: 2})
	for i := range z.Zone {
		require.Equal(t, z.Zone[i] == 2, along.Values[i] > 40.5)
	}
}

// The unit of a column changes nothing: grams or kilograms, zones are the same.
func TestMake_UnitDoesNotMatter(t *testing.T) {
	st := plain.stand(t)
	a, b := waves(st, "a", 1, 0.1), waves(st, "b", 2, 0.1)
	first := makeZones(t, st, []Column{a, b}, Options{Seed: 4})
	for i := range b.Values {
		b.Values[i] *= 1024 // exact in binary
	}
	assert.Equal(t, first.Zone, makeZones(t, st, []Column{a, b}, Options{Seed: 4}).Zone)
}

func TestMake_OddInput(t *testing.T) {
	st := plain.stand(t)
	n := st.Ground.Len()
	flat, none, two, nan := Column{Name: "flat", Values: make([]float32, n)}, Column{Name: "none", Values: make([]float32, n)}, Column{Name: "two", Values: make([]float32, n)}, waves(st, "nan", 1, 0.1)
	for i := range none.Values {
		none.Values[i], two.Values[i] = -1, float32(i%2)
	}
	nan.Values[5] = float32(math.NaN())
	short := Column{Name: "short", Values: make([]float32, 3)}
	first, second := waves(st, "first", 1, 0.1), waves(st, "second", 1, 0.1)
	for i := range first.Values {
		if i%2 == 0 {
			first.Values[i] = -1
		} else {
			second.Values[i] = -1
		}
	}
	dead := plain.stand(t)
	for i := range dead.Condition {
		dead.Condition[i] = vine.Dead
	}
	good := waves(st, "good", 1, 0.1)
	for _, c := range []struct {
		name    string
		columns []Column
		o       Options
		why     error
		text    string
	}{
		{"all equal", []Column{flat}, Options{}, ErrNoSpread, "nothing to tell zones apart"},
		{"all missing", []Column{none}, Options{}, ErrFewValues, `"none" has no value`},
		{"no column", nil, Options{}, ErrFewValues, "no column"},
		{"two values, three zones", []Column{two}, Options{}, ErrDistinct, "only 2 different values"},
		{"two values twice, three zones", []Column{two, two}, Options{}, ErrDistinct, "only 2 different values"},
		{"two values, fuzzy", []Column{two}, Options{Method: FuzzyMethod}, ErrDistinct, "ask for fewer"},
		{"NaN", []Column{nan}, Options{}, ErrNotFinite, "vine 5"},
		{"too short", []Column{short}, Options{}, ErrInput, `"short" has 3 values`},
		{"no vine with both", []Column{first, second}, Options{}, ErrFewValues, "leave a column out"},
		{"one zone", []Column{good}, Options{Zones: 1}, ErrOption, "1 zones asked for"},
		{"seven zones", []Column{good}, Options{Zones: 7}, ErrOption, "7 zones asked for"},
		{"fuzziness", []Column{good}, Options{Method: FuzzyMethod, Fuzziness: 1}, ErrOption, "fuzziness 1"},
		{"no method", []Column{good}, Options{Method: 9}, ErrOption, "method 9"},
		{"width", []Column{good}, Options{WidthM: math.NaN()}, ErrOption, "not a number"},
		{"weight", []Column{{Name: "w", Values: good.Values, Weight: -1}}, Options{}, ErrOption, "weight -1"},
	} {
		_, err := Make(st, c.columns, c.o)
		require.ErrorIs(t, err, c.why, c.name)
		require.ErrorContains(t, err, c.text, c.name)
	}
	_, err := Make(dead, []Column{good}, Options{})
	require.ErrorIs(t, err, ErrFewValues)
	one := scene{rows: 1, vines: 1, rowM: 2, vineM: 1}.stand(t)
	_, err = Make(one, []Column{{Name: "v", Values: []float32{1}}}, Options{})
	require.ErrorIs(t, err, ErrNoSpread)
	z := makeZones(t, st, []Column{flat, good}, Options{})
	assert.Contains(t, z.Notes[0], `"flat" was left out`)
	_, err = Make(nil, []Column{good}, Options{})
	require.ErrorIs(t, err, ErrInput)
}

func anyScene(t *rapid.T) scene {
	return scene{rows: rapid.IntRange(1, 30).Draw(t, "rows"), vines: rapid.IntRange(1, 40).Draw(t, "vines"),
		rowM: rapid.SampledFrom([]float64{1.2, 2, 3}).Draw(t, "row m"), vineM: rapid.SampledFrom([]float64{0.8, 1, 1.5}).Draw(t, "vine m"),
		azimuthDeg: rapid.Float64Range(0, 360).Draw(t, "azimuth"), radiusM: rapid.SampledFrom([]float64{0, 0, 120}).Draw(t, "radius"),
		stagger: rapid.Bool().Draw(t, "stagger"), alternate: rapid.Bool().Draw(t, "alternate"), short: rapid.Bool().Draw(t, "short"),
		roadAt: 10, roadM: rapid.SampledFrom([]float64{0, 0, 5}).Draw(t, "road"), jitterM: rapid.SampledFrom([]float64{0, 0, 0.05}).Draw(t, "jitter")}
}

// Whatever the block: zones are sound, the same seed gives the same zones,
// outlines have the area of their cells and no overlap.
func TestProperty_Make(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		st := anyScene(rt).stand(t)
		lose(st, rapid.Uint64().Draw(rt, "lost"), rapid.SampledFrom([]float64{0, 0.1, 0.5}).Draw(rt, "gaps"))
		noise := rapid.SampledFrom([]float64{0, 0.05, 0.3}).Draw(rt, "noise")
		columns := []Column{waves(st, "a", 1, noise)}
		if rapid.Bool().Draw(rt, "second") {
			columns = append(columns, waves(st, "b", 2, noise))
		}
		o := Options{Method: Method(rapid.IntRange(0, 2).Draw(rt, "method")), Zones: rapid.IntRange(2, 6).Draw(rt, "zones"), Seed: rapid.Uint64().Draw(rt, "seed"),
			LeastM2: rapid.SampledFrom([]float64{-1, 30, 300, 1000}).Draw(rt, "least"), PassRows: rapid.IntRange(0, 4).Draw(rt, "pass"),
			WholeRows: rapid.Bool().Draw(rt, "whole"), Rounds: rapid.SampledFrom([]int{-1, 1, 3}).Draw(rt, "rounds"), Starts: 3}
		z, err := Make(st, columns, o)
		if err != nil {
			for _, why := range []error{ErrFewValues, ErrNoSpread, ErrDistinct} {
				if errors.Is(err, why) {
					return
				}
			}
			rt.Fatal(err)
		}
		sound(rt, st, z)
		again, err := Make(st, columns, o)
		require.NoError(rt, err)
		require.Equal(rt, z.Zone, again.Zone)
		require.Equal(rt, z.List, again.List)
		tile(rt, z)
	})
}
