package stands

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

func TestStand_LoadedOnceHoweverManyAsk(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	var wg sync.WaitGroup
	for range 40 {
		wg.Go(func() {
			v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
			if assert.NoError(t, err) {
				assert.Equal(t, 2*rowVines, v.Stand.Ground.Len())
			}
		})
	}
	wg.Wait()
	assert.Equal(t, [3]int{1, 1, 0}, e.read(), "one ground, one stand")
}

func TestStand_SeasonsShareTheGround(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	a, err := c.Stand(t.Context(), e.blocks[0].ID, 2026)
	require.NoError(t, err)
	b, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Same(t, a.Stand.Ground, b.Stand.Ground)
	assert.Equal(t, [3]int{1, 2, 0}, e.read())
	assert.Equal(t, uint8(12), a.Stand.Leaf[0], "planted 2015")
	assert.Equal(t, uint8(13), b.Stand.Leaf[0])
}

func TestStand_FoldsWhatIsNew(t *testing.T) {
	e := newEstate(t, 2)
	c := e.cache(Options{})
	before, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	other, err := c.Stand(t.Context(), e.blocks[1].ID, 2027)
	require.NoError(t, err)
	read := e.read()

	id := e.vine(0, 5)
	e.record(2027, 0, done, id)
	c.Touched()
	after, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	i, ok := after.Find(id)
	require.True(t, ok)
	assert.Equal(t, vine.Done, after.Stand.Progress[i])
	assert.Equal(t, 1, after.Totals.Progress[vine.Done])
	assert.Equal(t, vine.NotStarted, before.Stand.Progress[i], "the old view stays as it was")
	assert.Zero(t, before.Totals.Progress[vine.Done])
	assert.Greater(t, after.Revision, before.Revision)
	assert.Equal(t, after.Revision, after.Stand.Changed[i])
	assert.LessOrEqual(t, after.Since, before.Revision, "changes since the old view are told vine by vine")
	got := e.read()
	assert.Equal(t, read[1], got[1], "nothing was read whole")
	assert.Equal(t, read[2]+1, got[2])

	same, err := c.Stand(t.Context(), e.blocks[1].ID, 2027)
	require.NoError(t, err)
	assert.Same(t, other.Stand, same.Stand, "another block is left alone")
}

func TestStand_TakesBackWhatWasVoided(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	id := e.vine(0, 5)
	ev := e.record(2027, 0, done, id)
	c.Touched()
	v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	require.Equal(t, 1, v.Totals.Progress[vine.Done])
	e.record(2027, 0, vine.Void{Event: ev.ID}, id)
	c.Touched()
	v, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Zero(t, v.Totals.Progress[vine.Done])
	i, _ := v.Find(id)
	assert.Equal(t, v.Revision, v.Stand.Changed[i], "an open page is told")
}

// TestStand_AlwaysLikeAFreshOne folds many batches one after the other, in
// several seasons, and compares with a cache that reads everything anew.
func TestStand_AlwaysLikeAFreshOne(t *testing.T) {
	t.Run("gpkg", func(t *testing.T) { likeAFreshOne(t, newEstate(t, 2)) })
	t.Run("postgis", func(t *testing.T) { likeAFreshOne(t, newPostgisEstate(t, 2)) })
}

func likeAFreshOne(t *testing.T, e *estate) {
	c := e.cache(Options{})
	seasons := []int{2025, 2026, 2027}
	value := 412.5
	for n := range 30 {
		block, season := n%2, seasons[n%3]
		ids := []vine.ID{e.vine(block, n%24), e.vine(block, (n*7+1)%24)}
		if ids[0] == ids[1] {
			ids = ids[:1]
		}
		var ev vine.Event
		switch n % 5 {
		case 0:
			ev = e.record(season, block, done, ids...)
		case 1:
			ev = e.record(season, block, vine.Sighting{Condition: vine.Missing}, ids...)
		case 2:
			ev = e.record(season, block, vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Value: &value}, ids...)
		case 3:
			ev = e.record(season, block, vine.Sighting{Condition: vine.Replanted}, ids...)
		case 4:
			nodes := n
			ev = e.record(season, block, vine.Pruned{Nodes: &nodes}, ids...)
		}
		if n%4 == 3 {
			e.record(season, block, vine.Void{Event: ev.ID}, ids...)
		}
		c.Touched()
		fresh := e.cache(Options{})
		for _, season := range seasons {
			got, err := c.Stand(t.Context(), e.blocks[block].ID, season)
			require.NoError(t, err)
			want, err := fresh.Stand(t.Context(), e.blocks[block].ID, season)
			require.NoError(t, err)
			require.Equal(t, columns(want), columns(got), "after step %d, season %d", n, season)
			require.Equal(t, want.Totals, got.Totals)
		}
		fresh.Close()
	}
	assert.NotZero(t, c.Stats().Folds)
	assert.Equal(t, int64(6), c.Stats().Loads, "each stand was read whole once")
}

// columns gives a stand without its ground, to compare.
func columns(v *View) stand.Stand {
	s := *v.Stand
	s.Ground = nil
	return s
}

func TestStand_GroundChangeLoadsAnew(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	before, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	rows := e.rows[e.blocks[0].ID]
	require.NoError(t, e.Update(t.Context(), func(tx store.Tx) error {
		return tx.SaveVines([]store.Vine{{Block: e.blocks[0].ID, Row: rows[1].ID, Number: rowVines + 1,
			Point: orb.Point{8.1005, 49.2005}, ChainageM: 20}})
	}))
	c.Touched()
	after, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, before.Stand.Ground.Len()+1, after.Stand.Ground.Len())
	assert.Greater(t, after.Since, before.Revision, "what was known before is no longer of use")
	assert.True(t, after.Bounds.Contains(orb.Point{8.1005, 49.2005}) || !before.Bounds.Contains(orb.Point{8.1005, 49.2005}))
	heads, err := c.TouchingHeads(t.Context(), orb.Bound{Min: orb.Point{8.10049, 49.20049}, Max: orb.Point{8.10051, 49.20051}})
	require.NoError(t, err)
	assert.Len(t, heads, 1, "a vine beside the outline is found")
	assert.Equal(t, 1, c.Stats().Stands)
}

func TestStand_PlanIsTakenUp(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	plan := func(nodes int, vines ...vine.ID) {
		require.NoError(t, e.Update(t.Context(), func(tx store.Tx) error {
			var entries []store.PlanEntry
			for _, v := range vines {
				entries = append(entries, store.PlanEntry{Vine: v, Nodes: nodes, Canes: -1, Spurs: -1})
			}
			_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: e.blocks[0].ID, Made: testNow, Source: "by hand"}, entries)
			return err
		}))
		c.Touched()
	}
	v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.False(t, v.Planned)
	plan(10, e.vine(0, 0), e.vine(0, 1))
	before := v
	v, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.True(t, v.Planned)
	assert.Equal(t, 20, v.Totals.NodesPlanned)
	assert.Greater(t, v.Stand.Changed[0], before.Revision)
	plan(8, e.vine(0, 0))
	v, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, 8, v.Totals.NodesPlanned, "the new plan takes the place of the old")

	fresh := e.cache(Options{})
	f, err := fresh.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, v.Totals.NodesPlanned, f.Totals.NodesPlanned)
	assert.Equal(t, f.Revision, f.Since, "when the plan came cannot be told after a restart")
}

func TestNotice_FromAnotherProcess(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	_, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	changes := c.Subscribe(ctx)
	e.record(2027, 0, done, e.vine(0, 3)) // and nobody calls Touched
	select {
	case ch := <-changes:
		assert.Equal(t, e.blocks[0].ID, ch.Block)
	case <-time.After(10 * time.Second):
		t.Fatal("no notice")
	}
	v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, 1, v.Totals.Progress[vine.Done], "shown by the time the notice is passed on")
	cancel()
	_, open := <-changes
	assert.False(t, open)
}

func TestFaults(t *testing.T) {
	e := newEstate(t, 2)
	c := e.cache(Options{})
	_, err := c.Stand(t.Context(), 987654, 2027)
	require.ErrorIs(t, err, store.ErrNotFound)

	e.before(func(vine.ID) error { return errBroken })
	_, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.ErrorIs(t, err, errBroken)
	require.ErrorContains(t, err, "block A0 season 2027")

	e.before(func(b vine.ID) error {
		if b == e.blocks[0].ID {
			panic("a fault")
		}
		return nil
	})
	_, err = c.Touching(t.Context(), orb.Bound{Min: orb.Point{8, 49}, Max: orb.Point{9, 50}}, 2027)
	var p *PanicError
	require.ErrorAs(t, err, &p)
	assert.Equal(t, "a fault", p.Value)
	assert.Contains(t, string(p.Stack), "cache_test.go")
	_, err = c.Stand(t.Context(), e.blocks[1].ID, 2027)
	require.NoError(t, err, "other blocks go on")

	e.before(nil)
	_, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err, "and the block itself when the fault has gone")
}

func TestCancel_LastOneStopsTheWork(t *testing.T) {
	e := newEstate(t, 1)
	c := e.cache(Options{})
	_, err := c.Heads(t.Context())
	require.NoError(t, err)
	began, leave := make(chan struct{}, 1), make(chan struct{})
	e.before(func(vine.ID) error { began <- struct{}{}; <-leave; return nil })
	first, stopFirst := context.WithCancel(t.Context())
	second, stopSecond := context.WithCancel(t.Context())
	results := make(chan error, 2)
	for _, ctx := range []context.Context{first, second} {
		go func() { _, err := c.Stand(ctx, e.blocks[0].ID, 2027); results <- err }()
	}
	<-began
	waiting := func(n int) func() bool {
		return func() bool {
			c.standFlight.mu.Lock()
			defer c.standFlight.mu.Unlock()
			call := c.standFlight.calls[key{e.blocks[0].ID, 2027}]
			return call != nil && call.waiters == n || call == nil && n == 0
		}
	}
	require.Eventually(t, waiting(2), 5*time.Second, time.Millisecond)
	stopFirst()
	require.ErrorIs(t, <-results, context.Canceled, "leaves at once")
	require.True(t, waiting(1)(), "the other one still waits for the same work")
	stopSecond()
	require.ErrorIs(t, <-results, context.Canceled)
	require.True(t, waiting(0)())
	close(leave)
	e.before(nil)
	_, err = c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
}

func TestConcurrent_ReadersAndWriters(t *testing.T) {
	e := newEstate(t, 3)
	c := e.cache(Options{Budget: 5000}) // too small for all: loads, folds and evictions mix
	var wg sync.WaitGroup
	for w := range 3 {
		wg.Go(func() {
			for n := range 8 {
				e.record(2027, w, done, e.vine(w, n))
				c.Touched()
				v, err := c.Stand(t.Context(), e.blocks[w].ID, 2027)
				if !assert.NoError(t, err) {
					return
				}
				assert.GreaterOrEqual(t, v.Totals.Progress[vine.Done], n+1, "one's own record shows")
			}
		})
	}
	for range 4 {
		wg.Go(func() {
			for n := range 40 {
				v, err := c.Stand(t.Context(), e.blocks[n%3].ID, 2027)
				if !assert.NoError(t, err) {
					return
				}
				total := 0
				for _, p := range v.Stand.Progress {
					if p == vine.Done {
						total++
					}
				}
				assert.Equal(t, total, v.Totals.Progress[vine.Done], "a view is of one piece")
			}
		})
	}
	wg.Wait()
}
