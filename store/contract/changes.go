package contract

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func changeTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"of one's own and of others":  changesSeen,
		"a slow reader":               slowReader,
		"until the context ends":      changesEnd,
		"until the store is closed":   changesClose,
		"not of what was rolled back": noFalseNotice,
	}
}

// patience is how long a notice may take in a test; from another process it
// takes half a second by design.
const patience = 10 * time.Second

// next waits for a notice about the block with at least the revision.
func next(t *testing.T, from <-chan store.Change, block vine.ID, revision int64) store.Change {
	t.Helper()
	var sum store.Change
	deadline := time.After(patience)
	for {
		select {
		case ch, open := <-from:
			require.True(t, open, "the channel was closed")
			if ch.Block != block {
				continue
			}
			sum.Ground, sum.Plan = sum.Ground || ch.Ground, sum.Plan || ch.Plan
			sum.Block, sum.Revision, sum.Seasons = ch.Block, ch.Revision, ch.Seasons
			if ch.Revision >= revision {
				return sum
			}
		case <-deadline:
			require.Failf(t, "no notice", "of block %d, revision %d", block, revision)
		}
	}
}

func changesSeen(t *testing.T, h Harness) {
	s := h.open(t)
	other := h.again(t, s)
	f, d := plant(t, s, "H3", 2, 3), newDevice("d")
	mine, err := s.Changes(t.Context())
	require.NoError(t, err)
	theirs, err := other.Changes(t.Context())
	require.NoError(t, err)
	for _, c := range []struct {
		name         string
		by           store.Store
		ground, plan bool
		season       int
		do           func(store.Tx) error
	}{
		{"a measure", s, false, false, 2027, func(tx store.Tx) error { send(t, tx, d.event(2027, oneVine(f.vines[0][0]), weight(1))); return nil }},
		{"ground", s, true, false, 0, func(tx store.Tx) error { f.vines[0][0].Tag = "x"; return f.save(tx) }},
		{"a plan", s, false, true, 2027, func(tx store.Tx) error {
			_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.block.ID}, nil)
			return err
		}},
		{"a measure by the other", other, false, false, 2028, func(tx store.Tx) error { send(t, tx, d.event(2028, oneVine(f.vines[0][0]), weight(1))); return nil }},
		{"ground by the other", other, true, false, 0, func(tx store.Tx) error { f.rows[0].LengthM = 4; return f.save(tx) }},
	} {
		update(t, c.by, c.do)
		revision := blockNow(t, s, f.block.ID).Revision
		for name, from := range map[string]<-chan store.Change{"to itself": mine, "to the other": theirs} {
			ch := next(t, from, f.block.ID, revision)
			assert.Equal(t, revision, ch.Revision, "%s, %s", c.name, name)
			assert.Equal(t, c.ground, ch.Ground, "%s, %s: ground", c.name, name)
			assert.Equal(t, c.plan, ch.Plan, "%s, %s: plan", c.name, name)
			if c.season != 0 && len(ch.Seasons) > 0 {
				assert.True(t, slices.Contains(ch.Seasons, c.season), "%s, %s: %v", c.name, name, ch.Seasons)
			}
		}
	}
	fresh := plant(t, other, "NEW", 1, 1)
	assert.True(t, next(t, mine, fresh.block.ID, 1).Ground, "a block that nobody knew")
}

func slowReader(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "A", 1, 2), plant(t, s, "B", 1, 2), newDevice("d")
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	update(t, s, func(tx store.Tx) error { a.block.Name = "x"; return a.save(tx) })
	for i := range 60 {
		f := a
		if i%2 == 1 {
			f = b
		}
		send(t, s, d.event(2020+i%5, oneVine(f.vines[0][0]), vine.Note{Text: "x"}))
	}
	last := map[vine.ID]int64{a.block.ID: blockNow(t, s, a.block.ID).Revision, b.block.ID: blockNow(t, s, b.block.ID).Revision}
	got := map[vine.ID]int64{}
	ground, notices := false, 0
	for deadline := time.After(patience); got[a.block.ID] < last[a.block.ID] || got[b.block.ID] < last[b.block.ID]; {
		select {
		case ch := <-from:
			assert.Greater(t, ch.Revision, got[ch.Block], "revisions rise")
			got[ch.Block] = ch.Revision
			ground = ground || ch.Ground
			notices++
		case <-deadline:
			require.Failf(t, "notices are missing", "got %v of %v", got, last)
		}
	}
	assert.Equal(t, last, got)
	assert.True(t, ground, "joining loses no ground change")
	assert.Less(t, notices, 61, "some were joined")
}

func changesEnd(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 1)
	ctx, cancel := context.WithCancel(t.Context())
	from, err := s.Changes(ctx)
	require.NoError(t, err)
	send(t, s, newDevice("d").event(2027, wholeBlock(f.block), vine.Note{Text: "nobody takes this"}))
	cancel()
	waitClosed(t, from)
	from, err = s.Changes(t.Context())
	require.NoError(t, err, "one may listen again")
	send(t, s, newDevice("e").event(2027, wholeBlock(f.block), vine.Note{Text: "x"}))
	next(t, from, f.block.ID, blockNow(t, s, f.block.ID).Revision)
}

func waitClosed(t *testing.T, from <-chan store.Change) {
	t.Helper()
	for deadline := time.After(patience); ; {
		select {
		case _, open := <-from:
			if !open {
				return
			}
		case <-deadline:
			require.Fail(t, "the channel stays open")
		}
	}
}

func changesClose(t *testing.T, h Harness) {
	s := h.Open(t)
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.Close())
	waitClosed(t, from)
}

func noFalseNotice(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 1)
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	s.Update(t.Context(), func(tx store.Tx) error {
		send(t, tx, newDevice("d").event(2027, wholeBlock(f.block), seen(vine.Dead)))
		return context.DeadlineExceeded
	})
	select {
	case ch := <-from:
		assert.Failf(t, "a notice of nothing", "%+v", ch)
	case <-time.After(50 * time.Millisecond):
	}
}
