package contract

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func stateTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"carried forward":             carriedForward,
		"of every kind of event":      stateOfEveryKind,
		"in the order of the vines":   stateOrder,
		"new vines in a recorded row": vinesAddedLater,
		"planting year changed":       plantedChanged,
		"awkward ground":              awkwardGround,
		"any events in any batches":   anyEvents,
		"changed after a revision":    changedAfter,
	}
}

func carriedForward(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	v := f.vines[0]
	send(t, s,
		d.event(2025, oneVine(v[0]), vine.Sighting{Condition: vine.Weak, Cause: "drought"}), d.event(2025, oneVine(v[0]), weight(210)),
		d.event(2027, oneVine(v[0]), weight(350)), d.event(2028, oneVine(v[1]), seen(vine.Dead)))
	assert.Empty(t, statesOf(t, s, f.block.ID, 2024, 0), "nothing is recorded up to then")
	assert.Empty(t, statesOf(t, s, f.block.ID, 0, 0))
	for season, want := range map[int]struct {
		vines  int
		weight float64
	}{2025: {1, 210}, 2026: {1, 0}, 2027: {1, 350}, 2028: {2, 0}, 2200: {2, 0}, 9999: {2, 0}} {
		got := statesOf(t, s, f.block.ID, season, 0)
		require.Len(t, got, want.vines, "season %d", season)
		st := got[0]
		assert.Equal(t, v[0].ID, st.Vine)
		assert.Equal(t, season, st.Season)
		assert.Equal(t, vine.Weak, st.Condition)
		assert.Equal(t, "drought", st.Cause)
		assert.Equal(t, firstVineYear, st.Planted)
		assert.InDelta(t, want.weight, st.Measures[vine.PruningWeight].Value, 0, "a measure is of its season only (%d)", season)
	}
}

func stateOfEveryKind(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 7), newDevice("d")
	var sent []vine.Event
	for season := 2025; season <= 2027; season++ {
		for _, e := range everyKind(f, d) {
			e.Season = season
			sent = append(sent, e)
		}
	}
	for i := 0; i < len(sent); i += 5 {
		send(t, s, sent[i:min(i+5, len(sent))]...)
	}
	for season := 2024; season <= 2029; season++ {
		requireFold(t.Context(), t, s, f, keptAll(sent), season)
	}
}

func stateOrder(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := layField("H3", 3, 4), newDevice("d")
	f.rows[0].Ord = 10
	f.vines[1][0].Number, f.vines[1][3].Number = 4, 1
	update(t, s, f.save)
	send(t, s, d.event(2027, wholeBlock(f.block), seen(vine.Bearing)))
	after := blockNow(t, s, f.block.ID).Revision
	send(t, s, d.event(2027, someVines(f.vines[2][0], f.vines[0][1], f.vines[1][3], f.vines[1][0], f.vines[0][0], f.vines[2][3]), weight(1)))
	var want, changed []vine.ID
	for _, v := range vinesOf(t, s, f.block.ID) {
		want = append(want, v.ID)
		if st, _ := stateOf(t, s, v, 2027); len(st.Measures) > 0 {
			changed = append(changed, v.ID)
		}
	}
	order := func(after int64) (out []vine.ID) {
		for _, st := range statesOf(t, s, f.block.ID, 2027, after) {
			out = append(out, st.Vine)
		}
		return out
	}
	assert.Equal(t, want, order(0))
	assert.Len(t, changed, 6)
	assert.Equal(t, changed, order(after))
}

func vinesAddedLater(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 2), newDevice("d")
	sent := []vine.Event{
		d.event(2026, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, wholeRow(f.rows[1]), vine.Work{Operation: vine.Pruning, Progress: vine.Done}),
		d.event(2027, oneVine(f.vines[0][0]), weight(1)),
	}
	send(t, s, sent...)
	row := store.Row{Block: f.block.ID, Label: "3", Ord: 3}
	update(t, s, func(tx store.Tx) error {
		f.vines[1][0].Number = 33 // the row is touched before it grows
		if err := tx.SaveVines(f.vines[1][:1]); err != nil {
			return err
		}
		f.vines[1][0], f.vines[1][1] = f.vines[1][1], f.vines[1][0]
		more := []store.Vine{{Block: f.block.ID, Row: f.rows[1].ID, Number: 3}}
		if err := tx.SaveVines(more); err != nil {
			return err
		}
		rows := []store.Row{row}
		if err := tx.SaveRows(rows); err != nil {
			return err
		}
		last := []store.Vine{{Block: f.block.ID, Row: rows[0].ID, Number: 1}}
		err := tx.SaveVines(last)
		f.vines[1] = []store.Vine{f.vines[1][0], more[0], f.vines[1][1]}
		f.rows, f.vines = append(f.rows, rows[0]), append(f.vines, last)
		return err
	})
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong)
}

func plantedChanged(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	sent := []vine.Event{
		d.event(2026, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, oneVine(f.vines[0][1]), seen(vine.Replanted)),
	}
	send(t, s, sent...)
	f.vines[0][0].Planted = 2020
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	f.block.Planted = 1999
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	f.vines[0][0].Planted = 0
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2028)
}

func awkwardGround(t *testing.T, h Harness) {
	s := h.open(t)
	d := newDevice("d")
	for i, shape := range [][2]int{{0, 0}, {1, 0}, {1, 1}} {
		f := layField(fmt.Sprint("B", i), shape[0], shape[1])
		f.block.Outline = nil
		update(t, s, f.save)
		sent := []vine.Event{d.event(2027, wholeBlock(f.block), seen(vine.Bearing))}
		if shape[0] > 0 {
			sent = append(sent, d.event(2027, wholeRow(f.rows[0]), vine.Note{Text: "x"}))
		}
		send(t, s, sent...)
		requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
		assert.Len(t, logOf(t, s, store.EventQuery{Block: f.block.ID}), len(sent))
	}
}

// changedAfter follows a block the way the server does: by what changed since
// the revision it has.
func changedAfter(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 4), newDevice("d")
	held := map[vine.ID]string{}
	revision := blockNow(t, s, f.block.ID).Revision
	note := d.event(2027, oneVine(f.vines[0][0]), vine.Note{Text: "x"})
	for _, e := range []vine.Event{
		d.event(2025, wholeRow(f.rows[0]), seen(vine.Bearing)), note,
		d.event(2028, oneVine(f.vines[1][3]), seen(vine.Dead)),
		d.event(2024, oneVine(f.vines[1][2]), seen(vine.Weak)),
		d.event(2027, oneVine(f.vines[0][0]), vine.Void{Event: note.ID}),
		d.event(2025, someVines(f.vines[0]...), weight(1, 2, 3, 4)),
	} {
		send(t, s, e)
		now := blockNow(t, s, f.block.ID).Revision
		for _, st := range statesOf(t, s, f.block.ID, 2027, revision) {
			assert.Greater(t, st.Changed, revision)
			assert.LessOrEqual(t, st.Changed, now)
			held[st.Vine] = plain(st.State)
		}
		assert.Empty(t, statesOf(t, s, f.block.ID, 2027, now))
		revision = now
		whole := map[vine.ID]string{}
		for _, st := range statesOf(t, s, f.block.ID, 2027, 0) {
			whole[st.Vine] = plain(st.State)
		}
		assert.Equal(t, whole, held)
	}
	send(t, s, d.event(2030, oneVine(f.vines[0][1]), vine.Note{Text: "later"}))
	got := statesOf(t, s, f.block.ID, 2027, revision)
	require.Len(t, got, 1, "any state of the vine counts, also of another season")
	assert.Equal(t, f.vines[0][1].ID, got[0].Vine)
}
