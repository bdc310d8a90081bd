package contract

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func dropTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"a mark parts before and after":  marks,
		"a block with all that is in it": dropBlock,
		"rows and vines":                 dropParts,
		"what is not there":              dropUnknown,
		"in the transaction it was made": dropMade,
		"others are told":                dropTold,
		"a season comes back":            dropSeason,
	}
}

func marks(t *testing.T, h Harness) {
	s := h.open(t)
	old, d := plant(t, s, "H3", 1, 2), newDevice("d")
	send(t, s, d.event(2027, wholeRow(old.rows[0]), vine.Note{Text: "before"}))
	var before, after store.Mark
	f := layField("H4", 2, 3)
	update(t, s, func(tx store.Tx) (err error) {
		if before, err = tx.Mark(); err != nil {
			return err
		}
		if err := f.save(tx); err != nil {
			return err
		}
		send(t, tx, d.event(2027, wholeRow(f.rows[0]), vine.Note{Text: "in it"}), d.event(2027, wholeRow(f.rows[1]), vine.Note{Text: "in it"}))
		after, err = tx.Mark()
		return err
	})
	send(t, s, d.event(2027, wholeRow(old.rows[0]), vine.Note{Text: "after"}))
	for _, id := range []vine.ID{old.block.ID, old.rows[0].ID, old.vines[0][1].ID} {
		assert.LessOrEqual(t, id, before.ID)
	}
	for _, id := range append([]vine.ID{f.block.ID, f.rows[0].ID, f.rows[1].ID}, idsOfVines(f.all())...) {
		assert.Greater(t, id, before.ID)
		assert.LessOrEqual(t, id, after.ID)
	}
	for _, e := range logOf(t, s, store.EventQuery{}) {
		assert.Equal(t, e.Body.(vine.Note).Text == "in it", e.Cursor > before.Cursor && e.Cursor <= after.Cursor, "%v", e.Body)
	}
}

// furnish gives a field records, old labels, a plan, standards and a paper.
func furnish(t *testing.T, s store.Store, f *field, d *device) {
	t.Helper()
	v := f.vines[0][0]
	send(t, s, d.event(2027, oneVine(v), weight(400)), d.event(2026, wholeRow(f.rows[1]), seen(vine.Weak)), d.event(2027, wholeBlock(f.block), vine.Note{Text: "all"}))
	update(t, s, func(tx store.Tx) error {
		entries := []store.PlanEntry{{Vine: v.ID, Nodes: 8, Canes: 1, Spurs: 2}, {Vine: f.vines[1][0].ID, Nodes: 10, Canes: 1, Spurs: 2}}
		if _, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.block.ID}, entries); err != nil {
			return err
		}
		if err := tx.SaveStandards(store.Standards{Block: f.block.ID, Value: []byte(`{"a":1}`)}); err != nil {
			return err
		}
		return tx.SavePaper(store.Paper{Kind: "order", Key: f.block.Code, Block: f.block.ID, Value: []byte(`{"a":1}`)})
	})
	f.vines[0][0].Tag = "T7"
	update(t, s, f.save)
	f.vines[0][0].Tag, f.rows[0].Label, f.block.Code = "T8", f.rows[0].Label+"x", f.block.Code+"x"
	update(t, s, f.save)
}

func dropBlock(t *testing.T, h Harness) {
	s := h.open(t)
	f, other, d := plant(t, s, "H3", 2, 3), plant(t, s, "H4", 2, 3), newDevice("d")
	furnish(t, s, f, d)
	furnish(t, s, other, d)
	logged := idsOf(logOf(t, s, store.EventQuery{}))
	kept := statesOf(t, s, other.block.ID, 2027, 0)
	update(t, s, func(tx store.Tx) error {
		if err := tx.Drop(store.Dropped{Blocks: []vine.ID{f.block.ID}}); err != nil {
			return err
		}
		list, err := tx.Blocks(t.Context())
		assert.Len(t, list, 1, "the transaction sees it")
		return err
	})
	ctx := t.Context()
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	require.Len(t, blocks, 1)
	assert.Equal(t, other.block.ID, blocks[0].ID)
	rows, err := s.Rows(ctx, f.block.ID)
	require.NoError(t, err)
	assert.Empty(t, rows)
	assert.Empty(t, vinesOf(t, s, f.block.ID))
	assert.Empty(t, statesOf(t, s, f.block.ID, 2027, 0))
	_, err = s.Vine(ctx, f.vines[0][0].ID)
	require.ErrorIs(t, err, store.ErrNotFound)
	n, err := s.CountVines(ctx)
	require.NoError(t, err)
	assert.Equal(t, 6, n)
	for _, text := range []string{"H3/1/1", "H3x/1x/1"} {
		found, err := s.FindLabel(ctx, text)
		require.NoError(t, err)
		assert.Empty(t, found, text)
	}
	for _, id := range []vine.ID{f.block.ID, f.rows[0].ID, f.vines[0][0].ID} {
		labels, err := s.OldLabels(ctx, id)
		require.NoError(t, err)
		assert.Empty(t, labels)
	}
	plans, err := s.PlanList(ctx, store.PlanPruning, 2027, 0)
	require.NoError(t, err)
	assert.Len(t, plans, 1)
	standards, err := s.Standards(ctx)
	require.NoError(t, err)
	assert.Len(t, standards, 1)
	papers, err := s.Papers(ctx, store.PaperQuery{Kind: "order"})
	require.NoError(t, err)
	assert.Len(t, papers, 1)
	assert.Equal(t, logged, idsOf(logOf(t, s, store.EventQuery{})), "the log keeps all")
	assert.Equal(t, kept, statesOf(t, s, other.block.ID, 2027, 0))

	assert.Equal(t, []store.Result{store.Refused}, results(t, s, d.event(2027, wholeBlock(f.block), vine.Note{Text: "late"})))
	fresh := plant(t, s, "H3", 2, 3)
	assert.Greater(t, fresh.block.ID, f.vines[1][2].ID, "ids are never given again")
	rebuilt, err := s.Rebuild(ctx, false, nil)
	require.NoError(t, err)
	assert.Equal(t, store.Rebuilt{Vines: 12}, rebuilt)
}

func dropParts(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 3, 4), newDevice("d")
	furnish(t, s, f, d)
	send(t, s, d.event(2027, someVines(f.vines[2]...), weight(1, 2, 3, 4)))
	before := blockNow(t, s, f.block.ID)
	update(t, s, func(tx store.Tx) error {
		return tx.Drop(store.Dropped{Rows: []vine.ID{f.rows[0].ID}, Vines: []vine.ID{f.vines[1][0].ID, f.vines[2][3].ID}})
	})
	want := append(append([]store.Vine(nil), f.vines[1][1:]...), f.vines[2][:3]...)
	assert.Equal(t, want, vinesOf(t, s, f.block.ID))
	rows, err := s.Rows(t.Context(), f.block.ID)
	require.NoError(t, err)
	require.Len(t, rows, 2)
	entries, err := s.PlanEntries(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	assert.Empty(t, entries, "both vines of the plan went")
	after := blockNow(t, s, f.block.ID)
	assert.Greater(t, after.GroundRev, before.Revision)
	for _, st := range statesOf(t, s, f.block.ID, 2027, 0) {
		assert.Contains(t, idsOfVines(want), st.Vine)
	}
	state, ok := stateOf(t, s, f.vines[2][1], 2027)
	require.True(t, ok, "others of the event have it still")
	assert.InDelta(t, 2, state.Measures[vine.PruningWeight].Value, 0)
	// Their numbers and the label are free again.
	update(t, s, func(tx store.Tx) error {
		r := f.rows[0]
		r.ID = 0
		if err := tx.SaveRows([]store.Row{r}); err != nil {
			return err
		}
		return tx.SaveVines([]store.Vine{{Block: f.block.ID, Row: f.rows[1].ID, Number: f.vines[1][0].Number, Point: f.vines[1][0].Point}})
	})
	rebuilt, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Equal(t, store.Rebuilt{Vines: 7}, rebuilt)
}

func dropUnknown(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 2)
	block, row, v := []vine.ID{f.block.ID}, []vine.ID{f.rows[0].ID}, []vine.ID{f.vines[0][0].ID}
	for name, d := range map[string]store.Dropped{
		"no such block": {Blocks: []vine.ID{99999}}, "no such row": {Rows: []vine.ID{99999}}, "no such vine": {Vines: []vine.ID{99999}},
		"a row as block": {Blocks: row}, "a vine as row": {Rows: v}, "a block as vine": {Vines: block},
	} {
		require.ErrorIs(t, s.Update(t.Context(), func(tx store.Tx) error { return tx.Drop(d) }), store.ErrNotFound, name)
	}
	update(t, s, func(tx store.Tx) error { return tx.Drop(store.Dropped{}) })
	assert.Equal(t, f.all(), vinesOf(t, s, f.block.ID))
}

func dropMade(t *testing.T, h Harness) {
	s := h.open(t)
	old, d := plant(t, s, "H3", 2, 3), newDevice("d")
	f := layField("H4", 2, 3)
	update(t, s, func(tx store.Tx) error {
		if err := f.save(tx); err != nil {
			return err
		}
		send(t, tx, d.event(2027, oneVine(f.vines[0][0]), weight(1)), d.event(2027, wholeRow(old.rows[0]), seen(vine.Weak)), d.event(2027, oneVine(old.vines[1][0]), weight(2)))
		old.vines[1][0].Number, old.rows[0].Label, f.block.Code = 9, "9", "H5"
		if err := old.save(tx); err != nil {
			return err
		}
		if err := f.save(tx); err != nil {
			return err
		}
		return tx.Drop(store.Dropped{Blocks: []vine.ID{f.block.ID}, Rows: []vine.ID{old.rows[0].ID}, Vines: []vine.ID{old.vines[1][0].ID}})
	})
	assert.Equal(t, old.vines[1][1:], vinesOf(t, s, old.block.ID))
	assert.Empty(t, vinesOf(t, s, f.block.ID))
	assert.Empty(t, statesOf(t, s, old.block.ID, 2027, 0))
	assert.Len(t, logOf(t, s, store.EventQuery{}), 3)
}

func dropTold(t *testing.T, h Harness) {
	s := h.open(t)
	other := h.again(t, s)
	f := plant(t, s, "H3", 1, 2)
	mine, err := s.Changes(t.Context())
	require.NoError(t, err)
	theirs, err := other.Changes(t.Context())
	require.NoError(t, err)
	revision := blockNow(t, s, f.block.ID).Revision
	update(t, s, func(tx store.Tx) error { return tx.Drop(store.Dropped{Blocks: []vine.ID{f.block.ID}}) })
	assert.True(t, next(t, mine, f.block.ID, revision+1).Ground)
	assert.True(t, next(t, theirs, f.block.ID, revision+1).Ground)
	list, err := other.Blocks(t.Context())
	require.NoError(t, err)
	assert.Empty(t, list)
}

func dropSeason(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 2), newDevice("d")
	send(t, s, d.event(2027, oneVine(f.vines[0][0]), weight(1)), d.event(2072, oneVine(f.vines[0][0]), weight(2)))
	update(t, s, func(tx store.Tx) error { return tx.DropSeason(2072) })
	list, err := s.Seasons(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []int{2027}, list)
	assert.Len(t, logOf(t, s, store.EventQuery{}), 2, "the log keeps all")
	send(t, s, d.event(2072, oneVine(f.vines[0][0]), weight(3)))
	list, err = s.Seasons(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []int{2027, 2072}, list)
}
