package stands

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/tile"
	"courson/geo/vine"
)

func TestEvict(t *testing.T) {
	e := newEstate(t, 6)
	c := e.cache(Options{})
	var sizes []int64
	for i := range e.blocks {
		_, err := c.Stand(t.Context(), e.blocks[i].ID, 2027)
		require.NoError(t, err)
		sizes = append(sizes, c.Stats().Bytes)
	}
	small := e.cache(Options{Budget: sizes[2]})
	for i := range e.blocks {
		_, err := small.Stand(t.Context(), e.blocks[i].ID, 2027)
		require.NoError(t, err)
		require.LessOrEqual(t, small.Stats().Bytes, sizes[2])
		_, err = small.Stand(t.Context(), e.blocks[0].ID, 2027) // in use all the time
		require.NoError(t, err)
	}
	s := small.Stats()
	assert.Equal(t, 3, s.Stands)
	assert.Equal(t, int64(3), s.Evicted)
	assert.Len(t, small.sites, 3, "a ground goes with its last stand")
	assert.Contains(t, small.stands, key{e.blocks[0].ID, 2027}, "what is in use stays")

	read := e.read()
	for i := range e.blocks {
		tot, err := small.Totals(t.Context(), e.blocks[i].ID, 2027)
		require.NoError(t, err)
		assert.Equal(t, 2*rowVines, tot.Vines)
	}
	heads, err := small.Heads(t.Context())
	require.NoError(t, err)
	far, err := small.Drawings(t.Context(), heads, 2027, 10)
	require.NoError(t, err)
	require.Len(t, far, 6)
	assert.Equal(t, read, e.read(), "totals stay when the stand has gone")
	near, err := small.Drawings(t.Context(), heads[1:2], 2027, 17)
	require.NoError(t, err)
	assert.Equal(t, 2*rowVines, near[0].Index.Len())
	assert.NotEqual(t, read, e.read(), "near by, the vines are needed")
	var r tile.Renderer
	at, err := tile.At(8.1, 49.2, 10)
	require.NoError(t, err)
	var views [2][]tile.BlockView
	full, err := e.cache(Options{}).Views(t.Context(), heads, 2027)
	require.NoError(t, err)
	for i := range far {
		views[0], views[1] = append(views[0], far[i].BlockView), append(views[1], full[i].Drawing)
	}
	assert.Equal(t, r.Vector(at, views[1], tile.Options{}), r.Vector(at, views[0], tile.Options{}))

	e.record(2027, 1, done, e.vine(1, 0))
	small.Touched()
	tot, err := small.Totals(t.Context(), e.blocks[1].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, 1, tot.Progress[vine.Done], "and are counted anew when something was recorded")
}

func TestEvict_AStandLargerThanTheBudget(t *testing.T) {
	e := newEstate(t, 2)
	c := e.cache(Options{Budget: 1})
	for i := range e.blocks {
		v, err := c.Stand(t.Context(), e.blocks[i].ID, 2027)
		require.NoError(t, err)
		assert.Equal(t, 2*rowVines, v.Stand.Ground.Len(), "answered all the same")
	}
	assert.Equal(t, 1, c.Stats().Stands)
}

func TestWarm(t *testing.T) {
	e := newEstate(t, 5)
	c := e.cache(Options{})
	require.NoError(t, c.Warm(t.Context(), 2027))
	assert.Equal(t, 5, c.Stats().Stands)
	read := e.read()
	views, err := c.Touching(t.Context(), orb.Bound{Min: orb.Point{8, 49}, Max: orb.Point{9, 50}}, 2027)
	require.NoError(t, err)
	require.Len(t, views, 5)
	for i, v := range views {
		assert.Equal(t, e.blocks[i].Code, v.Code, "in order of code")
	}
	assert.Equal(t, read, e.read())
}

func TestTouching_LoadsOnlyWhatIsTouched(t *testing.T) {
	e := newEstate(t, 5)
	c := e.cache(Options{})
	b := e.blocks[2].Outline.Bound()
	views, err := c.Touching(t.Context(), b, 2027)
	require.NoError(t, err)
	require.Len(t, views, 1)
	assert.Equal(t, e.blocks[2].ID, views[0].ID)
	assert.Equal(t, [3]int{1, 1, 0}, e.read())
	none, err := c.Touching(t.Context(), orb.Bound{Min: orb.Point{-1, -1}, Max: orb.Point{1, 1}}, 2027)
	require.NoError(t, err)
	assert.Empty(t, none)
}
