package work

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/patch"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// field is a block of living vines, two metres between rows and one in them.
func field(t *testing.T, rows, inRow int) *stand.Ground {
	t.Helper()
	n := rows * inRow
	g := &stand.Ground{Block: 1, Code: "F", RowSpacingM: 2, VineSpacingM: 1, Origin: [2]float64{8, 49},
		ID: make([]vine.ID, n), Row: make([]int32, n), Number: make([]int32, n), Chainage: make([]float32, n), X: make([]float32, n), Y: make([]float32, n),
		WX: make([]uint32, n), WY: make([]uint32, n), Occupied: make([]float32, n), Planted: make([]int16, n)}
	for r := range rows {
		g.Rows = append(g.Rows, stand.Row{ID: vine.ID(10_000 + r), Label: string(rune('A' + r)), First: r * inRow, Count: inRow})
		for v := range inRow {
			i := r*inRow + v
			g.ID[i], g.Row[i], g.Number[i], g.Chainage[i] = vine.ID(i+1), int32(r), int32(v+1), float32(v)
			g.X[i], g.Y[i], g.Occupied[i], g.Planted[i] = float32(2*r), float32(v), 1, 2005
		}
	}
	require.NoError(t, g.Finish())
	return g
}

// winter is a season in which every vine bears and some are weighed, g.
func winter(g *stand.Ground, season int, grams func(i int) float64) Measured {
	s := stand.NewStand(g, season, 1)
	for i := range g.ID {
		st := vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{}}
		if w := grams(i); w >= 0 {
			st.Measures[vine.PruningWeight] = vine.Reading{Value: w}
		}
		s.Set(i, st, 1)
	}
	return Measured{Stand: s}
}

// TestFind_Sample: from a sample there are no tested patches, only areas that
// are likely weak, and the columns say so.
func TestFind_Sample(t *testing.T) {
	g := field(t, 25, 60)
	rng := rand.New(rand.NewPCG(3, 4))
	weak := func(i int) bool { return g.X[i] < 20 && g.Y[i] < 30 }
	m := winter(g, 2027, func(i int) float64 {
		w := 600 + 40*rng.NormFloat64()
		if weak(i) {
			w -= 450
		}
		if rng.Float64() > 0.15 {
			return -1
		}
		return max(0, w)
	})
	f, err := Find(FindJob{Now: m})
	require.NoError(t, err)
	require.NotNil(t, f.Patches)
	assert.ErrorIs(t, f.Patches.Refused, patch.ErrSampled)
	require.NotNil(t, f.Likely)
	require.NoError(t, f.Likely.Refused)
	require.NotEmpty(t, f.Likely.Patches)
	assert.Equal(t, "F-2027-l1", f.LikelyPlace(0).ID)
	hit, wrong := 0, 0
	for i, p := range f.Found.Patch {
		assert.NotEqual(t, stand.PatchWeak, p, "nothing was tested")
		switch {
		case p == stand.PatchLikely && weak(i):
			hit++
		case p == stand.PatchLikely:
			wrong++
		}
	}
	assert.Greater(t, hit, 200, "of 300 planted")
	assert.Less(t, wrong, 40)
	assert.Nil(t, f.Change)
}

// TestCompare_UnlikeMeasures: weights beside scores are compared by rank only,
// and it says so.
func TestCompare_UnlikeMeasures(t *testing.T) {
	g := field(t, 6, 10)
	now := winter(g, 2027, func(i int) float64 { return float64(300 + i) })
	before := winter(g, 2026, func(int) float64 { return -1 })
	for i := range g.ID {
		before.Stand.Score[i] = float32(1 + i%5)
	}
	c, err := Compare([]Pair{{Now: now, Before: before}})
	require.NoError(t, err)
	assert.True(t, c.Ranks)
	assert.NotEmpty(t, c.Why)
	assert.Equal(t, "ranks of 100", c.Quantity.Unit)

	_, err = Compare([]Pair{{Now: now, Before: winter(g, 2025, func(int) float64 { return -1 })}})
	assert.ErrorIs(t, err, patch.ErrFewValues)
	_, err = Compare(nil)
	assert.ErrorIs(t, err, patch.ErrFewValues)
}

// TestStamp: equal measures give one stamp; a weight, a death, a further
// measure or another rule give another.
func TestStamp(t *testing.T) {
	g := field(t, 3, 10)
	make1 := func() FindJob { return FindJob{Now: winter(g, 2027, func(i int) float64 { return 400 })} }
	one := Stamp(make1())
	assert.Equal(t, one, Stamp(make1()))
	for name, change := range map[string]func(*FindJob){
		"weight":   func(j *FindJob) { j.Now.Stand.WeightG[3] = 401 },
		"death":    func(j *FindJob) { j.Now.Stand.Condition[3] = vine.Dead },
		"replant":  func(j *FindJob) { j.Now.Stand.Condition[3] = vine.Replanted },
		"rule":     func(j *FindJob) { j.Now.Stand.Rule.Limits[1] = 0.35 },
		"cultivar": func(j *FindJob) { j.Cultivar = "Furmint" },
		"measure": func(j *FindJob) {
			j.Now.Columns = []vigour.Column{{Quantity: vine.CaneCount, Values: make([]float32, 30)}}
		},
		"earlier": func(j *FindJob) { j.Earlier = []Measured{winter(g, 2026, func(int) float64 { return 1 })} },
	} {
		j := make1()
		change(&j)
		assert.NotEqual(t, one, Stamp(j), name)
	}
	pruned := make1()
	pruned.Now.Stand.Progress[2], pruned.Now.Stand.Nodes[2] = vine.Done, 12
	assert.Equal(t, one, Stamp(pruned), "work says nothing of vigour")
}

// TestFind_Stops: a stop ends the work.
func TestFind_Stops(t *testing.T) {
	g := field(t, 40, 60)
	rng := rand.New(rand.NewPCG(3, 4))
	m := winter(g, 2027, func(i int) float64 {
		if i%20 > 0 {
			return -1
		}
		return 500 + 50*rng.NormFloat64()
	})
	_, err := Find(FindJob{Now: m, Stop: func() bool { return true }})
	assert.ErrorIs(t, err, vigour.ErrStopped)
	assert.NotErrorIs(t, err, context.Canceled)
}

// TestWritePatches: the same areas in both forms; what a sample makes likely is
// never said to be tested.
func TestWritePatches(t *testing.T) {
	g := field(t, 25, 60)
	rng := rand.New(rand.NewPCG(3, 4))
	weak := func(i int) bool { return g.X[i] < 20 && g.Y[i] < 30 }
	every := func(share float64) *Findings {
		f, err := Find(FindJob{Now: winter(g, 2027, func(i int) float64 {
			w := 600 + 40*rng.NormFloat64()
			if weak(i) {
				w -= 450
			}
			if rng.Float64() > share {
				return -1
			}
			return max(0, w)
		})})
		require.NoError(t, err)
		return f
	}
	tested, sampled := every(1), every(0.15)
	for _, us := range []bool{false, true} {
		var table, features bytes.Buffer
		n, err := WritePatches(&table, Table, us, []*Findings{tested, sampled})
		require.NoError(t, err)
		m, err := WritePatches(&features, GeoJSON, us, []*Findings{tested, sampled})
		require.NoError(t, err)
		require.Equal(t, n, m)
		rows, err := csv.NewReader(&table).ReadAll()
		require.NoError(t, err)
		require.Len(t, rows, n+1)
		all, err := geojson.UnmarshalFeatureCollection(features.Bytes())
		require.NoError(t, err)
		for i, f := range all.Features {
			for k, name := range rows[0] {
				if name == "wkt" {
					assert.Regexp(t, "^(MULTI)?POLYGON", rows[i+1][k])
					continue
				}
				assert.Equal(t, rows[i+1][k], cellOf(f.Properties[name]), name)
			}
			if f.Properties["kind"] == "likely" {
				assert.Equal(t, "likely, from a sample", f.Properties["how"])
				assert.Nil(t, f.Properties["q"])
			}
		}
		area := all.Features[0].Properties["hectares"]
		if us {
			area = all.Features[0].Properties["acres"]
			assert.InDelta(t, tested.Patches.Patches[0].Hectares()*2.47105, area, 0.001, "1 ha = 2.47105 acres (NIST Handbook 44, appendix C)")
		} else {
			assert.InDelta(t, tested.Patches.Patches[0].Hectares(), area, 0.0001)
		}
	}
	_, err := WritePatches(&bytes.Buffer{}, "dxf", false, nil)
	assert.Error(t, err)
}

// TestFind_SeasonBeforeHelps: where the vines of a sample were all weighed the
// winter before, that winter is used, and estimates come nearer to the truth.
func TestFind_SeasonBeforeHelps(t *testing.T) {
	g := field(t, 30, 40)
	rng := rand.New(rand.NewPCG(9, 2))
	truth := make([]float64, g.Len())
	for i := range truth {
		truth[i] = max(50, 500+120*rng.NormFloat64()) // no structure in space, but vines stay what they are
	}
	before := winter(g, 2026, func(i int) float64 { return truth[i] })
	now := winter(g, 2027, func(i int) float64 {
		if i%12 > 0 {
			return -1
		}
		return 0.8*truth[i] + 20*rng.NormFloat64()
	})
	miss := func(f *Findings) (sum float64) {
		for i, k := range f.Vigour.KgPerM {
			sum += math.Abs(float64(k)*1000 - 0.8*truth[i])
		}
		return sum / float64(len(truth))
	}
	alone, err := Find(FindJob{Now: now})
	require.NoError(t, err)
	now.Before = func() (*Measured, error) { return &before, nil }
	helped, err := Find(FindJob{Now: now, Earlier: []Measured{before}})
	require.NoError(t, err)
	require.NotNil(t, helped.Vigour.Kriging.Covariate)
	assert.True(t, helped.Vigour.Kriging.Covariate.Used)
	assert.Less(t, miss(helped), 0.5*miss(alone))

	now.Covariate = CovariateNone
	unhelped, err := Find(FindJob{Now: now, Earlier: []Measured{before}})
	require.NoError(t, err)
	assert.Nil(t, unhelped.Vigour.Kriging.Covariate, "where the owner wants none")
	assert.Equal(t, alone.Vigour.KgPerM, unhelped.Vigour.KgPerM)
	assert.NotEqual(t, helped.Found.Stamp, unhelped.Found.Stamp, "another standard, another result")
}

// TestMeasured_ImageHelps: an index known of every vine, chosen as covariate, brings
// estimates of a sample nearer to the truth and calibrates no vine; a number that has
// nothing to do with vigour is not used.
func TestMeasured_ImageHelps(t *testing.T) {
	g := field(t, 30, 40)
	rng := rand.New(rand.NewPCG(4, 7))
	truth, index, noise := make([]float64, g.Len()), vigour.NewColumns(g.Len()), vigour.NewColumns(g.Len())
	for i := range truth {
		truth[i] = max(50, 500+120*rng.NormFloat64())
		put := func(c *vigour.Columns, v float64) {
			c.SetState(i, vine.State{Measures: map[vine.Quantity]vine.Reading{vine.CanopyIndex: {Value: v, Scale: "NDVI"}}})
		}
		put(index, 0.3+truth[i]/2000+0.005*rng.NormFloat64())
		put(noise, 0.5+0.1*rng.NormFloat64())
	}
	now := winter(g, 2027, func(i int) float64 {
		if i%12 > 0 {
			return -1
		}
		return truth[i] + 20*rng.NormFloat64()
	})
	estimate := func(word string, c *vigour.Columns) (*vigour.Result, float64) {
		m := now
		m.Covariate, m.Columns = word, c.All()
		r, err := m.Vigour(nil, nil)
		require.NoError(t, err)
		sum := 0.0
		for i, k := range r.KgPerM {
			sum += math.Abs(float64(k)*1000 - truth[i])
		}
		return r, sum / float64(len(truth))
	}
	_, alone := estimate(CovariateNone, noise)
	helped, miss := estimate(CovariateIndex, index)
	require.NotNil(t, helped.Kriging.Covariate)
	assert.True(t, helped.Kriging.Covariate.Used, helped.Kriging.Covariate.Why)
	assert.Equal(t, "canopy index NDVI of 2027", helped.Kriging.Covariate.Name)
	assert.Zero(t, helped.Counts[vigour.Calibrated], "an image as covariate turns no vine into a measured one")
	assert.Less(t, miss, 0.5*alone)
	useless, _ := estimate(CovariateIndex, noise)
	require.NotNil(t, useless.Kriging.Covariate)
	assert.False(t, useless.Kriging.Covariate.Used)
}

// cellOf is how a table writes a property.
func cellOf(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return fmt.Sprint(v)
}
