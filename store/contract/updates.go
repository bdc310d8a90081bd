package contract

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func updateTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"kept when it returns":               keptAtOnce,
		"an error leaves nothing":            errorLeavesNothing,
		"a panic leaves nothing":             panicLeavesNothing,
		"a cancelled context leaves nothing": cancelLeavesNothing,
		"a cancelled context does not begin": cancelledBefore,
		"it sees what it has written":        seesItself,
		"others do not see it yet":           othersDoNot,
		"only one runs at a time":            oneAtATime,
		"it ends with its function":          endsWithFunction,
		"a closed store refuses":             closedStore,
	}
}

func keptAtOnce(t *testing.T, h Harness) {
	s := h.open(t)
	other := h.again(t, s)
	f := plant(t, s, "H3", 2, 3)
	assert.Equal(t, f.all(), vinesOf(t, s, f.block.ID))
	assert.Equal(t, f.all(), vinesOf(t, other, f.block.ID))
}

// everything is what the tests of a failed transaction do in it: all that a
// transaction can write.
func everything(t *testing.T, f *field, d *device) (do func(store.Tx) error, event vine.Event) {
	event = d.event(2031, wholeBlock(f.block), seen(vine.Dead))
	return func(tx store.Tx) error {
		block, row, v := f.block, f.rows[0], f.vines[0][0]
		block.Name, row.LengthM, v.Tag, v.Number = "changed", 1, "changed", 1000
		extra := layField("NEW", 2, 3)
		for _, err := range []error{
			tx.SaveEstate(store.Estate{Name: "changed"}),
			tx.SaveBlocks([]store.Block{block}), tx.SaveRows([]store.Row{row}), tx.SaveVines([]store.Vine{v}),
			extra.save(tx),
		} {
			if err != nil {
				return err
			}
		}
		if _, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2032, Block: block.ID}, nil); err != nil {
			return err
		}
		_, err := tx.Append(t.Context(), []vine.Event{event})
		return err
	}, event
}

// picture is everything that the tests can see of a store.
func picture(t *testing.T, s store.Store, f *field) string {
	t.Helper()
	ctx := t.Context()
	estate, err := s.Estate(ctx)
	require.NoError(t, err)
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	rows, err := s.Rows(ctx, f.block.ID)
	require.NoError(t, err)
	seasons, err := s.Seasons(ctx)
	require.NoError(t, err)
	plans, err := s.PlanList(ctx, store.PlanPruning, 2032, 0)
	require.NoError(t, err)
	out := fmt.Sprintln(estate, blocks, rows, vinesOf(t, s, f.block.ID), seasons, plans, idsOf(logOf(t, s, store.EventQuery{})))
	for _, st := range statesOf(t, s, f.block.ID, 2031, 0) {
		out += fmt.Sprintln(st.Vine, st.Changed, plain(st.State))
	}
	return out
}

func errorLeavesNothing(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 3), newDevice("d")
	before := picture(t, s, f)
	do, event := everything(t, f, d)
	mine := errors.New("mine")
	err := s.Update(t.Context(), func(tx store.Tx) error {
		require.NoError(t, do(tx))
		return mine
	})
	assert.ErrorIs(t, err, mine)
	assert.Equal(t, before, picture(t, s, f))
	// What was given back is free again, and the event is still new.
	update(t, s, do)
	assert.Equal(t, []store.Result{store.Known}, results(t, s, event))
}

func panicLeavesNothing(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	before := picture(t, s, f)
	do, _ := everything(t, f, newDevice("d"))
	assert.PanicsWithValue(t, "mine", func() {
		s.Update(t.Context(), func(tx store.Tx) error {
			require.NoError(t, do(tx))
			panic("mine")
		})
	}, "the caller's panic is the caller's")
	assert.Equal(t, before, picture(t, s, f))
	update(t, s, do)
}

func cancelLeavesNothing(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	before := picture(t, s, f)
	for name, after := range map[string]func(tx store.Tx) error{
		"and f returns nil": func(store.Tx) error { return nil },
		"and f writes on": func(tx store.Tx) error {
			err := tx.SaveVines(f.vines[1])
			assert.ErrorIs(t, err, context.Canceled)
			return nil // f does not care
		},
		"and f appends on, with a context of its own": func(tx store.Tx) error {
			tx.Append(t.Context(), []vine.Event{newDevice("e").event(2030, wholeBlock(f.block), vine.Note{Text: "late"})})
			return nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			do, _ := everything(t, f, newDevice("d"))
			err := s.Update(ctx, func(tx store.Tx) error {
				require.NoError(t, do(tx))
				cancel()
				return after(tx)
			})
			require.ErrorIs(t, err, context.Canceled)
			assert.Equal(t, before, picture(t, s, f))
		})
	}
}

func cancelledBefore(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 1)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	err := s.Update(ctx, func(store.Tx) error {
		t.Error("f was called")
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
	_, err = s.Append(ctx, []vine.Event{newDevice("d").event(2027, wholeBlock(f.block), seen(vine.Weak))})
	require.ErrorIs(t, err, context.Canceled)
	assert.Empty(t, logOf(t, s, store.EventQuery{}))
	for name, read := range map[string]func() error{
		"blocks":  func() error { _, err := s.Blocks(ctx); return err },
		"events":  func() error { _, err := s.Events(ctx, store.EventQuery{}); return err },
		"seasons": func() error { _, err := s.Seasons(ctx); return err },
		"find":    func() error { _, err := s.FindLabel(ctx, "x"); return err },
		"plans":   func() error { _, err := s.PlanList(ctx, store.PlanPruning, 2027, 0); return err },
		"ready":   func() error { return s.Ready(ctx) },
		"rebuild": func() error { _, err := s.Rebuild(ctx, true, nil); return err },
	} {
		assert.ErrorIs(t, read(), context.Canceled, name)
	}
	require.NoError(t, s.Ready(t.Context()), "the store still works")
}

func seesItself(t *testing.T, h Harness) {
	s := h.open(t)
	ctx := t.Context()
	update(t, s, func(tx store.Tx) error {
		f := layField("H3", 2, 3)
		require.NoError(t, f.save(tx))
		blocks, err := tx.Blocks(ctx)
		require.NoError(t, err)
		require.Len(t, blocks, 1)
		rows, err := tx.Rows(ctx, f.block.ID)
		require.NoError(t, err)
		assert.Equal(t, f.rows, rows)
		assert.Equal(t, f.all(), vinesOf(t, tx, f.block.ID))
		v, err := tx.Vine(ctx, f.vines[1][2].ID)
		require.NoError(t, err)
		assert.Equal(t, f.vines[1][2], v)
		found, err := tx.FindLabel(ctx, "h3/2/3")
		require.NoError(t, err)
		assert.Equal(t, []vine.ID{v.ID}, idsOfVines(found))
		d := newDevice("d")
		first := d.event(2027, oneVine(v), seen(vine.Weak))
		send(t, tx, first)
		assert.Equal(t, []store.Result{store.Known}, results(t, tx, first))
		st, ok := stateOf(t, tx, v, 2028)
		assert.True(t, ok)
		assert.Equal(t, vine.Weak, st.Condition)
		send(t, tx, d.event(2028, wholeRow(f.rows[1]), seen(vine.Bearing)))
		st, _ = stateOf(t, tx, v, 2028)
		assert.Equal(t, vine.Bearing, st.Condition, "states follow what is appended after the first look")
		assert.Len(t, logOf(t, tx, store.EventQuery{Vine: v.ID}), 2)
		seasons, err := tx.Seasons(ctx)
		require.NoError(t, err)
		assert.Equal(t, []int{2027, 2028}, seasons)
		id, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2028, Block: f.block.ID}, []store.PlanEntry{{Vine: v.ID, Nodes: 8}})
		require.NoError(t, err)
		plans, err := tx.PlanList(ctx, store.PlanPruning, 2028, f.block.ID)
		require.NoError(t, err)
		require.Len(t, plans, 1)
		assert.Equal(t, id, plans[0].ID)
		entries, err := tx.PlanEntries(ctx, store.PlanPruning, 2028, f.block.ID)
		require.NoError(t, err)
		assert.Len(t, entries, 1)
		return nil
	})
}

func othersDoNot(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	before := picture(t, s, f)
	do, _ := everything(t, f, newDevice("d"))
	update(t, s, func(tx store.Tx) error {
		require.NoError(t, do(tx))
		assert.Equal(t, before, picture(t, s, f), "a reader beside it sees what was before")
		return nil
	})
	assert.NotEqual(t, before, picture(t, s, f))
}

func oneAtATime(t *testing.T, h Harness) {
	s := h.open(t)
	other := h.again(t, s)
	var inside, most atomic.Int32
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			st := s
			if i%2 == 1 {
				st = other
			}
			err := st.Update(t.Context(), func(tx store.Tx) error {
				n := inside.Add(1)
				defer inside.Add(-1)
				most.Store(max(most.Load(), n))
				time.Sleep(5 * time.Millisecond)
				return tx.SaveBlocks([]store.Block{{Code: fmt.Sprint(i)}})
			})
			assert.NoError(t, err)
		})
	}
	wg.Wait()
	assert.EqualValues(t, 1, most.Load())
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Len(t, blocks, 8)
}

func endsWithFunction(t *testing.T, h Harness) {
	s := h.open(t)
	var leaked store.Tx
	update(t, s, func(tx store.Tx) error {
		leaked = tx
		return tx.SaveBlocks([]store.Block{{Code: "A"}})
	})
	assert.Error(t, leaked.SaveBlocks([]store.Block{{Code: "B"}}))
	_, err := leaked.Blocks(t.Context())
	assert.Error(t, err)
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Len(t, blocks, 1)
}

func closedStore(t *testing.T, h Harness) {
	s := h.Open(t)
	require.NoError(t, s.Close())
	_, err := s.Blocks(t.Context())
	assert.Error(t, err)
	assert.Error(t, s.Update(t.Context(), func(store.Tx) error { return nil }))
	_, err = s.Append(t.Context(), []vine.Event{newDevice("d").event(2027, vine.Target{Block: 1}, seen(vine.Weak))})
	assert.Error(t, err)
	assert.Error(t, s.Ready(t.Context()))
	assert.NoError(t, s.Close(), "closing twice does no harm")
}
