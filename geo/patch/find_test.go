package patch

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// withPatch is a block with one weak and one strong area and some vines missing.
func withPatch(t testing.TB, s scene, seed uint64) Block {
	rng := rand.New(rand.NewPCG(seed, 1))
	st := s.stand(t)
	c := noise(st, rng, 0.6, 0.12)
	w, h := float64(s.rows)*s.rowM, float64(s.vines)*s.vineM
	middle := func(x, y float64) XY { // of the block's own axes
		r := int(math.Round((x + 0.5) * float64(s.rows-1)))
		return s.place(r, int(math.Round((y+0.5)*float64(s.vines-1))))
	}
	plant(st, c, 0.3, ellipse{middle(-0.2, -0.2), h / 6, w / 6, s.azimuthDeg})
	plant(st, c, -0.3, ellipse{middle(0.25, 0.3), h / 8, w / 7, s.azimuthDeg})
	lose(st, rng, 0.06)
	return Block{Stand: st, Value: c, Cultivar: "a red one"}
}

var scenes = []struct {
	name string
	scene
}{
	{"straight", plain},
	{"turned", scene{rows: 40, vines: 60, rowM: 2, vineM: 1, azimuthDeg: 37}},
	{"wide, staggered", scene{rows: 30, vines: 40, rowM: 3, vineM: 1.5, azimuthDeg: -71, stagger: true}},
	{"curved", scene{rows: 40, vines: 60, rowM: 2, vineM: 1, radiusM: 120, azimuthDeg: 20}},
	{"sharply curved", scene{rows: 30, vines: 80, rowM: 2, vineM: 1, radiusM: 70, azimuthDeg: 100, stagger: true}},
	{"surveyed to 4 cm", scene{rows: 40, vines: 60, rowM: 2, vineM: 1, azimuthDeg: 64, jitterM: 0.04}},
	{"curved, surveyed", scene{rows: 40, vines: 60, rowM: 2.5, vineM: 1.2, azimuthDeg: 64, jitterM: 0.04, radiusM: 150}},
	{"cut by a road", scene{rows: 40, vines: 60, rowM: 2, vineM: 1, roadAt: 17, roadM: 6, azimuthDeg: 5}},
}

// cellsM2 is the ground of the vines by their spacings.
func cellsM2(s scene, p *Patch) float64 { return float64(len(p.Vines)) * s.rowM * s.vineM }

// TestFind_Outlines: the outline is valid, holds the vines of the patch and no
// other, and covers the sum of their ground cells.
func TestFind_Outlines(t *testing.T) {
	for _, c := range scenes {
		t.Run(c.name, func(t *testing.T) {
			b := withPatch(t, c.scene, 3)
			f := findOne(t, b)
			require.NoError(t, f.Refused)
			require.True(t, f.Structured())
			require.NotEmpty(t, f.Patches)
			in := map[int]int{}
			for k := range f.Patches {
				p := &f.Patches[k]
				requireValid(t, p.Outline)
				tolerance := 0.01
				if c.radiusM > 0 { // circles are wider outside the middle row
					tolerance = 0.3
				}
				assert.InEpsilon(t, cellsM2(c.scene, p), p.AreaM2, tolerance)
				// A tape along surveyed vines is a little longer than the row.
				assert.InEpsilon(t, p.RowM*c.rowM, p.AreaM2, 0.01+c.jitterM/10)
				for _, i := range p.Vines {
					in[i]++
				}
				for i := range f.PatchOf {
					at := XY{float64(b.Stand.Ground.X[i]), float64(b.Stand.Ground.Y[i])}
					require.Equal(t, f.PatchOf[i] == int32(k), p.Outline.Holds(at), "vine %s", b.Stand.Ground.Address(i))
				}
			}
			for i, n := range in {
				require.Equal(t, 1, n, "vine %d in %d outlines", i, n)
			}
			assert.Equal(t, []Kind{Weak, Strong}, kindsOf(f))
		})
	}
}

func kindsOf(f *Found) (out []Kind) {
	for _, p := range f.Patches {
		out = append(out, p.Kind)
	}
	return slices.Compact(out)
}

// TestFind_Figures adds up a patch by hand.
func TestFind_Figures(t *testing.T) {
	b := withPatch(t, plain, 5)
	b.Before = NewColumn(b.Stand.Ground.Len())
	for i, v := range b.Value.Value {
		b.Before.Set(i, 2*v+0.1)
	}
	for i := range b.Stand.Leaf {
		b.Stand.Leaf[i] = uint8(8 + i%3)
	}
	f := findOne(t, b)
	require.NotEmpty(t, f.Patches)
	p := f.Patches[0]
	require.Equal(t, Weak, p.Kind)
	var found, living, gaps int
	var mean, expected, before, z float64
	for _, i := range p.Vines {
		if !b.Stand.Condition[i].Living() {
			gaps++
			require.False(t, f.Tested[i])
			continue
		}
		living++
		if !f.Tested[i] {
			continue
		}
		require.LessOrEqual(t, f.Q[i], 0.05)
		require.Less(t, f.Z[i], 0.0)
		found++
		mean += b.Value.Value[i]
		expected += f.Expected.Value[i]
		before += b.Before.Value[i]
		z = min(z, f.Z[i])
	}
	n := float64(found)
	assert.Greater(t, found, 100)
	assert.Greater(t, gaps, 3)
	assert.Equal(t, []int{found, living, gaps, living - found}, []int{p.Found, p.Living, p.Gaps, p.Unseen})
	assert.InDelta(t, mean/n, p.Mean, 1e-12)
	assert.InDelta(t, expected/n, p.Expected, 1e-12)
	assert.InDelta(t, (expected-mean)/n, p.Shortfall, 1e-12)
	assert.InDelta(t, (expected-mean)/expected, p.ShortfallShare, 1e-12)
	assert.InDelta(t, 0.3/0.6, p.ShortfallShare, 0.08, "as planted")
	assert.InDelta(t, float64(gaps)/float64(len(p.Vines)), p.GapShare(), 1e-12)
	assert.InDelta(t, float64(len(p.Vines)), p.RowM, 1e-2)
	assert.InDelta(t, p.AreaM2/1e4, p.Hectares(), 1e-12)
	assert.Equal(t, z, p.Z)
	assert.Equal(t, []any{9.0, 8, 10}, []any{p.LeafMedian, p.LeafLeast, p.LeafMost})
	require.NotNil(t, p.Since)
	assert.Equal(t, found, p.Since.Pairs)
	assert.InDelta(t, (mean-before)/n, p.Since.Mean, 1e-12)
	assert.InDelta(t, 100*(mean-before)/before, p.Since.Percent, 1e-9)
	assert.Equal(t, f.Judged-found, p.Since.RestPairs)
}

// TestFind_PlainGi: without leaves to tell apart, the statistic is Gi* of the
// values themselves, and the adjusted p never below that of the normal ones.
func TestFind_PlainGi(t *testing.T) {
	b := withPatch(t, plain, 8)
	for i, v := range b.Value.Value {
		b.Value.Value[i] = max(0.2, min(1, v))
	}
	f := findOne(t, b)
	require.Zero(t, f.Clipped)
	var x, y, v []float64
	var vines []int
	for i := range f.Tested {
		if b.Stand.Condition[i].Living() {
			vines = append(vines, i)
			x, y, v = append(x, float64(b.Stand.Ground.X[i])), append(y, float64(b.Stand.Ground.Y[i])), append(v, b.Value.Value[i])
		}
	}
	want, err := GiStar(x, y, v, f.Reach)
	require.NoError(t, err)
	p := make([]float64, len(want))
	for k := range want {
		p[k] = want[k].P
	}
	m, err := Moran(x, y, v, f.Reach)
	require.NoError(t, err)
	assert.InDelta(t, m.I, f.Moran.I, 1e-9)
	assert.InDelta(t, m.Z, f.Moran.Z, 1e-6)
	for k, q := range Adjust(p) {
		require.InDelta(t, want[k].Z, f.Z[vines[k]], 1e-9)
		require.GreaterOrEqual(t, f.Q[vines[k]], q*(1-1e-9))
		require.InDelta(t, q, f.Q[vines[k]], 0.05)
	}
}

// TestFind_Properties: what is found does not hang on unit or zero of the
// values, on how the block lies, or on the order of its rows.
func TestFind_Properties(t *testing.T) {
	base := scene{rows: 24, vines: 40, rowM: 2.2, vineM: 1.1}
	want := withPatch(t, base, 4)
	f := findOne(t, want)
	require.NotEmpty(t, f.Patches)
	index := map[vine.ID]int{}
	for i, id := range want.Stand.Ground.ID {
		index[id] = i
	}
	rapid.Check(t, func(rt *rapid.T) {
		s := base
		s.azimuthDeg = rapid.Float64Range(-360, 360).Draw(rt, "azimuth")
		s.shiftX, s.shiftY = rapid.Float64Range(-300, 300).Draw(rt, "x"), rapid.Float64Range(-300, 300).Draw(rt, "y")
		s.reverse = rapid.Bool().Draw(rt, "reversed")
		factor, shift := rapid.Float64Range(0.01, 1000).Draw(rt, "factor"), rapid.Float64Range(-10, 10).Draw(rt, "shift")
		st := s.stand(t)
		c := NewColumn(st.Ground.Len())
		for k, id := range st.Ground.ID {
			i := index[id]
			st.Condition[k] = want.Stand.Condition[i]
			c.Set(k, factor*(want.Value.Value[i]+shift))
		}
		got := findOne(rt, Block{Stand: st, Value: c})
		require.Len(rt, got.Patches, len(f.Patches))
		for k, id := range st.Ground.ID {
			i := index[id]
			require.InDelta(rt, f.Z[i], got.Z[k], 1e-6)
			require.InDelta(rt, f.Q[i], got.Q[k], 1e-6)
			require.Equal(rt, f.PatchOf[i], got.PatchOf[k])
		}
		for k := range got.Patches {
			a, b := &f.Patches[k], &got.Patches[k]
			require.InEpsilon(rt, a.AreaM2, b.AreaM2, 2e-3)
			require.InDelta(rt, a.ShortfallShare*a.Expected*factor, b.Shortfall, 1e-6*factor)
			require.Equal(rt, a.Gaps, b.Gaps)
		}
	})
}

// TestFind_Leaves: young vines are weaker than old ones and rightly so.
func TestFind_Leaves(t *testing.T) {
	st := plain.stand(t)
	rng := rand.New(rand.NewPCG(7, 7))
	c := noise(st, rng, 0.6, 0.1)
	young := ellipse{XY{10, -5}, 12, 10, 0}
	for i := range c.Value {
		if young.holds(XY{float64(st.Ground.X[i]), float64(st.Ground.Y[i])}) {
			st.Leaf[i] = 3
			c.Value[i] = 0.2 + 0.04*rng.NormFloat64()
		}
	}
	f := findOne(t, Block{Stand: st, Value: c})
	require.NoError(t, f.Refused)
	assert.Empty(t, f.Patches)
	assert.False(t, f.Structured(), "Moran's I of %.4f, z %.2f", f.Moran.I, f.Moran.Z)

	for i := range st.Leaf {
		st.Leaf[i] = 11
	}
	f = findOne(t, Block{Stand: st, Value: c})
	require.Len(t, f.Patches, 1, "taken for old vines they are weak")
}

// TestFind_FewOfAKind: a handful of replants is judged by replants of other
// blocks, or not at all.
func TestFind_FewOfAKind(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 7))
	small := scene{rows: 20, vines: 30, rowM: 2, vineM: 1}
	a, b := small.stand(t), small.stand(t)
	va, vb := noise(a, rng, 0.6, 0.1), noise(b, rng, 0.3, 0.05)
	for i := range 5 {
		a.Leaf[100+i], va.Value[100+i] = 2, 0.2
	}
	for i := range 40 {
		b.Leaf[10*i], vb.Value[10*i] = 2, 0.1
	}
	f := findOne(t, Block{Stand: a, Value: va})
	assert.Equal(t, 595, f.Judged)
	assert.False(t, f.Tested[102])
	assert.False(t, f.Expected.Seen[102])

	got, err := Find(Input{Blocks: []Block{{Stand: a, Value: va}, {Stand: b, Value: vb}}})
	require.NoError(t, err)
	f = &got.Blocks[0]
	assert.Equal(t, 600, f.Judged)
	assert.True(t, f.Tested[102])
	assert.InDelta(t, 0.2, f.Expected.Value[102], 0.02, "0.1 in the other block, which is half as strong")
	assert.Equal(t, 1200, got.Tests)

	got, err = Find(Input{Blocks: []Block{{Stand: a, Value: va, Cultivar: "x"}, {Stand: b, Value: vb, Cultivar: "y"}}})
	require.NoError(t, err)
	assert.Equal(t, 595, got.Blocks[0].Judged, "another cultivar tells nothing")
}

// TestFind_MistypedValue: one value with a slipped decimal point is one vine,
// and not a strong patch around it.
func TestFind_MistypedValue(t *testing.T) {
	for seed := range uint64(10) {
		rng := rand.New(rand.NewPCG(seed, 3))
		st := plain.stand(t)
		c := noise(st, rng, 0.6, 0.1)
		c.Value[1234] = 60
		f := findOne(t, Block{Stand: st, Value: c})
		assert.Empty(t, f.Patches)
		assert.GreaterOrEqual(t, f.Clipped, 1)
	}
}

// TestFind_GapsWithin: dead vines inside a patch lie in its outline.
func TestFind_GapsWithin(t *testing.T) {
	st := plain.stand(t)
	rng := rand.New(rand.NewPCG(11, 3))
	c := noise(st, rng, 0.6, 0.1)
	plant(st, c, 0.35, ellipse{XY{0, 0}, 12, 12, 0})
	dead := ellipse{XY{1, 1}, 4, 4, 0}
	n := 0
	for i := range st.Condition {
		if dead.holds(XY{float64(st.Ground.X[i]), float64(st.Ground.Y[i])}) {
			st.Condition[i], c.Seen[i] = vine.Dead, false
			n++
		}
	}
	f := findOne(t, Block{Stand: st, Value: c})
	require.Len(t, f.Patches, 1)
	p := f.Patches[0]
	assert.Equal(t, n, p.Gaps)
	require.Len(t, p.Outline, 1)
	for i := range st.Condition {
		if st.Condition[i] == vine.Dead {
			assert.True(t, p.Outline.Holds(XY{float64(st.Ground.X[i]), float64(st.Ground.Y[i])}))
		}
	}
}
