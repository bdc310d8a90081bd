package contract

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func unknownIDs(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 2)
	ctx := t.Context()
	for _, id := range []vine.ID{0, -1, 4_000_000, f.block.ID, f.rows[0].ID} {
		_, err := s.Vine(ctx, id)
		assert.ErrorIs(t, err, store.ErrNotFound, "vine %d", id)
	}
	for name, save := range map[string]func(store.Tx) error{
		"block": func(tx store.Tx) error { return tx.SaveBlocks([]store.Block{{ID: 4_000_000, Code: "X"}}) },
		"row": func(tx store.Tx) error {
			return tx.SaveRows([]store.Row{{ID: 4_000_000, Block: f.block.ID, Label: "X"}})
		},
		"row's block": func(tx store.Tx) error { return tx.SaveRows([]store.Row{{Block: 4_000_000, Label: "X"}}) },
		"vine's row": func(tx store.Tx) error {
			return tx.SaveVines([]store.Vine{{Block: f.block.ID, Row: 4_000_000, Number: 9}})
		},
		"vine": func(tx store.Tx) error {
			return tx.SaveVines([]store.Vine{{ID: 4_000_000, Block: f.block.ID, Row: f.rows[0].ID, Number: 9}})
		},
	} {
		err := s.Update(ctx, save)
		assert.ErrorIs(t, err, store.ErrNotFound, name)
		assert.ErrorContains(t, err, "4000000", "the message names the id")
	}
}

func writtenOver(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	f.block.Name, f.block.Outline, f.block.Extra = "New", nil, map[string]any{"soil": "schist"}
	f.rows[1].LengthM, f.rows[1].Extra, f.rows[1].Line = 3.5, map[string]any{"x": 1.0}, orb.MultiLineString{{{2, 2}, {3, 3}}}
	f.vines[1][2].Point, f.vines[1][2].Tag, f.vines[1][2].Planted = orb.Point{2, 2.5}, "T", 2024
	update(t, s, f.save)
	got := blockNow(t, s, f.block.ID)
	f.block.Revision, f.block.GroundRev = got.Revision, got.GroundRev
	assert.Equal(t, f.block, got)
	rows, err := s.Rows(t.Context(), f.block.ID)
	require.NoError(t, err)
	assert.Equal(t, f.rows, rows)
	assert.Equal(t, f.all(), vinesOf(t, s, f.block.ID))
	f.vines[1][2].Tag = ""
	update(t, s, f.save)
	assert.Equal(t, f.all(), vinesOf(t, s, f.block.ID))
}

func stayPut(t *testing.T, h Harness) {
	s := h.open(t)
	a, b := plant(t, s, "A", 2, 2), plant(t, s, "B", 1, 1)
	for name, save := range map[string]func(store.Tx) error{
		"a row to another block": func(tx store.Tx) error {
			r := a.rows[0]
			r.Block, r.Label = b.block.ID, "new"
			return tx.SaveRows([]store.Row{r})
		},
		"a vine to another row": func(tx store.Tx) error {
			v := a.vines[0][0]
			v.Row, v.Number = a.rows[1].ID, 9
			return tx.SaveVines([]store.Vine{v})
		},
		"a vine to another block": func(tx store.Tx) error {
			v := a.vines[0][0]
			v.Row, v.Block, v.Number = b.rows[0].ID, b.block.ID, 9
			return tx.SaveVines([]store.Vine{v})
		},
		"a vine whose row stands in another block": func(tx store.Tx) error {
			return tx.SaveVines([]store.Vine{{Block: b.block.ID, Row: a.rows[0].ID, Number: 9}})
		},
	} {
		assert.ErrorIs(t, s.Update(t.Context(), save), store.ErrConflict, name)
	}
	assert.Equal(t, a.all(), vinesOf(t, s, a.block.ID))
}
