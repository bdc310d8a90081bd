package contract

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func moveTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"rows go with vines and records":     moveRows,
		"vines go to another row":            moveVines,
		"records before and after":           moveMeaning,
		"phones that have not heard":         moveLate,
		"a block that is no more":            moveGone,
		"old addresses are found":            moveLabels,
		"what is not there":                  moveUnknown,
		"others are told":                    moveTold,
		"there and back":                     moveBack,
		"events of a block as it stands":     moveEvents,
		"any moves and events":               anyMoves,
		"a vine moved in its first, and now": moveMade,
	}
}

// noonLater is a time after all events of the tests' devices so far.
func noonLater(d *device) time.Time { return d.now.Add(time.Second) }

func moveRows(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "H3", 3, 4), plant(t, s, "H4", 1, 2), newDevice("d")
	send(t, s, d.event(2027, oneVine(a.vines[1][0]), weight(400)), d.event(2027, wholeRow(a.rows[1]), seen(vine.Weak)), d.event(2027, wholeBlock(a.block), vine.Note{Text: "all"}))
	want := statesByVine(t, s, a.block.ID, 2027)
	update(t, s, func(tx store.Tx) error {
		if err := tx.MoveRows([]vine.ID{a.rows[1].ID}, b.block.ID, noonLater(d)); err != nil {
			return err
		}
		r := a.rows[1]
		r.Block, r.Label, r.Ord = b.block.ID, "2", 2
		return tx.SaveRows([]store.Row{r})
	})
	assert.Len(t, vinesOf(t, s, a.block.ID), 8)
	moved := vinesOf(t, s, b.block.ID)
	require.Len(t, moved, 6)
	for i, v := range moved[2:] {
		was := a.vines[1][i]
		was.Block = b.block.ID
		assert.Equal(t, was, v, "everything but its block stays")
	}
	got := statesByVine(t, s, b.block.ID, 2027)
	assert.Len(t, got, 4)
	for _, v := range a.vines[1] {
		assert.Equal(t, plain(want[v.ID].State), plain(got[v.ID].State))
	}
	assert.Len(t, statesByVine(t, s, a.block.ID, 2027), 8)
	requireSound(t, s)
}

func moveVines(t *testing.T, h Harness) {
	s := h.open(t)
	a, d := plant(t, s, "H3", 1, 6), newDevice("d")
	send(t, s, d.event(2027, wholeRow(a.rows[0]), vine.Work{Operation: vine.Pruning, Progress: vine.Done}), d.event(2026, oneVine(a.vines[0][5]), seen(vine.Weak)))
	want := statesByVine(t, s, a.block.ID, 2027)
	far := splitRow(t, s, a, 0, 3, noonLater(d))
	got := statesByVine(t, s, far.block.ID, 2027)
	require.Len(t, got, 3)
	for id, st := range got {
		assert.Equal(t, plain(want[id].State), plain(st.State))
	}
	v, err := s.Vine(t.Context(), a.vines[0][5].ID)
	require.NoError(t, err)
	assert.Equal(t, [2]vine.ID{far.block.ID, far.rows[0].ID}, [2]vine.ID{v.Block, v.Row})
	requireSound(t, s)
}

// splitRow makes a new block with one row of the vines of a row from one on.
func splitRow(t *testing.T, s store.Store, f *field, row, from int, at time.Time) *field {
	t.Helper()
	out := layField(f.block.Code+"b", 1, 0)
	update(t, s, func(tx store.Tx) error {
		if err := out.save(tx); err != nil {
			return err
		}
		return tx.MoveVines(idsOfVines(f.vines[row][from:]), out.rows[0].ID, at)
	})
	return out
}

func moveMeaning(t *testing.T, h Harness) {
	s := h.open(t)
	a, d := plant(t, s, "H3", 2, 4), newDevice("d")
	done := vine.Work{Operation: "tying", Progress: vine.Done}
	send(t, s, d.event(2027, wholeRow(a.rows[0]), vine.Note{Text: "before"}))
	b := splitRow(t, s, a, 0, 2, noonLater(d))
	d.now = d.now.Add(time.Minute)
	send(t, s, d.event(2027, wholeRow(a.rows[0]), done), d.event(2027, wholeBlock(b.block), seen(vine.Weak)), d.event(2027, wholeBlock(a.block), vine.Note{Text: "after"}))
	near, far := statesByVine(t, s, a.block.ID, 2027), statesByVine(t, s, b.block.ID, 2027)
	for _, v := range a.vines[0][:2] {
		assert.Equal(t, 2, near[v.ID].Notes)
		assert.Equal(t, vine.Done, near[v.ID].Work["tying"])
		assert.Equal(t, vine.Unseen, near[v.ID].Condition)
	}
	for _, v := range a.vines[0][2:] {
		assert.Equal(t, 1, far[v.ID].Notes)
		assert.Empty(t, far[v.ID].Work)
		assert.Equal(t, vine.Weak, far[v.ID].Condition)
	}
	requireSound(t, s)
}

// What phones send that hold the ground as it was: nothing is lost, and what was done
// before the move covers what it covered.
func moveLate(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "H3", 2, 4), plant(t, s, "H4", 1, 2), newDevice("d")
	early := d.event(2027, wholeBlock(a.block), vine.Note{Text: "early, sent late"})
	rowEarly := d.event(2027, wholeRow(a.rows[1]), seen(vine.Weak))
	c := splitRow(t, s, a, 0, 2, noonLater(d))
	update(t, s, func(tx store.Tx) error { return tx.MoveRows([]vine.ID{a.rows[1].ID}, b.block.ID, noonLater(d)) }, relabel(a.rows[1], b.block.ID, "9"))
	d.now = d.now.Add(time.Minute)
	one := d.event(2027, oneVine(a.vines[0][3]), weight(300)) // stands in another row and block now
	both := d.event(2027, vine.Target{Block: a.block.ID, Row: a.rows[0].ID, Vines: []vine.ID{a.vines[0][1].ID, a.vines[0][2].ID}}, weight(310, 320))
	row := d.event(2027, wholeRow(a.rows[1]), vine.Work{Operation: "tying", Progress: vine.Done})
	before := blockNow(t, s, c.block.ID).Revision
	send(t, s, early, rowEarly, one, both, row)
	assert.Greater(t, blockNow(t, s, c.block.ID).Revision, before)
	states := map[vine.ID]store.VineState{}
	for _, block := range []vine.ID{a.block.ID, b.block.ID, c.block.ID} {
		for id, st := range statesByVine(t, s, block, 2027) {
			states[id] = st
		}
	}
	for _, v := range a.all() {
		assert.Equal(t, 1, states[v.ID].Notes, "vine %d", v.ID)
	}
	for _, v := range a.vines[1] {
		assert.Equal(t, vine.Weak, states[v.ID].Condition)
		assert.Equal(t, vine.Done, states[v.ID].Work["tying"])
	}
	assert.InDelta(t, 310, states[a.vines[0][1].ID].Measures[vine.PruningWeight].Value, 0)
	assert.InDelta(t, 320, states[a.vines[0][2].ID].Measures[vine.PruningWeight].Value, 0)
	assert.InDelta(t, 300, states[a.vines[0][3].ID].Measures[vine.PruningWeight].Value, 0)
	for _, e := range logOf(t, s, store.EventQuery{}) {
		switch e.ID {
		case one.ID:
			assert.Equal(t, vine.Target{Block: c.block.ID, Row: c.rows[0].ID, Vines: one.Target.Vines}, e.Target, "kept with the ground that it is about")
		case row.ID:
			assert.Equal(t, vine.Target{Block: b.block.ID, Row: a.rows[1].ID}, e.Target)
		case early.ID, both.ID:
			assert.Equal(t, a.block.ID, e.Target.Block)
		}
	}
	require.Equal(t, []store.Result{store.Refused}, results(t, s, d.event(2027, vine.Target{Block: c.block.ID, Row: a.rows[1].ID}, vine.Note{Text: "never there"})))
	requireSound(t, s)
}

// relabel saves a moved row with another label.
func relabel(r store.Row, block vine.ID, label string) func(store.Tx) error {
	r.Block, r.Label = block, label
	return func(tx store.Tx) error { return tx.SaveRows([]store.Row{r}) }
}

func moveGone(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "H3", 1, 3), plant(t, s, "H4", 2, 3), newDevice("d")
	early := d.event(2027, wholeBlock(b.block), vine.Note{Text: "all of it"})
	send(t, s, d.event(2027, wholeBlock(b.block), seen(vine.Weak)))
	update(t, s, func(tx store.Tx) error {
		if err := tx.MoveRows([]vine.ID{b.rows[0].ID, b.rows[1].ID}, a.block.ID, noonLater(d)); err != nil {
			return err
		}
		return tx.Drop(store.Dropped{Blocks: []vine.ID{b.block.ID}})
	}, relabel(b.rows[0], a.block.ID, "2"), relabel(b.rows[1], a.block.ID, "3"))
	d.now = d.now.Add(time.Minute)
	late := d.event(2027, wholeBlock(b.block), vine.Work{Operation: "tying", Progress: vine.Done})
	send(t, s, early, late, d.event(2027, oneVine(b.vines[0][0]), weight(250)))
	states := statesByVine(t, s, a.block.ID, 2027)
	for _, v := range b.all() {
		assert.Equal(t, vine.Weak, states[v.ID].Condition)
		assert.Equal(t, 1, states[v.ID].Notes)
		assert.Equal(t, vine.Done, states[v.ID].Work["tying"])
	}
	for _, v := range a.vines[0] {
		assert.NotContains(t, states, v.ID)
	}
	assert.InDelta(t, 250, states[b.vines[0][0].ID].Measures[vine.PruningWeight].Value, 0)
	found, err := s.FindLabel(t.Context(), "H4/2/3")
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, b.vines[1][2].ID, found[0].ID)
	requireSound(t, s)
}

func moveLabels(t *testing.T, h Harness) {
	s := h.open(t)
	a, d := plant(t, s, "H3", 1, 4), newDevice("d")
	b := splitRow(t, s, a, 0, 2, noonLater(d))
	for _, text := range []string{"H3/1/4", "h3b/1/4"} {
		found, err := s.FindLabel(t.Context(), text)
		require.NoError(t, err)
		require.Len(t, found, 1, text)
		assert.Equal(t, a.vines[0][3].ID, found[0].ID)
	}
	old, err := s.OldLabels(t.Context(), a.vines[0][3].ID)
	require.NoError(t, err)
	require.Len(t, old, 1)
	assert.Equal(t, "H3/1/4", old[0].Label)
	old, err = s.OldLabels(t.Context(), a.vines[0][0].ID)
	require.NoError(t, err)
	assert.Empty(t, old, "it stayed")
	// Moved there and back in one transaction, nothing was ever called otherwise.
	update(t, s, func(tx store.Tx) error {
		if err := tx.MoveVines(idsOfVines(a.vines[0][:1]), b.rows[0].ID, noonLater(d)); err != nil {
			return err
		}
		return tx.MoveVines(idsOfVines(a.vines[0][:1]), a.rows[0].ID, noonLater(d))
	})
	old, err = s.OldLabels(t.Context(), a.vines[0][0].ID)
	require.NoError(t, err)
	assert.Empty(t, old)
}

func moveUnknown(t *testing.T, h Harness) {
	s := h.open(t)
	a := plant(t, s, "H3", 1, 2)
	const none = vine.ID(1 << 40)
	for name, move := range map[string]func(store.Tx) error{
		"row":     func(tx store.Tx) error { return tx.MoveRows([]vine.ID{none}, a.block.ID, noon()) },
		"block":   func(tx store.Tx) error { return tx.MoveRows([]vine.ID{a.rows[0].ID}, none, noon()) },
		"vine":    func(tx store.Tx) error { return tx.MoveVines([]vine.ID{none}, a.rows[0].ID, noon()) },
		"its row": func(tx store.Tx) error { return tx.MoveVines(idsOfVines(a.vines[0]), none, noon()) },
		"a row for a block": func(tx store.Tx) error {
			return tx.MoveRows([]vine.ID{a.rows[0].ID}, a.rows[0].ID, noon())
		},
	} {
		require.ErrorIs(t, s.Update(t.Context(), move), store.ErrNotFound, name)
	}
	before := blockNow(t, s, a.block.ID).Revision
	update(t, s, func(tx store.Tx) error {
		if err := tx.MoveRows([]vine.ID{a.rows[0].ID}, a.block.ID, noon()); err != nil {
			return err
		}
		return tx.MoveVines(idsOfVines(a.vines[0]), a.rows[0].ID, noon())
	})
	assert.Equal(t, before, blockNow(t, s, a.block.ID).Revision, "where it stands already, nothing changes")
	err := s.Update(t.Context(), func(tx store.Tx) error {
		b := layField("H4", 1, 2)
		if err := b.save(tx); err != nil {
			return err
		}
		return tx.MoveVines(idsOfVines(a.vines[0]), b.rows[0].ID, noon())
	})
	require.ErrorIs(t, err, store.ErrConflict, "two vines with one number")
}

func moveTold(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "H3", 2, 2), plant(t, s, "H4", 1, 2), newDevice("d")
	send(t, s, d.event(2027, wholeBlock(a.block), seen(vine.Weak)))
	heard, err := s.Changes(t.Context())
	require.NoError(t, err)
	update(t, s, func(tx store.Tx) error { return tx.MoveRows([]vine.ID{a.rows[1].ID}, b.block.ID, noonLater(d)) }, relabel(a.rows[1], b.block.ID, "7"))
	told := map[vine.ID]bool{}
	for !told[a.block.ID] || !told[b.block.ID] {
		select {
		case c := <-heard:
			told[c.Block] = told[c.Block] || c.Ground
		case <-time.After(20 * time.Second):
			require.Fail(t, "both blocks are told of", "%v", told)
		}
	}
}

func moveBack(t *testing.T, h Harness) {
	s := h.open(t)
	a, d := plant(t, s, "H3", 1, 4), newDevice("d")
	send(t, s, d.event(2027, wholeRow(a.rows[0]), vine.Note{Text: "1"}))
	b := splitRow(t, s, a, 0, 2, noonLater(d))
	d.now = d.now.Add(time.Minute)
	send(t, s, d.event(2027, wholeRow(a.rows[0]), vine.Note{Text: "2"}), d.event(2027, wholeRow(b.rows[0]), seen(vine.Weak)))
	late := d.event(2027, wholeRow(b.rows[0]), vine.Note{Text: "3"})
	update(t, s, func(tx store.Tx) error {
		if err := tx.MoveVines(idsOfVines(a.vines[0][2:]), a.rows[0].ID, noonLater(d)); err != nil {
			return err
		}
		return tx.Drop(store.Dropped{Blocks: []vine.ID{b.block.ID}})
	})
	d.now = d.now.Add(time.Minute)
	send(t, s, late, d.event(2027, wholeRow(b.rows[0]), vine.Work{Operation: "tying", Progress: vine.Done}), d.event(2027, wholeRow(a.rows[0]), vine.Note{Text: "4"}))
	states := statesByVine(t, s, a.block.ID, 2027)
	for i, v := range a.vines[0] {
		far := i >= 2
		assert.Equal(t, 3, states[v.ID].Notes, "near 1, 2, 4; far 1, 3, 4")
		assert.Equal(t, far, states[v.ID].Condition == vine.Weak)
		assert.Equal(t, far, states[v.ID].Work["tying"] == vine.Done)
	}
	requireSound(t, s)
}

func moveEvents(t *testing.T, h Harness) {
	s := h.open(t)
	a, d := plant(t, s, "H3", 2, 4), newDevice("d")
	all, row, one := d.event(2027, wholeBlock(a.block), vine.Note{Text: "all"}), d.event(2027, wholeRow(a.rows[0]), seen(vine.Weak)), d.event(2027, oneVine(a.vines[0][3]), weight(400))
	near := d.event(2027, oneVine(a.vines[0][0]), weight(300))
	send(t, s, all, row, one, near)
	b := splitRow(t, s, a, 0, 2, noonLater(d))
	read := func(q store.EventQuery) map[uuid.UUID]vine.Target {
		out := map[uuid.UUID]vine.Target{}
		for _, e := range logOf(t, s, q) {
			out[e.ID] = e.Target
		}
		return out
	}
	far := idsOfVines(a.vines[0][2:])
	assert.Equal(t, map[uuid.UUID]vine.Target{
		all.ID: {Block: b.block.ID}, row.ID: {Block: b.block.ID, Row: b.rows[0].ID},
		one.ID: {Block: b.block.ID, Row: b.rows[0].ID, Vines: []vine.ID{far[1]}},
	}, read(store.EventQuery{Block: b.block.ID}))
	assert.Equal(t, map[uuid.UUID]vine.Target{
		all.ID: wholeBlock(a.block), row.ID: wholeRow(a.rows[0]), near.ID: near.Target,
	}, read(store.EventQuery{Block: a.block.ID}))
	assert.Equal(t, map[uuid.UUID]vine.Target{all.ID: all.Target, row.ID: row.Target, one.ID: one.Target}, read(store.EventQuery{Vine: far[1]}), "as they were made")
	assert.Len(t, read(store.EventQuery{Vine: far[1], Block: b.block.ID}), 3)
	assert.Len(t, read(store.EventQuery{Row: b.rows[0].ID}), 3)
	assert.Len(t, read(store.EventQuery{Row: a.rows[0].ID}), 3)
	assert.Len(t, read(store.EventQuery{Row: a.rows[1].ID}), 1)
	assert.Len(t, read(store.EventQuery{Block: b.block.ID, Limit: 2}), 2)
	got := logOf(t, s, store.EventQuery{Block: b.block.ID, Limit: 1})
	assert.Len(t, logOf(t, s, store.EventQuery{Block: b.block.ID, After: got[0].Cursor}), 2)
	// The whole block now means another ground.
	d.now = d.now.Add(time.Minute)
	later := d.event(2027, wholeBlock(a.block), vine.Note{Text: "later"})
	send(t, s, later)
	assert.NotContains(t, read(store.EventQuery{Block: b.block.ID}), later.ID)
	assert.NotContains(t, read(store.EventQuery{Vine: far[0]}), later.ID)
	assert.Contains(t, read(store.EventQuery{Block: a.block.ID}), later.ID)
}

// moveMade: ground made, moved and recorded of in one transaction.
func moveMade(t *testing.T, h Harness) {
	s := h.open(t)
	d := newDevice("d")
	a, b := layField("H3", 2, 3), layField("H4", 1, 2)
	update(t, s, func(tx store.Tx) error {
		if err := a.save(tx); err != nil {
			return err
		}
		if err := b.save(tx); err != nil {
			return err
		}
		send(t, tx, d.event(2027, wholeBlock(a.block), seen(vine.Weak)))
		if err := tx.MoveRows([]vine.ID{a.rows[1].ID}, b.block.ID, noonLater(d)); err != nil {
			return err
		}
		d.now = d.now.Add(time.Minute)
		send(t, tx, d.event(2027, wholeBlock(b.block), vine.Note{Text: "b"}))
		return relabel(a.rows[1], b.block.ID, "5")(tx)
	})
	states := statesByVine(t, s, b.block.ID, 2027)
	assert.Len(t, states, 5)
	for _, v := range a.vines[1] {
		assert.Equal(t, vine.Weak, states[v.ID].Condition)
		assert.Equal(t, 1, states[v.ID].Notes)
	}
	assert.Equal(t, vine.Unseen, states[b.vines[0][0].ID].Condition)
	old, err := s.OldLabels(t.Context(), a.vines[1][0].ID)
	require.NoError(t, err)
	assert.Empty(t, old, "nobody knew it by another address")
	requireSound(t, s)
}

func statesByVine(t *testing.T, s store.Log, block vine.ID, season int) map[vine.ID]store.VineState {
	t.Helper()
	out := map[vine.ID]store.VineState{}
	for _, st := range statesOf(t, s, block, season, 0) {
		out[st.Vine] = st
	}
	return out
}

// requireSound: a fold of the whole log finds every state right.
func requireSound(t *testing.T, s store.Store) {
	t.Helper()
	rebuilt, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	require.Zero(t, rebuilt.Wrong)
}
