package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tile is what must hold of outlines: areas of cells, right-hand rule, no place
// in two zones, every vine in its own, borders that match place for place.
func tile(t require.TestingT, z *Zones) {
	outlines := z.Outlines()
	require.Len(t, outlines, len(z.List))
	edges := map[[2]XY]int{}
	for k, o := range outlines {
		require.InEpsilon(t, z.List[k].AreaM2, o.AreaM2(), 1e-3, "zone %d", k+1)
		for _, p := range o {
			for i, r := range p {
				require.GreaterOrEqual(t, len(r), 4)
				require.Equal(t, r[0], r[len(r)-1])
				require.Equal(t, i == 0, r.area() > 0, "outer rings run anticlockwise, holes clockwise")
				for j := 1; j < len(r); j++ {
					require.NotEqual(t, r[j-1], r[j])
					edges[[2]XY{r[j-1], r[j]}]++
				}
			}
		}
	}
	var open float64
	for e, n := range edges {
		require.Equal(t, 1, n, "no line is walked twice the same way: %v", e)
		if edges[[2]XY{e[1], e[0]}] == 0 {
			open += math.Hypot(e[1].X-e[0].X, e[1].Y-e[0].Y)
		}
	}
	if around, all := perimeter(z); all {
		require.InEpsilon(t, around, open, 1e-3, "lines without a neighbour's are those around the block")
	}
	g := z.lie.g
	for i, v := range z.Zone {
		p := XY{float64(g.X[i]), float64(g.Y[i])}
		for k := range outlines {
			require.Equal(t, int(v) == k+1, outlines[k].Holds(p), "vine %d of zone %d, outline %d", i, v, k+1)
		}
	}
}

// perimeter is the length of line around the ground of all vines; all tells
// whether each of them has a zone.
func perimeter(z *Zones) (long float64, all bool) {
	one := make([]uint8, len(z.Zone))
	for i, v := range z.Zone {
		if one[i] = 1; v == 0 {
			return 0, false
		}
	}
	for _, p := range z.lie.outlines(one, 1)[1] {
		for _, r := range p {
			for j := 1; j < len(r); j++ {
				long += math.Hypot(r[j].X-r[j-1].X, r[j].Y-r[j-1].Y)
			}
		}
	}
	return long, true
}

// shared is the length of line that two outlines walk in opposite directions.
func shared(a, b Outline) (long float64) {
	lines := map[[2]XY]bool{}
	for _, p := range a {
		for _, r := range p {
			for j := 1; j < len(r); j++ {
				lines[[2]XY{r[j-1], r[j]}] = true
			}
		}
	}
	for _, p := range b {
		for _, r := range p {
			for j := 1; j < len(r); j++ {
				if lines[[2]XY{r[j], r[j-1]}] {
					long += math.Hypot(r[j].X-r[j-1].X, r[j].Y-r[j-1].Y)
				}
			}
		}
	}
	return long
}

func zonesFrom(t *testing.T, s scene, zone func(row, number int) uint8) *Zones {
	t.Helper()
	st := s.stand(t)
	l, err := layOut(st.Ground)
	require.NoError(t, err)
	z := &Zones{lie: l, Zone: make([]uint8, st.Ground.Len()), CellM2: l.cellM2}
	for i := range z.Zone {
		z.Zone[i] = zone(int(st.Ground.Row[i]), int(st.Ground.Number[i])-1)
		for len(z.List) < int(z.Zone[i]) {
			z.List = append(z.List, Zone{})
		}
	}
	for i, v := range z.Zone {
		if v > 0 {
			z.List[v-1].AreaM2 += l.cellM2[i]
		}
	}
	return z
}

// Zones of whole rows on a plain block: two rectangles, four corners each.
func TestOutlines_Rectangles(t *testing.T) {
	for _, azimuth := range []float64{0, 12.5, 90, 200} {
		z := zonesFrom(t, scene{rows: 10, vines: 20, rowM: 2, vineM: 1, azimuthDeg: azimuth, alternate: true}, func(row, _ int) uint8 { return uint8(1 + row/6) })
		tile(t, z)
		out := z.Outlines()
		assert.Equal(t, []int{4, 4}, []int{out[0].Points(), out[1].Points()})
		assert.InDelta(t, 12*20, out[0].AreaM2(), 0.01)
		assert.InDelta(t, 8*20, out[1].AreaM2(), 0.01)
		assert.InDelta(t, 20, shared(out[0], out[1]), 0.002)
	}
}

// A zone inside another: the hole is kept and has the island's line.
func TestOutlines_HoleAndIsland(t *testing.T) {
	z := zonesFrom(t, scene{rows: 12, vines: 20, rowM: 2, vineM: 1, azimuthDeg: 30}, func(row, n int) uint8 {
		if row >= 4 && row < 7 && n >= 5 && n < 15 {
			return 2
		}
		return 1
	})
	tile(t, z)
	out := z.Outlines()
	require.Len(t, out[0], 1)
	require.Len(t, out[0][0], 2)
	assert.Equal(t, 8, out[0].Points())
	assert.InDelta(t, 60, out[1].AreaM2(), 0.01)
	assert.InDelta(t, 32, shared(out[0], out[1]), 0.01, "6 m by 10 m all around")
}

// A checkerboard meets at corners only: every ring is simple, none touches itself.
func TestOutlines_Checkerboard(t *testing.T) {
	z := zonesFrom(t, scene{rows: 8, vines: 8, rowM: 2, vineM: 1}, func(row, n int) uint8 { return uint8(1 + (row+n)%2) })
	tile(t, z)
	for _, o := range z.Outlines() {
		assert.Len(t, o, 32)
		for _, p := range o {
			assert.InDelta(t, 2, p[0].area(), 1e-6)
		}
	}
}

// On uneven ground the mesh still tiles: staggered, short, bent and broken rows,
// vines off their place; zones at random, so that every border is tried.
func TestOutlines_UnevenBlocks(t *testing.T) {
	for name, s := range map[string]scene{
		"staggered": {rows: 15, vines: 30, rowM: 2, vineM: 1, stagger: true},
		"short":     {rows: 15, vines: 30, rowM: 2, vineM: 1, short: true, azimuthDeg: 77},
		"road":      {rows: 15, vines: 30, rowM: 2, vineM: 1, roadAt: 11, roadM: 6, azimuthDeg: 5, alternate: true},
		"bent":      {rows: 15, vines: 60, rowM: 2, vineM: 1, radiusM: 90, azimuthDeg: 140},
		"surveyed":  {rows: 15, vines: 30, rowM: 2, vineM: 1, jitterM: 0.15, stagger: true, azimuthDeg: -20},
		"all":       {rows: 21, vines: 40, rowM: 2, vineM: 1, jitterM: 0.1, stagger: true, short: true, roadAt: 13, roadM: 5, radiusM: 120, alternate: true, azimuthDeg: 61},
	} {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 1))
			z := zonesFrom(t, s, func(_, _ int) uint8 { return uint8(1 + rng.IntN(3)) })
			tile(t, z)
			area := 0.0
			for _, o := range z.Outlines() {
				area += o.AreaM2()
			}
			assert.InDelta(t, area, z.Ground().AreaM2(), 1e-6)
			// Ground between rows beside each other belongs to one of them: a walk
			// over the block meets no place in two zones.
			out := z.Outlines()
			require.Zero(t, crossing(out))
			ground := z.Ground()
			for range 2000 {
				p := XY{80*rng.Float64() - 40, 80*rng.Float64() - 40}
				in := 0
				for _, o := range out {
					if o.Holds(p) {
						in++
					}
				}
				require.LessOrEqual(t, in, 1, "%v", p)
				require.Equal(t, in == 1, ground.Holds(p), "the whole ground and the zones hold the same places: %v", p)
			}
		})
	}
}

// Row spacing times planting distance: 2.5 m x 1.2 m are 3 m², also where rows
// run slanting to the block or bend, and on both sides of a road.
func TestCells_AreRowTimesVine(t *testing.T) {
	for name, s := range map[string]scene{
		"straight":  {rows: 9, vines: 30, rowM: 2.5, vineM: 1.2, azimuthDeg: 23},
		"staggered": {rows: 9, vines: 30, rowM: 2.5, vineM: 1.2, stagger: true},
		"road":      {rows: 9, vines: 30, rowM: 2.5, vineM: 1.2, roadAt: 12, roadM: 8},
		"one row":   {rows: 1, vines: 30, rowM: 2.5, vineM: 1.2},
		"one vine":  {rows: 1, vines: 1, rowM: 2.5, vineM: 1.2},
		"bent":      {rows: 9, vines: 30, rowM: 2.5, vineM: 1.2, radiusM: 60},
	} {
		l, err := layOut(s.stand(t).Ground)
		require.NoError(t, err)
		var sum float64
		for _, m2 := range l.cellM2 {
			sum += m2
			if s.radiusM == 0 {
				require.InDelta(t, 3, m2, 0.01, name)
			}
		}
		require.InEpsilon(t, 3*float64(len(l.cellM2)), sum, 2e-3, name)
	}
}

// A path narrower than a planting distance cuts rows too, where the ground says
// so: its ground is nobody's.
func TestCells_PartsOfRows(t *testing.T) {
	st := scene{rows: 3, vines: 10, rowM: 2, vineM: 1, roadAt: 5, roadM: 0.4}.stand(t)
	total := func() (sum float64) {
		l, err := layOut(st.Ground)
		require.NoError(t, err)
		for _, m2 := range l.cellM2 {
			sum += m2
		}
		return sum
	}
	assert.InDelta(t, 3*2*10.4, total(), 0.01)
	st.Ground.Part = make([]uint8, st.Ground.Len())
	for i := range st.Ground.Part {
		if st.Ground.Number[i] > 5 {
			st.Ground.Part[i] = 1
		}
	}
	assert.InDelta(t, 3*2*10, total(), 0.01)
}

// A row planted wider than the block has ground of its own width.
func TestCells_RowWithItsOwnSpacing(t *testing.T) {
	st := scene{rows: 1, vines: 10, rowM: 2, vineM: 1.9}.stand(t)
	st.Ground.VineSpacingM = 1
	l, err := layOut(st.Ground)
	require.NoError(t, err)
	require.Len(t, l.pieces, 1)
	for _, m2 := range l.cellM2 {
		require.InDelta(t, 3.8, m2, 0.01)
	}
}

// crossing lines of outlines: none may cross another, of its own zone or not.
func crossing(outlines []Outline) (n int) {
	type line struct{ a, b XY }
	seen := map[line]bool{}
	var all []line
	for _, o := range outlines {
		for _, p := range o {
			for _, r := range p {
				for i := 1; i < len(r); i++ {
					if e := (line{r[i-1], r[i]}); !seen[line{e.b, e.a}] {
						seen[e] = true
						all = append(all, e)
					}
				}
			}
		}
	}
	side := func(e line, p XY) float64 { return (e.b.X-e.a.X)*(p.Y-e.a.Y) - (e.b.Y-e.a.Y)*(p.X-e.a.X) }
	const none = 1e-6 // m²; places on the line but for rounding
	for i, e := range all {
		for _, f := range all[:i] {
			if side(e, f.a)*side(e, f.b) < -none*none && side(f, e.a)*side(f, e.b) < -none*none {
				n++
			}
		}
	}
	return n
}

// Rows that meet are told, with the vine.
func TestLayOut_Refuses(t *testing.T) {
	s := scene{rows: 3, vines: 10, rowM: 2, vineM: 1}
	st := s.stand(t)
	for i := range 10 { // the second row runs across the first
		st.Ground.X[10+i] = st.Ground.X[i] + 3 - float32(i)
	}
	_, err := layOut(st.Ground)
	require.ErrorIs(t, err, ErrGround)
	require.ErrorContains(t, err, "K2/")
	st = s.stand(t)
	st.Ground.RowSpacingM = 0
	_, err = layOut(st.Ground)
	require.ErrorContains(t, err, "set both on block K2")
	st = s.stand(t)
	st.Ground.X[3] = float32(math.NaN())
	_, err = layOut(st.Ground)
	require.ErrorContains(t, err, "K2/1/4")
	st = s.stand(t)
	st.Ground.VineSpacingM = 0
	l, err := layOut(st.Ground)
	require.NoError(t, err)
	require.InDelta(t, 1, l.vineM, 1e-6, "told from the vines")
}
