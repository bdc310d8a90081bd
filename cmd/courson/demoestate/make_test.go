package demoestate

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

func make1(t testing.TB, seed uint64, vines int) store.Store {
	t.Helper()
	ctx := context.Background()
	st, err := gpkg.Open(ctx, filepath.Join(t.TempDir(), "demo.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, st.Close()) })
	_, err = Make(ctx, st, seed, vines, nil)
	require.NoError(t, err)
	return st
}

// facts gives everything of an estate that its ids, records and states say.
func facts(t *testing.T, st store.Store) (events []store.LoggedEvent, vines []store.Vine) {
	t.Helper()
	ctx := context.Background()
	events, err := st.Events(ctx, store.EventQuery{})
	require.NoError(t, err)
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	for _, b := range blocks {
		for v, err := range st.Vines(ctx, b.ID) {
			require.NoError(t, err)
			vines = append(vines, v)
		}
	}
	return events, vines
}

func TestMake_SameSeedSameEstate(t *testing.T) {
	e1, v1 := facts(t, make1(t, 7, 3000))
	e2, v2 := facts(t, make1(t, 7, 3000))
	assert.Equal(t, v1, v2)
	assert.Equal(t, e1, e2)
	e3, _ := facts(t, make1(t, 8, 3000))
	assert.NotEqual(t, e1, e3)
}

func TestMake_DroughtBitesYoungAndShallow(t *testing.T) {
	if os.Getenv("COURSON_TEST_REQUIRE") == "" && testing.Short() {
		t.Skip("short: the whole estate takes some seconds")
	}
	ctx := context.Background()
	st := make1(t, 1, 20_000)
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	score := func(b store.Block, season int) float64 {
		sum, n := 0.0, 0.0
		for s, err := range st.States(ctx, b.ID, season, 0) {
			require.NoError(t, err)
			if r, ok := s.Measures[vine.VisualScore]; ok && s.Season == season {
				sum, n = sum+r.Value, n+1
			}
		}
		return sum / n
	}
	fell := map[string]float64{}
	for _, b := range blocks {
		fell[b.Code] = score(b, FirstSeason) - score(b, DrySeason)
		t.Logf("block %s, planted %d: score fell by %.2f", b.Code, b.Planted, fell[b.Code])
	}
	assert.Greater(t, fell["A2"], fell["A1"], "shallow Quarry falls more than deep Long Slope")
	assert.Greater(t, fell["A2"], 0.1)
}

func BenchmarkMake(b *testing.B) {
	for b.Loop() {
		make1(b, 1, Vines)
	}
}
