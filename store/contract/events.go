package contract

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func eventTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"by query":                queries,
		"page by page":            pages,
		"cursors rise":            cursorsRise,
		"seasons with records":    seasonsKnown,
		"history survives labels": historyStays,
	}
}

func queries(t *testing.T, h Harness) {
	s := h.open(t)
	f, other := plant(t, s, "H3", 2, 8), plant(t, s, "H4", 1, 2)
	a, b := newDevice("a"), newDevice("b")
	v := f.vines
	note := func(text string) vine.Note { return vine.Note{Text: text} }
	sent := []vine.Event{
		0: a.event(2026, wholeBlock(f.block), note("block")),
		1: a.event(2027, wholeRow(f.rows[0]), note("row 1")),
		2: a.event(2027, wholeRow(f.rows[1]), note("row 2")),
		3: b.event(2027, oneVine(v[0][0]), note("1/1")),
		4: b.event(2027, oneVine(v[1][0]), note("2/1")),
		5: b.event(2027, someVines(v[0][0], v[1][1]), note("1/1 and 2/2")),
		6: b.event(2027, someVines(v[0]...), note("all of row 1, by name")),
		7: a.event(2028, someVines(v[0][6], v[0][7], v[1][7], v[1][6], v[1][5], v[1][4]), note("across")),
		8: a.event(2027, wholeBlock(other.block), note("other block")),
		9: b.event(2028, oneVine(other.vines[0][0]), note("other vine")),
	}
	send(t, s, sent...)
	for _, c := range []struct {
		name string
		q    store.EventQuery
		want []int
	}{
		{"all", store.EventQuery{}, []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}},
		{"block", store.EventQuery{Block: f.block.ID}, []int{0, 1, 2, 3, 4, 5, 6, 7}},
		{"no such block", store.EventQuery{Block: 4_000_000}, nil},
		{"row 1", store.EventQuery{Row: f.rows[0].ID}, []int{0, 1, 3, 5, 6, 7}},
		{"row 2", store.EventQuery{Row: f.rows[1].ID}, []int{0, 2, 4, 5, 7}},
		{"no such row", store.EventQuery{Row: 4_000_000}, nil},
		{"row 1 of the wrong block", store.EventQuery{Row: f.rows[0].ID, Block: other.block.ID}, nil},
		{"vine 1/1", store.EventQuery{Vine: v[0][0].ID}, []int{0, 1, 3, 5, 6}},
		{"vine 1/2", store.EventQuery{Vine: v[0][1].ID}, []int{0, 1, 6}},
		{"vine 1/8", store.EventQuery{Vine: v[0][7].ID}, []int{0, 1, 6, 7}},
		{"vine 2/3", store.EventQuery{Vine: v[1][2].ID}, []int{0, 2}},
		{"vine 2/2", store.EventQuery{Vine: v[1][1].ID}, []int{0, 2, 5}},
		{"no such vine", store.EventQuery{Vine: 4_000_000}, nil},
		{"a row for a vine", store.EventQuery{Vine: f.rows[0].ID}, nil},
		{"vine and row", store.EventQuery{Vine: v[0][0].ID, Row: f.rows[0].ID}, []int{0, 1, 3, 5, 6}},
		{"season", store.EventQuery{Season: 2028}, []int{7, 9}},
		{"device", store.EventQuery{Device: "b"}, []int{3, 4, 5, 6, 9}},
		{"device, season and block", store.EventQuery{Device: "a", Season: 2027, Block: f.block.ID}, []int{1, 2}},
		{"vine and season", store.EventQuery{Vine: v[0][7].ID, Season: 2028}, []int{7}},
		{"limit", store.EventQuery{Limit: 3}, []int{0, 1, 2}},
		{"vine and limit", store.EventQuery{Vine: v[0][7].ID, Limit: 3}, []int{0, 1, 6}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var want []uuid.UUID
			for _, i := range c.want {
				want = append(want, sent[i].ID)
			}
			got := idsOf(logOf(t, s, c.q))
			if len(want) == 0 {
				assert.Empty(t, got)
				return
			}
			assert.Equal(t, want, got)
		})
	}
}

func pages(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	var sent []uuid.UUID
	for range 23 {
		e := d.event(2027, oneVine(f.vines[0][1]), vine.Note{Text: "x"})
		send(t, s, e)
		sent = append(sent, e.ID)
	}
	for _, q := range []store.EventQuery{{Limit: 5}, {Limit: 5, Vine: f.vines[0][1].ID}, {Limit: 1}, {Limit: 100}} {
		var got []uuid.UUID
		for {
			page := logOf(t, s, q)
			if len(page) == 0 {
				break
			}
			assert.LessOrEqual(t, len(page), q.Limit)
			got = append(got, idsOf(page)...)
			q.After = page[len(page)-1].Cursor
		}
		assert.Equal(t, sent, got)
	}
}

func cursorsRise(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	late := d.event(2027, wholeBlock(f.block), vine.Note{Text: "made first, sent last"})
	for range 3 {
		send(t, s, d.event(2027, wholeBlock(f.block), vine.Note{Text: "x"}), d.event(2026, wholeBlock(f.block), vine.Note{Text: "y"}))
	}
	send(t, s, late)
	var cursors []int64
	events := logOf(t, s, store.EventQuery{})
	for _, e := range events {
		cursors = append(cursors, e.Cursor)
	}
	assert.IsIncreasing(t, cursors)
	assert.Positive(t, cursors[0])
	assert.Equal(t, late.ID, events[len(events)-1].ID, "order is that of receipt")
}

func seasonsKnown(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	wrong := d.event(2040, oneVine(f.vines[0][0]), seen(vine.Weak))
	send(t, s, d.event(2027, wholeBlock(f.block), seen(vine.Bearing)), d.event(1903, wholeBlock(f.block), seen(vine.Young)), wrong,
		d.event(2040, oneVine(f.vines[0][0]), vine.Void{Event: wrong.ID}))
	update(t, s, func(tx store.Tx) error {
		_, err := tx.SavePlan(store.Plan{Kind: "other", Season: 2029, Block: f.block.ID}, nil)
		return err
	})
	got, err := s.Seasons(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []int{1903, 2027, 2029, 2040}, got)
}

func historyStays(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 3), newDevice("d")
	v := f.vines[1][1]
	send(t, s, d.event(2027, oneVine(v), weight(480)), d.event(2027, wholeRow(f.rows[1]), seen(vine.Weak)))
	f.block.Code, f.rows[1].Label, f.vines[1][1].Number, f.vines[1][1].Tag = "K9", "x", 77, "y"
	update(t, s, f.save)
	assert.Len(t, logOf(t, s, store.EventQuery{Vine: v.ID}), 2)
	st, ok := stateOf(t, s, v, 2027)
	require.True(t, ok)
	assert.Equal(t, vine.Weak, st.Condition)
	assert.InDelta(t, 480, st.Measures[vine.PruningWeight].Value, 0)
}
