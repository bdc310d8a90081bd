package patch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
)

// Planted truth: blocks invented with known weak areas, and blocks of noise.

// fewer cuts the rounds where time is short.
func fewer(rounds int) int {
	if testing.Short() || raceDetector {
		return max(10, rounds/20)
	}
	return rounds
}

// plot is a block for many rounds, smaller than usual ones.
var plot = scene{rows: 36, vines: 48, rowM: 2, vineM: 1, azimuthDeg: 12}

// someAreas draws weak areas of 30 to 300 vines somewhere in the block.
func someAreas(rng *rand.Rand, s scene, n int) (out []ellipse) {
	for range n {
		out = append(out, ellipse{
			middle: s.place(rng.IntN(s.rows), rng.IntN(s.vines)),
			along:  4 + 6*rng.Float64(), off: 5 + 6*rng.Float64(), turnDeg: 180 * rng.Float64(),
		})
	}
	return out
}

// tally adds up what was found of what was planted over many blocks.
type tally struct {
	blocks, withPatch        int
	falseShare, recall, gone float64 // gone: blocks without a planted vine that was tested
	patches, falsePatches    int
}

func (y *tally) add(f *Found, planted []bool) {
	y.blocks++
	hit, missed, wrong := 0, 0, 0
	for i, tested := range f.Tested {
		in := f.PatchOf[i] >= 0
		switch {
		case !tested:
		case in && planted[i] && f.Patches[f.PatchOf[i]].Kind == Weak:
			hit++
		case in:
			wrong++
		case planted[i]:
			missed++
		}
	}
	if len(f.Patches) > 0 {
		y.withPatch++
	}
	if hit+wrong > 0 {
		y.falseShare += float64(wrong) / float64(hit+wrong)
	}
	if hit+missed > 0 {
		y.recall += float64(hit) / float64(hit+missed)
	} else {
		y.gone++
	}
	for _, p := range f.Patches {
		y.patches++
		n := 0
		for _, i := range p.Vines {
			if planted[i] {
				n++
			}
		}
		if n == 0 || p.Kind == Strong {
			y.falsePatches++
		}
	}
}

// TestFind_PlantedTruth: over 200 random blocks the share of vines that were
// called weak and were not stays at the rate, vine by vine, and the stated share
// of the weak ones is found. The drop is in standard deviations of single vines:
// with a spread of 25 % of the mean, 1.5 is 38 % less wood. The tolerance is for
// the sampling of the blocks.
func TestFind_PlantedTruth(t *testing.T) {
	for _, c := range []struct {
		name       string
		drop, rate float64
		areas      int
		lopsided   bool
		recall     float64
		blocks     int
	}{
		{"2 spreads", 2, 0.05, 2, false, 0.88, 200},
		{"1.5 spreads", 1.5, 0.05, 2, false, 0.75, 80},
		{"2 spreads, lopsided values", 2, 0.05, 2, true, 0.85, 80},
		{"3 spreads, one area", 3, 0.05, 1, false, 0.95, 80},
		{"2 spreads, rate of 10 %", 2, 0.1, 2, false, 0.88, 80},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			st := plot.stand(t)
			var y tally
			for seed := range fewer(c.blocks) {
				rng := rand.New(rand.NewPCG(uint64(seed), 17))
				for i := range st.Condition {
					st.Condition[i] = 1
				}
				lose(st, rng, 0.05)
				values := noise(st, rng, 0.6, 0.15)
				if c.lopsided {
					values = lopsidedNoise(st, rng, 0.6, 0.15)
				}
				planted := plant(st, values, c.drop*0.15, someAreas(rng, plot, c.areas)...)
				got, err := Find(Input{Blocks: []Block{{Stand: st, Value: values}}, Rate: c.rate})
				require.NoError(t, err)
				require.NoError(t, got.Blocks[0].Refused)
				y.add(&got.Blocks[0], planted)
			}
			n := float64(y.blocks)
			tolerance := 0.02
			if y.blocks < c.blocks {
				tolerance = 0.04
			}
			t.Logf("%d blocks: false %.3f of the vines, %d of %d patches; recall %.3f", y.blocks, y.falseShare/n, y.falsePatches, y.patches, y.recall/(n-y.gone))
			assert.LessOrEqual(t, y.falseShare/n, c.rate+tolerance)
			assert.LessOrEqual(t, float64(y.falsePatches), (c.rate+tolerance)*float64(y.patches))
			if y.blocks == c.blocks {
				assert.GreaterOrEqual(t, y.recall/(n-y.gone), c.recall)
			}
		})
	}
}

// lopsidedNoise has a long upper tail, as weights have (gamma of shape 4).
func lopsidedNoise(st *stand.Stand, rng *rand.Rand, level, spread float64) Column {
	c := NewColumn(st.Ground.Len())
	for i := range c.Value {
		var sum float64
		for range 4 {
			sum += rng.ExpFloat64()
		}
		c.Set(i, level+spread*(sum-4)/2)
	}
	return c
}

// TestFind_PureNoise: at a rate of 5 %, at least 95 % of blocks without structure
// have no patch, and Moran's I says of about 95 % that they have none.
func TestFind_PureNoise(t *testing.T) {
	st := plot.stand(t)
	n, withPatch, structured := fewer(200), 0, 0
	for seed := range n {
		rng := rand.New(rand.NewPCG(uint64(seed), 23))
		values := noise(st, rng, 0.6, 0.15)
		switch seed % 4 {
		case 1:
			values = lopsidedNoise(st, rng, 0.6, 0.15)
		case 2: // scores
			for i, v := range values.Value {
				values.Value[i] = math.Round(v * 6)
			}
		}
		f := findOne(t, Block{Stand: st, Value: values})
		require.NoError(t, f.Refused)
		if len(f.Patches) > 0 {
			withPatch++
		}
		if f.Structured() {
			structured++
		}
	}
	t.Logf("%d blocks of noise: %d with a patch, %d called structured", n, withPatch, structured)
	assert.LessOrEqual(t, withPatch, n/20)
	assert.LessOrEqual(t, structured, n/12+2)
}
