package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func plainRates(z *Zones, rates ...float64) *Rates {
	r := &Rates{Unit: KgPerHa, perHa: 1}
	for k := range z.List {
		r.Zones = append(r.Zones, ZoneRate{Zone: k + 1, AreaM2: z.List[k].AreaM2, Rate: rates[k]})
		r.AreaM2 += z.List[k].AreaM2
		r.Total += rates[k] * z.List[k].AreaM2 / 1e4
	}
	r.Mean = r.Total / r.AreaM2 * 1e4
	return r
}

// Two zones of 10 m by 10 m side by side, the border at x = 0, rates 10 and 30.
func twoSquares(t *testing.T) *Zones {
	return zonesFrom(t, scene{rows: 10, vines: 10, rowM: 2, vineM: 1}, func(row, _ int) uint8 { return uint8(1 + row/5) })
}

func TestGrid_ByHand(t *testing.T) {
	z := twoSquares(t)
	g, err := z.Grid(plainRates(z, 10, 30), 8, 4)
	require.NoError(t, err)
	// The block reaches from -10 to 10 east and -5 to 5 north.
	assert.Equal(t, []float64{-16, -8, 4, 4}, []float64{g.West, g.South, float64(g.Cols), float64(g.Rows)})
	assert.InDeltaSlice(t, []float64{10, 10, 30, 30}, g.Values[:4], 1e-6)
	assert.InDeltaSlice(t, []float64{0.25 * 0.25, 0.25, 0.25, 0.25 * 0.25}, g.Covered[:4], 1e-6)
	assert.InDeltaSlice(t, []float64{0.25, 1, 1, 0.25}, g.Covered[4:8], 1e-6)
	g, err = z.Grid(plainRates(z, 10, 30), 7, 20) // cell -7 to 0, 0 to 7: border on a line
	require.NoError(t, err)
	v, ok := g.At(1, 0)
	assert.True(t, ok)
	assert.InDelta(t, 10, v, 1e-6)
	for _, bad := range [][2]float64{{0, 1}, {1, math.NaN()}, {1e-4, 1e-4}, {-1, 2}} {
		_, err = z.Grid(plainRates(z, 10, 30), bad[0], bad[1])
		require.ErrorIs(t, err, ErrOption)
	}
	_, err = z.Grid(&Rates{}, 1, 1)
	require.ErrorIs(t, err, ErrOption)
}

// A cell across a border has the mean weighted by area.
func TestGrid_AcrossABorder(t *testing.T) {
	z := zonesFrom(t, scene{rows: 9, vines: 10, rowM: 2, vineM: 1}, func(row, _ int) uint8 { return uint8(1 + row/5) })
	// 18 m wide from -9: the border lies at x = 1.
	g, err := z.Grid(plainRates(z, 10, 30), 4, 10)
	require.NoError(t, err)
	for row := range g.Rows {
		v, ok := g.At(3, row) // 0 to 4 east
		require.True(t, ok)
		assert.InDelta(t, 25, v, 1e-6, "a quarter at 10, the rest at 30")
	}
	_, ok := g.At(0, 0)
	assert.True(t, ok, "-12 to -8: a strip of 1 m")
}

// Tagarakis and others, Precision Agriculture 14, 2013: 48 cells of 10 by 20 m
// are 9,600 m², about a hectare.
func TestGrid_AreaOfCells(t *testing.T) {
	g := Grid{CellE: 10, CellN: 20, Cols: 8, Rows: 6}
	assert.Equal(t, 9600.0, g.AreaM2())
}

// Whatever block and cell: what the grid spreads is what the zones get, to 0.1 %
// and better; of a few vines to a hand's breadth of ground, as corners of outlines
// are whole millimetres.
func TestProperty_GridKeepsTotals(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		z := zonesFrom(t, anyScene(rt), func(_, _ int) uint8 { return uint8(rng.IntN(4)) })
		if len(z.List) == 0 {
			return
		}
		r := plainRates(z, 5, 50, 120)
		g, err := z.Grid(r, rapid.Float64Range(0.7, 40).Draw(rt, "east"), rapid.Float64Range(0.7, 40).Draw(rt, "north"))
		require.NoError(rt, err)
		var total, area float64
		for i, v := range g.Values {
			require.True(rt, finite(v) && v >= 0 && v <= 120+1e-6, "%v", v)
			require.True(rt, g.Covered[i] >= 0 && g.Covered[i] <= 1)
			area += g.Covered[i] * g.CellE * g.CellN
			total += v * g.Covered[i] * g.CellE * g.CellN / 1e4
		}
		const handM2 = 0.01
		require.InDelta(rt, r.AreaM2, area, max(1e-3*r.AreaM2, handM2))
		require.InDelta(rt, r.Total, total, max(1e-3*r.Total, 120*handM2/1e4))
	})
}

func TestPolygons(t *testing.T) {
	z := zonesFrom(t, scene{rows: 12, vines: 20, rowM: 2, vineM: 1}, func(row, n int) uint8 {
		switch {
		case row < 3 || row >= 10:
			return 1
		case n == 10:
			return 3
		}
		return 2
	})
	r := plainRates(z, 10, 20, 30)
	got, err := z.Polygons(r)
	require.NoError(t, err)
	require.Len(t, got, 5)
	var sum, total float64
	for i, p := range got {
		sum += p.AreaM2
		total += p.AreaM2 * p.Rate / 1e4
		assert.Equal(t, float64(10*p.Zone), p.Rate)
		if i > 0 && got[i-1].Zone == p.Zone {
			assert.LessOrEqual(t, p.AreaM2, got[i-1].AreaM2)
		}
	}
	assert.InDelta(t, 12*20*2, sum, 0.01)
	assert.InEpsilon(t, r.Total, total, 1e-3)
	_, err = z.Polygons(nil)
	require.ErrorIs(t, err, ErrOption)
}

func TestCompare_ByHand(t *testing.T) {
	z := twoSquares(t)
	at := func(x, v float64) Applied { return Applied{XY{x, 0.3}, v} }
	w, err := z.Compare(plainRates(z, 100, 20), []Applied{
		at(-9, 100), at(-6, 110), at(-5, 111), at(-1, 89), // zone 1: two of four within 90 to 110
		at(1, 20), at(9, 22), // zone 2
		at(30, 100), at(-30, 1), {XY{0, 99}, 5}, // outside
		at(1, math.NaN()), at(1, -3), {XY{math.Inf(1), 0}, 3}, // no readings
	})
	require.NoError(t, err)
	assert.Equal(t, []int{6, 3, 3}, []int{w.Points, w.Outside, w.Bad})
	assert.Equal(t, 0.5, w.Zones[0].Within)
	assert.InDelta(t, 102.5, w.Zones[0].Mean, 1e-9)
	assert.InDelta(t, 2.5, w.Zones[0].Percent, 1e-9)
	assert.InDelta(t, math.Sqrt((2.5*2.5+7.5*7.5+8.5*8.5+13.5*13.5)/3), w.Zones[0].SD, 1e-9)
	assert.Equal(t, 1.0, w.Zones[1].Within)
	assert.InDelta(t, 4.0/6, w.Within, 1e-12)
	require.Len(t, w.Notes, 2)

	w, err = z.Compare(plainRates(z, 100, 0), []Applied{at(1, 0), at(2, 5), at(3, 5.1)})
	require.NoError(t, err)
	assert.InDelta(t, 2.0/3, w.Zones[1].Within, 1e-12, "nothing planned: at most a tenth of the block's mean of 50")
	assert.Equal(t, []string{"Zone 1 has no reading."}, w.Notes)
	assert.Zero(t, w.Zones[1].Percent)
	_, err = z.Compare(plainRates(z, 100, 0), []Applied{at(100, 1)})
	require.ErrorIs(t, err, ErrFewValues)
	_, err = z.Compare(plainRates(z, 100, 0), nil)
	require.ErrorIs(t, err, ErrFewValues)
}

// The quick look-up says what the outlines say.
func TestFinder_AgreesWithOutlines(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	z := zonesFrom(t, scene{rows: 21, vines: 40, rowM: 2, vineM: 1, stagger: true, short: true, roadAt: 13, roadM: 5, azimuthDeg: 61}, func(_, _ int) uint8 { return uint8(rng.IntN(4)) })
	out := z.Outlines()
	f := newFinder(out)
	for range 5000 {
		p := XY{90*rng.Float64() - 45, 90*rng.Float64() - 45}
		want := 0
		for k, o := range out {
			if o.Holds(p) {
				want = k + 1
			}
		}
		require.Equal(t, want, f.zone(p))
	}
}

func TestStretches(t *testing.T) {
	z := zonesFrom(t, scene{rows: 4, vines: 20, rowM: 2, vineM: 1, roadAt: 10, roadM: 5}, func(row, n int) uint8 {
		switch {
		case row == 3:
			return 0
		case row > 0 && n >= 15:
			return 2
		}
		return 1
	})
	r := plainRates(z, 100, 50)
	got, err := z.Stretches(r)
	require.NoError(t, err)
	require.Len(t, got, 5)
	assert.Equal(t, []any{"1", 1, 20, 20, 1}, []any{got[0].Row, got[0].From, got[0].To, got[0].Vines, got[0].Zone}, "the road cuts nothing")
	assert.Equal(t, []any{"2", 16, 20, 5, 2, 50.0}, []any{got[2].Row, got[2].From, got[2].To, got[2].Vines, got[2].Zone, got[2].Rate})
	assert.InDelta(t, 20, got[0].RowM, 0.01)
	assert.InDelta(t, 10, got[2].AreaM2, 0.01)
	var sum float64
	for _, s := range got {
		sum += s.Quantity
	}
	assert.InEpsilon(t, r.Total, sum, 1e-9)
	_, err = z.Stretches(nil)
	require.ErrorIs(t, err, ErrOption)
}
