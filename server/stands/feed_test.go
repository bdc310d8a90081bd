package stands

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store"
)

func TestFeed_SlowReaderGetsJoinedNotices(t *testing.T) {
	var f feed
	ctx, cancel := context.WithCancel(t.Context())
	slow := f.subscribe(ctx)
	for rev := range int64(1000) {
		f.publish(store.Change{Block: 1 + rev%2, Revision: rev, Ground: rev == 500, Seasons: []int{2020 + int(rev%3)}})
	}
	last := map[vine.ID]store.Change{}
	n := 0
	for len(last) < 2 || last[1].Revision < 998 || last[2].Revision < 999 {
		select {
		case ch := <-slow:
			if old, ok := last[ch.Block]; ok {
				ch = Join(old, ch)
			}
			last[ch.Block] = ch
			n++
		case <-time.After(5 * time.Second):
			t.Fatalf("the last revisions did not come: %v", last)
		}
	}
	assert.Less(t, n, 10, "joined")
	assert.True(t, last[1].Ground, "nothing lost")
	assert.False(t, last[2].Ground)
	assert.Equal(t, []int{2020, 2021, 2022}, last[1].Seasons)
	cancel()
	for range slow {
	}
	require.Eventually(t, func() bool { return f.count() == 0 }, time.Second, time.Millisecond)
}

func TestJoin_OrderDoesNotMatter(t *testing.T) {
	change := rapid.Custom(func(t *rapid.T) store.Change {
		return store.Change{Block: 7, Revision: rapid.Int64Range(1, 99).Draw(t, "revision"), Ground: rapid.Bool().Draw(t, "ground"),
			Plan: rapid.Bool().Draw(t, "plan"), Seasons: rapid.SliceOfNDistinct(rapid.IntRange(2020, 2024), 0, 3, rapid.ID[int]).Draw(t, "seasons")}
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := change.Draw(t, "a"), change.Draw(t, "b"), change.Draw(t, "c")
		x, y := Join(Join(a, b), c), Join(a, Join(c, b))
		if x.Revision != y.Revision || x.Ground != y.Ground || x.Plan != y.Plan || len(x.Seasons) != len(y.Seasons) {
			t.Fatalf("%+v is not %+v", x, y)
		}
		any := len(a.Seasons) == 0 || len(b.Seasons) == 0 || len(c.Seasons) == 0
		if any != (len(x.Seasons) == 0) {
			t.Fatalf("seasons %v of %v, %v, %v", x.Seasons, a.Seasons, b.Seasons, c.Seasons)
		}
	})
}

// endingStore stops telling of changes when asked to.
type endingStore struct {
	store.Store
	notices chan chan store.Change
}

func (s *endingStore) Changes(context.Context) (<-chan store.Change, error) {
	ch := make(chan store.Change)
	s.notices <- ch
	return ch, nil
}

func TestListen_AgainAfterTheStoreStopped(t *testing.T) {
	e := newEstate(t, 1)
	st := &endingStore{Store: e, notices: make(chan chan store.Change, 2)}
	c := New(st, Options{})
	require.NoError(t, c.Start(t.Context()))
	v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
	require.NoError(t, err)
	require.Zero(t, v.Totals.Progress[vine.Done])
	first := <-st.notices
	close(first)
	e.record(2027, 0, done, e.vine(0, 0)) // no notice of this one comes
	second := <-st.notices
	require.Eventually(t, func() bool {
		v, err := c.Stand(t.Context(), e.blocks[0].ID, 2027)
		return err == nil && v.Totals.Progress[vine.Done] == 1
	}, 5*time.Second, 5*time.Millisecond, "what was missed is looked up")
	c.stop()
	close(second)
	c.Close()
}
