package work

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// standOf loads a block's stand of a season.
func standOf(t testing.TB, st store.Store, code string, season int) *stand.Stand {
	t.Helper()
	ctx := context.Background()
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	for _, b := range blocks {
		if b.Code == code {
			g, _, err := GroundOf(ctx, st, b)
			require.NoError(t, err)
			s, err := LoadStand(ctx, st, g, season)
			require.NoError(t, err)
			return s
		}
	}
	t.Fatalf("there is no block %s", code)
	return nil
}

// One column for each quantity, whatever unit its values were written in; one
// for each index.
func TestVigourInput(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		for _, sheet := range []string{
			"block,row,vine,weight_lb,cane_diameter_mm\nB1,1,1,1,8\n",
			"block,row,vine,weight_g,cane_diameter_in\nB1,1,2,300,0.3\n",
			"block,row,vine,canes 6-8 mm\nB1,1,3,4\n",
			"block,row,vine,NDVI\nB1,1,1,0.7\n",
			"block,row,vine,NDRE\nB1,1,2,0.3\n",
		} {
			take(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("m.csv", sheet))
		}
		s := standOf(t, st, "B1", 2026)
		in, err := VigourInput(context.Background(), st, s)
		require.NoError(t, err)
		require.Same(t, s, in.Stand)
		type column struct {
			q     vine.Quantity
			scale string
			vines int
		}
		var got []column
		for _, c := range in.Columns {
			n := 0
			for _, known := range c.Known {
				if known {
					n++
				}
			}
			got = append(got, column{c.Quantity, c.Scale, n})
		}
		require.Equal(t, []column{{vine.CaneCount, "", 1}, {vine.CaneDiameter, "", 3}, {vine.CanopyIndex, "NDRE", 1}, {vine.CanopyIndex, "NDVI", 1}}, got)
		require.InDelta(t, 453.59237, s.WeightG[0], 1e-3)
		require.Equal(t, float32(300), s.WeightG[1])
	})
}
