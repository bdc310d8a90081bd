package patch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// TestFind_Refusals: what cannot be tested says why, and nothing is NaN.
func TestFind_Refusals(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 3))
	one := scene{rows: 1, vines: 1, rowM: 2, vineM: 1}
	row := scene{rows: 1, vines: 80, rowM: 2, vineM: 1}
	block := func(s scene, change func(st *stand.Stand, c Column)) Block {
		st := s.stand(t)
		c := noise(st, rng, 0.6, 0.1)
		if change != nil {
			change(st, c)
		}
		return Block{Stand: st, Value: c}
	}
	for _, c := range []struct {
		name  string
		block Block
		want  error
	}{
		{"one vine", block(one, nil), ErrFewValues},
		{"one row", block(row, nil), nil},
		{"no vine", Block{Stand: stand.NewStand(&stand.Ground{Code: "E"}, 2020, 1), Value: NewColumn(0)}, ErrFewValues},
		{"all equal", block(plain, func(_ *stand.Stand, c Column) {
			for i := range c.Value {
				c.Value[i] = 0.4
			}
		}), ErrNoSpread},
		{"two values only", block(plain, func(_ *stand.Stand, c Column) {
			for i := range c.Value {
				c.Value[i] = float64(i % 2)
			}
		}), nil},
		{"one vine differs", block(plain, func(_ *stand.Stand, c Column) {
			for i := range c.Value {
				c.Value[i] = 3
			}
			c.Value[17] = 1
		}), nil},
		{"all missing", block(plain, func(st *stand.Stand, _ Column) {
			for i := range st.Condition {
				st.Condition[i] = vine.Missing
			}
		}), ErrFewValues},
		{"nothing seen", block(plain, func(_ *stand.Stand, c Column) { clear(c.Seen) }), ErrFewValues},
		{"one in twenty seen", block(plain, func(_ *stand.Stand, c Column) {
			for i := range c.Seen {
				c.Seen[i] = i%20 == 0
			}
		}), ErrSampled},
		{"all on one spot", block(plain, func(st *stand.Stand, _ Column) {
			clear(st.Ground.X)
			clear(st.Ground.Y)
		}), ErrReach},
		{"each vine twice", block(plain, func(st *stand.Stand, _ Column) {
			for i := 1; i < len(st.Ground.X); i += 2 {
				st.Ground.X[i], st.Ground.Y[i] = st.Ground.X[i-1], st.Ground.Y[i-1]
			}
		}), nil},
		{"every vine of another age", block(plain, func(st *stand.Stand, c Column) {
			for i := range st.Leaf {
				st.Leaf[i] = uint8(1 + i%4)
				c.Seen[i] = i < 60
			}
		}), ErrSampled},
		{"spacings not known", block(row, func(st *stand.Stand, _ Column) { st.Ground.RowSpacingM = 0 }), ErrSpacing},
		{"place not finite", block(plain, func(st *stand.Stand, _ Column) { st.Ground.X[5] = float32(math.NaN()) }), ErrNotFinite},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Find(Input{Blocks: []Block{c.block}})
			require.NoError(t, err)
			f := got.Blocks[0]
			require.ErrorIs(t, f.Refused, c.want)
			if c.want != nil {
				assert.Empty(t, f.Patches)
				assert.False(t, f.Structured())
				assert.Zero(t, got.Tests)
			}
			for i := range f.Z {
				require.False(t, math.IsNaN(f.Z[i]+f.Q[i]+f.Expected.Value[i]) || math.IsInf(f.Z[i], 0))
			}
			require.False(t, math.IsNaN(f.Moran.I+f.Moran.Z+f.Moran.P))
		})
	}
}

func TestFind_BadInput(t *testing.T) {
	st := plain.stand(t)
	c := noise(st, rand.New(rand.NewPCG(1, 3)), 0.6, 0.1)
	bad := noise(st, rand.New(rand.NewPCG(1, 3)), 0.6, 0.1)
	bad.Value[3] = math.Inf(1)
	for _, in := range []struct {
		name string
		Input
		want error
	}{
		{"rate of one", Input{Rate: 1}, ErrOption},
		{"rate not a number", Input{Rate: math.NaN()}, ErrOption},
		{"reach below 0", Input{AlongM: -1}, ErrOption},
		{"no stand", Input{Blocks: []Block{{}}}, ErrColumn},
		{"short column", Input{Blocks: []Block{{Stand: st, Value: NewColumn(3)}}}, ErrColumn},
		{"short earlier column", Input{Blocks: []Block{{Stand: st, Value: c, Before: NewColumn(3)}}}, ErrColumn},
		{"short cultivars", Input{Blocks: []Block{{Stand: st, Value: c, Cultivars: []string{"x"}}}}, ErrColumn},
		{"infinite", Input{Blocks: []Block{{Stand: st, Value: bad}}}, ErrNotFinite},
	} {
		t.Run(in.name, func(t *testing.T) {
			_, err := Find(in.Input)
			require.ErrorIs(t, err, in.want)
		})
	}
	got, err := Find(Input{})
	require.NoError(t, err)
	assert.Empty(t, got.Blocks)
}
