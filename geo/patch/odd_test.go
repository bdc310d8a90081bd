package patch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// The ways in which ground may be odd, one bit each.
const (
	oddDoubled  = 1 << iota // some vines on the spot of the one before
	oddZigzag               // survey errors of a vine spacing
	oddShuffled             // vines numbered against their order on the ground
	oddNoSpacing
	oddLine  // all on one line
	oddFar   // one row very far away
	oddWide  // row spacing typed ten times too large
	oddSteps // two values only
)

// oddBlock is a block of odd ground with a weak half.
func oddBlock(t testing.TB, seed uint64, rows, vines, odd uint8) Block {
	rng := rand.New(rand.NewPCG(seed, 41))
	st := scene{rows: 1 + int(rows)%12, vines: 1 + int(vines)%25, rowM: 2, vineM: 1, azimuthDeg: 360 * rng.Float64()}.stand(t)
	g := st.Ground
	c := noise(st, rng, 0.6, 0.1)
	for i := range g.X {
		if i < len(g.X)/2 {
			c.Value[i] -= 0.4
		}
		if odd&oddDoubled != 0 && i > 0 && rng.IntN(4) == 0 {
			g.X[i], g.Y[i] = g.X[i-1], g.Y[i-1]
		}
		if odd&oddZigzag != 0 {
			g.X[i] += float32(2*rng.Float64() - 1)
			g.Y[i] += float32(2*rng.Float64() - 1)
		}
		if odd&oddLine != 0 {
			g.Y[i] = 3 * g.X[i]
		}
		if odd&oddFar != 0 && g.Row[i] == 0 {
			g.X[i] += 3e7
		}
		if odd&oddSteps != 0 {
			c.Value[i] = math.Round(c.Value[i])
		}
		st.Leaf[i] = uint8(rng.IntN(3) * 5)
		if rng.IntN(8) == 0 {
			st.Condition[i] = vine.Condition(rng.IntN(9))
			c.Seen[i] = rng.IntN(2) == 0
		}
	}
	if odd&oddShuffled != 0 {
		rng.Shuffle(len(g.X), func(i, j int) {
			g.X[i], g.X[j], g.Y[i], g.Y[j] = g.X[j], g.X[i], g.Y[j], g.Y[i]
		})
	}
	if odd&oddNoSpacing != 0 {
		g.RowSpacingM, g.VineSpacingM = 0, 0
	}
	if odd&oddWide != 0 {
		g.RowSpacingM *= 10
	}
	return Block{Stand: st, Value: c}
}

// requireSane holds what was found to what holds on any ground.
func requireSane(t require.TestingT, st *stand.Stand, f *Found) {
	patches := make([]int, len(f.PatchOf))
	for i := range f.Z {
		require.False(t, math.IsNaN(f.Z[i]) || math.IsInf(f.Z[i], 0))
		require.True(t, f.Q[i] >= 0 && f.Q[i] <= 1)
	}
	for k := range f.Patches {
		p := &f.Patches[k]
		require.False(t, math.IsNaN(p.AreaM2+p.RowM+p.Mean+p.Expected+p.ShortfallShare+p.Z+p.Q+p.LeafMedian))
		require.Equal(t, len(p.Vines), p.Living+p.Gaps)
		require.GreaterOrEqual(t, p.Living, p.Found)
		requireValid(t, p.Outline)
		for _, i := range p.Vines {
			patches[i]++
			require.Equal(t, int32(k), f.PatchOf[i])
		}
	}
	for i, n := range patches {
		require.LessOrEqual(t, n, 1, "vine %s", st.Ground.Address(i))
	}
}

// FuzzFind: whatever the ground, nothing panics, nothing is NaN, outlines are
// valid and no vine is in two.
func FuzzFind(f *testing.F) {
	for odd := range 8 {
		f.Add(uint64(odd), uint8(9), uint8(20), uint8(1<<odd))
	}
	f.Add(uint64(1), uint8(11), uint8(24), uint8(0xff))
	f.Fuzz(func(t *testing.T, seed uint64, rows, vines, odd uint8) {
		b := oddBlock(t, seed, rows, vines, odd)
		got, err := Find(Input{Blocks: []Block{b}, Rate: 0.3, Least: 1})
		require.NoError(t, err)
		requireSane(t, b.Stand, &got.Blocks[0])
	})
}

// TestFind_OddGround: the fuzz above is not about empty answers.
func TestFind_OddGround(t *testing.T) {
	for k := range 8 {
		found := 0
		for seed := range uint64(6) {
			b := oddBlock(t, seed, 11, 23, 1<<k)
			got, err := Find(Input{Blocks: []Block{b}, Rate: 0.3, Least: 1})
			require.NoError(t, err)
			requireSane(t, b.Stand, &got.Blocks[0])
			found += len(got.Blocks[0].Patches)
		}
		if 1<<k == oddShuffled {
			require.Zero(t, found, "shuffled vines are noise")
			continue
		}
		require.Positive(t, found, "odd %d", 1<<k)
	}
}
