package stand

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

func TestBuilder(t *testing.T) {
	g := smallPlot.ground(t)
	require.Equal(t, 15, g.Len())
	require.Equal(t, []Row{
		{ID: 100, Label: "1", First: 0, Count: 5, Ends: g.Rows[0].Ends},
		{ID: 101, Label: "2", First: 5, Count: 5, Ends: g.Rows[1].Ends},
		{ID: 102, Label: "3", First: 10, Count: 5, Ends: g.Rows[2].Ends},
	}, g.Rows)
	require.Equal(t, "H3/2/3", g.Address(7).String())
	wx, wy := World(smallPlot.lon, smallPlot.lat-1e-5)
	require.Equal(t, [2]uint32{wx, wy}, g.Rows[0].Ends[0])
	p := smallPlot.place(1, 2)
	require.Equal(t, []any{p.ID, int32(1), int32(3), float32(3), float32(2), float32(2.4), int16(2015)},
		[]any{g.ID[7], g.Row[7], g.Number[7], g.Chainage[7], g.X[7], g.Y[7], g.Planted[7]})
}

// Each vine occupies the row half way to its neighbours.
func TestBuilder_Occupied(t *testing.T) {
	for _, c := range []struct {
		name     string
		spacingM float64
		chainage []float64
		part     []int
		want     []float32
	}{
		{"even", 1.2, []float64{0.6, 1.8, 3.0}, nil, []float32{1.2, 1.2, 1.2}},
		{"a wider step", 1.0, []float64{0, 1, 4, 5}, nil, []float32{1, 2, 2, 1}},
		{"cut by a road", 1.0, []float64{0, 1, 2, 3}, []int{0, 0, 1, 1}, []float32{1, 1, 1, 1}},
		{"spacing not known", 0, []float64{0, 1, 3}, nil, []float32{1, 1.5, 2}},
		{"one vine", 1.5, []float64{4}, nil, []float32{1.5}},
		{"one vine, spacing not known", 0, []float64{4}, nil, []float32{0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := NewBuilder(Ground{Block: 1})
			b.Row(1, "1", c.spacingM)
			for i, m := range c.chainage {
				p := Position{ID: vine.ID(i + 1), Number: i + 1, ChainageM: m}
				if c.part != nil {
					p.Part = c.part[i]
				}
				b.Vine(p)
			}
			g, err := b.Ground()
			require.NoError(t, err)
			require.InDeltaSlice(t, c.want, g.Occupied, 1e-6)
			require.Equal(t, c.part != nil, g.Part != nil)
			for i := range g.Part {
				require.Equal(t, c.part[i], int(g.Part[i]))
			}
		})
	}
}

func TestBuilder_Refuses(t *testing.T) {
	at := func(id vine.ID, number int) Position { return Position{ID: id, Number: number, Lon: 1, Lat: 45} }
	for _, c := range []struct {
		name  string
		build func(b *Builder)
		says  string
	}{
		{"a vine before any row", func(b *Builder) { b.Vine(at(1, 1)) }, "before any row"},
		{"ends before any row", func(b *Builder) { b.Ends([2]float64{}, [2]float64{}) }, "before any row"},
		{"numbers that fall", func(b *Builder) { b.Row(1, "7a", 0); b.Vine(at(1, 2)); b.Vine(at(2, 1)) }, "row 7a: number 1 comes after 2"},
		{"a number twice", func(b *Builder) { b.Row(1, "7a", 0); b.Vine(at(1, 2)); b.Vine(at(2, 2)) }, "number 2 comes after 2"},
		{"number nought", func(b *Builder) { b.Row(1, "1", 0); b.Vine(at(1, 0)) }, "number 0"},
		{"number beyond the format", func(b *Builder) { b.Row(1, "1", 0); b.Vine(at(1, 65536)) }, "number 65536"},
		{"an id twice", func(b *Builder) { b.Row(1, "1", 0); b.Vine(at(9, 1)); b.Row(2, "2", 0); b.Vine(at(9, 1)) }, "vine 9 is there twice"},
		{"no id", func(b *Builder) { b.Row(1, "1", 0); b.Vine(at(0, 1)) }, "0 is not the id"},
		{"lat and lon changed about", func(b *Builder) { b.Row(1, "1", 0); b.Vine(Position{ID: 1, Number: 1, Lon: 45, Lat: 145}) }, "45, 145"},
		{"planted in the year 20", func(b *Builder) { b.Row(1, "1", 0); p := at(1, 1); p.Planted = 20; b.Vine(p) }, "planted in 20"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := NewBuilder(Ground{Block: 1})
			c.build(b)
			_, err := b.Ground()
			require.ErrorIs(t, err, ErrGround)
			require.Contains(t, err.Error(), c.says)
		})
	}
}

func TestGround_FinishRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(g *Ground)
		says  string
	}{
		{"a column too short", func(g *Ground) { g.WX = g.WX[:3] }, "column world x has 3 entries for 15"},
		{"half a chainage", func(g *Ground) { g.Chainage = g.Chainage[:3] }, "column chainage"},
		{"rows that overlap", func(g *Ground) { g.Rows[1].First = 4 }, "row 2"},
		{"rows that leave vines out", func(g *Ground) { g.Rows = g.Rows[:2] }, "10 of 15"},
		{"a row beyond the end", func(g *Ground) { g.Rows[2].Count = 6 }, "row 3"},
		{"a vine of another row", func(g *Ground) { g.Row[6] = 2 }, "belongs to the 3. row"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := smallPlot.ground(t)
			c.spoil(g)
			err := g.Finish()
			require.ErrorIs(t, err, ErrGround)
			require.Contains(t, err.Error(), c.says)
		})
	}
}

// IndexOf finds every vine and no other, whatever order the ids have and
// whether or not the ground was finished.
func TestGround_IndexOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOfNDistinct(rapid.Int64Range(1, 60), 0, 20, rapid.ID[int64]).Draw(t, "ids")
		switch rapid.IntRange(0, 2).Draw(t, "order") {
		case 0:
			slices.Sort(ids)
		case 1:
			r := rand.New(rand.NewPCG(1, 1))
			r.Shuffle(len(ids), func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
		}
		b := NewBuilder(Ground{Block: 1})
		b.Row(1, "1", 1)
		for i, id := range ids {
			b.Vine(Position{ID: id, Number: i + 1})
		}
		g, err := b.Ground()
		require.NoError(t, err)
		bare := &Ground{ID: g.ID}
		for id := vine.ID(-1); id <= 62; id++ {
			want := slices.Index(ids, id)
			for _, g := range []*Ground{g, bare} {
				got, ok := g.IndexOf(id)
				if ok != (want >= 0) || ok && got != want {
					t.Fatalf("vine %d of %v: got %d %v", id, ids, got, ok)
				}
			}
		}
	})
}

func TestGround_Empty(t *testing.T) {
	g, err := NewBuilder(Ground{Block: 1}).Ground()
	require.NoError(t, err)
	_, ok := g.IndexOf(1)
	require.False(t, ok)
	s := NewStand(g, 2027, 1)
	require.Equal(t, Totals{}, TotalsOf(s))
	back, err := ReadBinary(AppendBinary(nil, s))
	require.NoError(t, err)
	require.Equal(t, 0, back.Ground.Len())
}
