package patch

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// vineyardGround builds the invented block of testdata/vineyard.
func vineyardGround(t *testing.T, vines table) *stand.Ground {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "V", Origin: [2]float64{145.32, -37.73}, RowSpacingM: 3, VineSpacingM: 1.5})
	row := ""
	for _, m := range vines {
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(m[name], 64)
			require.NoError(t, err)
			return v
		}
		if m["row"] != row {
			row = m["row"]
			b.Row(vine.ID(number("row")), row, 0)
		}
		b.Vine(stand.Position{ID: vine.ID(number("vine_id")), Number: int(number("vine")), ChainageM: 1.5 * number("vine"),
			Lon: number("lon"), Lat: number("lat"), X: number("easting") - 352000, Y: number("northing") - 5823000, Planted: 2005})
	}
	g, err := b.Ground()
	require.NoError(t, err)
	return g
}

// vineyardSeason gives the stand and the values of one season; vines missing in
// the file are missing in all.
func vineyardSeason(t *testing.T, g *stand.Ground, vines table, season int) (*stand.Stand, Column) {
	t.Helper()
	st, c := stand.NewStand(g, season, 1), NewColumn(g.Len())
	for i, m := range vines {
		st.Condition[i] = vine.Missing
		if !alive(m) {
			continue
		}
		st.Condition[i] = vine.Bearing
		v, err := strconv.ParseFloat(m["v"+strconv.Itoa(season)], 64)
		require.NoError(t, err)
		c.Set(i, v)
	}
	return st, c
}

var kgPerM = What{Quantity: "pruning weight", Unit: "kg/m"}

// TestChange_EqualsR: all vines and row means of the invented block, 2019 to the
// drought year 2020 (R 4.2.2; testdata/robust).
func TestChange_EqualsR(t *testing.T) {
	vines := readTable(t, "vineyard", "vines.csv")
	g := vineyardGround(t, vines)
	earlier, before := vineyardSeason(t, g, vines, 2019)
	later, after := vineyardSeason(t, g, vines, 2020)
	got, err := Change(Seasons{Before: kgPerM, After: kgPerM, Blocks: []BlockSeasons{{Earlier: earlier, Later: later, Before: before, After: after}}})
	require.NoError(t, err)
	assert.False(t, got.Ranks)
	r := readR(t)
	var all rPaired
	require.NoError(t, json.Unmarshal(r["vineyard_all_vines_2019_2020"], &all))
	assert.Equal(t, 919, got.All.Vines.N)
	assert.InEpsilon(t, all.T.T, got.All.Vines.T.T, 1e-9)
	assert.InEpsilon(t, all.Wilcoxon.V, got.All.Vines.Rank.V, 1e-9)
	var rows struct{ Result rPaired }
	require.NoError(t, json.Unmarshal(r["vineyard_row_means_2019_2020"], &rows))
	assert.Equal(t, 24, got.All.Rows.N)
	assert.InEpsilon(t, rows.Result.T.T, got.All.Rows.T.T, 1e-7)
	assert.InEpsilon(t, rows.Result.T.CI[0], got.All.Rows.T.Low, 1e-7)
	assert.InEpsilon(t, rows.Result.Wilcoxon.P, got.All.Rows.Rank.P, 1e-7)
	assert.Equal(t, 919, got.Blocks[0].Pairs)
	require.Len(t, got.ByLeaf, 1)
	require.Len(t, got.ByCultivar, 1)
	assert.Empty(t, got.ByBoth)
	for i, seen := range got.Blocks[0].Difference.Seen {
		require.Equal(t, alive(vines[i]), seen)
		if seen {
			require.InDelta(t, after.Value[i]-before.Value[i], got.Blocks[0].Difference.Value[i], 1e-12)
			require.InDelta(t, 100*(after.Value[i]/before.Value[i]-1), got.Blocks[0].Percent.Value[i], 1e-9)
		}
	}
}

// drought is two blocks, one of them young, that lost 10 and 40 % in a dry year.
func drought(t *testing.T) Seasons {
	rng := rand.New(rand.NewPCG(3, 3))
	s := Seasons{Before: kgPerM, After: kgPerM}
	for k, cultivar := range []string{"an old red", "a young white"} {
		g := scene{rows: 12, vines: 25, rowM: 2, vineM: 1}.stand(t).Ground
		b := BlockSeasons{Earlier: stand.NewStand(g, 2019, 1), Later: stand.NewStand(g, 2020, 1), Before: NewColumn(g.Len()), After: NewColumn(g.Len()), Cultivar: cultivar}
		for i := range g.ID {
			b.Earlier.Condition[i], b.Later.Condition[i] = vine.Bearing, vine.Bearing
			if k == 1 || i%10 == 0 {
				b.Earlier.Leaf[i], b.Later.Leaf[i] = 3, 4
			}
			v := 0.5 + 0.1*rng.NormFloat64()
			keeps := 0.9
			if b.Later.Leaf[i] == 4 {
				keeps = 0.6
			}
			b.Before.Set(i, v)
			b.After.Set(i, v*keeps+0.02*rng.NormFloat64())
		}
		s.Blocks = append(s.Blocks, b)
	}
	return s
}

// TestChange_YoungVinesLostMost: the groups tell it in figures.
func TestChange_YoungVinesLostMost(t *testing.T) {
	s := drought(t)
	limit := 0.35
	s.SoundFrom = &limit
	got, err := Change(s)
	require.NoError(t, err)
	require.Len(t, got.ByLeaf, 2)
	require.Len(t, got.ByCultivar, 2)
	require.Len(t, got.ByBoth, 3)
	young, old := got.ByLeaf[0], got.ByLeaf[1]
	assert.Equal(t, &LeafClass{4, 4}, young.Leaf)
	assert.Equal(t, &LeafClass{8, 14}, old.Leaf)
	assert.Equal(t, []int{330, 270, 600}, []int{young.Vines.N, old.Vines.N, got.All.Vines.N})
	assert.InDelta(t, -40, young.Vines.Percent, 1)
	assert.InDelta(t, -10, old.Vines.Percent, 1)
	assert.Less(t, young.Vines.T.High, old.Vines.T.Low)
	assert.Less(t, young.Vines.Effect, old.Vines.Effect)
	assert.Less(t, young.Rows.T.P, 1e-9)
	assert.Equal(t, 24, got.All.Rows.N)
	require.NotNil(t, young.Turned)
	assert.Greater(t, young.Turned.TurnedWeak, 150)
	assert.Less(t, young.Turned.PExact, 1e-9)
	assert.Equal(t, "a young white", *got.ByCultivar[0].Cultivar)
	weak := 0
	for k, b := range s.Blocks {
		for i := range b.After.Value {
			if b.After.Value[i] < limit && got.Blocks[k].Difference.Seen[i] {
				weak++
			}
		}
	}
	assert.Equal(t, weak, got.All.Turned.WeakAfter.Count)
}

// TestChange_Ranks: different measures are compared by rank within the block, and
// the answer says so.
func TestChange_Ranks(t *testing.T) {
	s := drought(t)
	for k := range s.Blocks {
		for i, v := range s.Blocks[k].After.Value {
			s.Blocks[k].After.Value[i] = math.Round(10*v) + 100 // a count of something else
		}
	}
	limit := 0.35
	s.SoundFrom = &limit
	for _, after := range []What{{Quantity: "cane count", Unit: "canes"}, {Quantity: "pruning weight", Unit: "g"}, {Quantity: "pruning weight", Unit: "kg/m", Scale: "1-5"}} {
		s.After = after
		got, err := Change(s)
		require.NoError(t, err)
		assert.True(t, got.Ranks)
		assert.Contains(t, got.Why, "pruning weight in kg/m cannot be compared with "+after.String())
		assert.InDelta(t, 0, got.All.Vines.Mean, 1e-9, "ranks cannot all fall")
		assert.InDelta(t, 50, got.All.Vines.MeanAfter, 1e-9)
		assert.Nil(t, got.All.Turned)
		assert.NotContains(t, got.Blocks[0].Percent.Seen, true)
		require.Len(t, got.ByBoth, 3)
		assert.Less(t, got.ByBoth[1].Vines.Mean, -10.0, "replants among old vines fell in rank")
		assert.Equal(t, "an old red", *got.ByBoth[1].Cultivar)
		assert.Equal(t, 4, got.ByBoth[1].Leaf.From)
	}
}

func TestPercentRanks(t *testing.T) {
	assert.Equal(t, []float64{87.5, 12.5, 50, 50}, percentRanks([]float64{9, 1, 4, 4}))
	assert.Empty(t, percentRanks(nil))
}

// TestChange_SamePlantOnly: who died or was replanted since is not paired.
func TestChange_SamePlantOnly(t *testing.T) {
	s := drought(t)
	b := &s.Blocks[0]
	b.Later.Condition[1] = vine.Dead
	b.Earlier.Condition[2] = vine.Missing
	b.Earlier.Leaf[3], b.Later.Leaf[3] = 9, 1 // planted anew
	b.Earlier.Leaf[4], b.Later.Leaf[4] = 0, 1 // nothing known of before
	b.Earlier.Leaf[5], b.Later.Leaf[5] = 0, 0 // nothing known at all
	b.After.Seen[6] = false
	got, err := Change(s)
	require.NoError(t, err)
	c := got.Blocks[0]
	assert.Equal(t, []int{295, 2, 2}, []int{c.Pairs, c.Lost, c.Replanted})
	assert.Equal(t, []bool{true, false, false, false, false, true, false}, c.Difference.Seen[:7])
	assert.Equal(t, &LeafClass{}, got.ByLeaf[0].Leaf, "leaf not known is a class of its own")
}

func TestChange_BadInput(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		change func(*Seasons)
		want   error
	}{
		{"no block", func(s *Seasons) { s.Blocks = nil }, ErrFewValues},
		{"nothing seen", func(s *Seasons) { clear(s.Blocks[0].Before.Seen); clear(s.Blocks[1].After.Seen) }, ErrFewValues},
		{"no stand", func(s *Seasons) { s.Blocks[0].Earlier = nil }, ErrColumn},
		{"another ground", func(s *Seasons) { s.Blocks[0].Earlier = stand.NewStand(&stand.Ground{}, 2019, 1) }, ErrColumn},
		{"seasons the wrong way round", func(s *Seasons) { s.Blocks[0].Earlier, s.Blocks[0].Later = s.Blocks[0].Later, s.Blocks[0].Earlier }, ErrOption},
		{"short column", func(s *Seasons) { s.Blocks[1].After = NewColumn(2) }, ErrColumn},
		{"short cultivars", func(s *Seasons) { s.Blocks[1].Cultivars = []string{"x"} }, ErrColumn},
		{"value not finite", func(s *Seasons) { s.Blocks[1].After.Value[7] = nan }, ErrNotFinite},
		{"limit not finite", func(s *Seasons) { s.SoundFrom = &nan }, ErrNotFinite},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := drought(t)
			c.change(&s)
			_, err := Change(s)
			require.ErrorIs(t, err, c.want)
		})
	}
}
