package contract

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func groundTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"an empty store":                     emptyStore,
		"estate":                             estateKept,
		"blocks come back as saved":          blocksKept,
		"blocks in order of code":            blockOrder,
		"rows come back as saved":            rowsKept,
		"rows in their order":                rowOrder,
		"vines come back as saved":           vinesKept,
		"vines by row and number":            vineOrder,
		"ids last and are never the same":    idsLast,
		"unknown ids are not found":          unknownIDs,
		"a saved record is written over":     writtenOver,
		"rows and vines stay where they are": stayPut,
		"vines are counted":                  vinesCounted,
		"a sequence can be left":             leaveSequence,
		"reading while reading":              readWhileReading,
	}
}

func vinesCounted(t *testing.T, h Harness) {
	s := h.open(t)
	plant(t, s, "A", 2, 3)
	plant(t, s, "B", 1, 0)
	count := func(of store.Ground) int {
		n, err := of.CountVines(t.Context())
		require.NoError(t, err)
		return n
	}
	assert.Equal(t, 6, count(s))
	update(t, s, func(tx store.Tx) error {
		f := layField("C", 1, 4)
		require.NoError(t, f.save(tx))
		assert.Equal(t, 10, count(tx))
		assert.Equal(t, 6, count(s))
		return nil
	})
	assert.Equal(t, 10, count(s))
}

func emptyStore(t *testing.T, h Harness) {
	s := h.open(t)
	ctx := t.Context()
	e, err := s.Estate(ctx)
	require.NoError(t, err)
	assert.Equal(t, store.Estate{ID: e.ID}, e)
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	assert.Empty(t, blocks)
	seasons, err := s.Seasons(ctx)
	require.NoError(t, err)
	assert.Empty(t, seasons)
	assert.Empty(t, logOf(t, s, store.EventQuery{}))
	rows, err := s.Rows(ctx, 77)
	require.NoError(t, err)
	assert.Empty(t, rows)
	assert.Empty(t, vinesOf(t, s, 77))
	assert.Empty(t, statesOf(t, s, 77, 2027, 0))
	require.NoError(t, s.Ready(ctx))
}

func estateKept(t *testing.T, h Harness) {
	s := h.open(t)
	e := store.Estate{Name: "Domaine de la Gaubretière – Ō", South: true, Zone: "Pacific/Auckland", USUnits: true, ScoreScale: "1-5"}
	update(t, s, func(tx store.Tx) error { return tx.SaveEstate(e) })
	got, err := s.Estate(t.Context())
	require.NoError(t, err)
	e.ID = got.ID
	assert.Equal(t, e, got)
	e.South, e.Name = false, "Gaubretière"
	update(t, s, func(tx store.Tx) error { return tx.SaveEstate(e) })
	got, err = s.Estate(t.Context())
	require.NoError(t, err)
	assert.Equal(t, e, got)
}

// awkwardBlocks are legal and unusual.
func awkwardBlocks() []store.Block {
	ring := orb.Ring{{179.99, -17}, {180, -17}, {180, -16.99}, {179.99, -16.99}, {179.99, -17}}
	east := orb.Ring{{-180, -17}, {-179.99, -17}, {-179.99, -16.99}, {-180, -16.99}, {-180, -17}}
	hole := orb.Ring{{179.994, -16.996}, {179.994, -16.994}, {179.996, -16.994}, {179.996, -16.996}, {179.994, -16.996}}
	return []store.Block{
		{Code: "plain"},
		{Code: "full", Name: "Les Hauts", Variety: "Chenin", Clone: "880", Rootstock: "Riparia Gloire", Planted: 1987,
			RowSpacingM: 1.8000000001, VineSpacingM: 1, System: "guyot", NumberingEnd: "north", Outline: orb.MultiPolygon{{east}}},
		{Code: "over the 180th meridian", Outline: orb.MultiPolygon{{ring, hole}, {east}}},
		{Code: "葡萄/'\"; DROP", Name: "e\u0301 as two characters, é as one", Variety: "Ἀγιωργίτικο",
			Extra: map[string]any{
				"näme": "ligne\nà la ligne\t\"«»\" \\u0000 is a backslash here", "nested": map[string]any{"list": []any{1.5, "two", nil, true, map[string]any{}}},
				"empty": "", "zero": 0.0, "negative": -12.25, "large": 1e300, "whole": 12.0, "emoji": "🍇",
			}},
	}
}

func blocksKept(t *testing.T, h Harness) {
	s := h.open(t)
	blocks := awkwardBlocks()
	update(t, s, func(tx store.Tx) error { return tx.SaveBlocks(blocks) })
	for _, want := range blocks {
		got := blockNow(t, s, want.ID)
		assert.Positive(t, got.Revision, "a new block has a revision")
		assert.Equal(t, got.Revision, got.GroundRev)
		assert.Equal(t, asJSON(t, want.Extra), asJSON(t, got.Extra), "properties of %s", want.Code)
		want.Revision, want.GroundRev, want.Extra, got.Extra = got.Revision, got.GroundRev, nil, nil
		assert.Equal(t, want, got)
	}
}

func asJSON(t *testing.T, v map[string]any) string {
	t.Helper()
	if len(v) == 0 {
		return ""
	}
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

func blockOrder(t *testing.T, h Harness) {
	s := h.open(t)
	var blocks []store.Block
	for _, code := range []string{"b", "Ä", "a10", "B", "a2", "_", "é", "a", "Z", "a b", "ab", "葡", "1", "-"} {
		blocks = append(blocks, store.Block{Code: code})
	}
	update(t, s, func(tx store.Tx) error { return tx.SaveBlocks(blocks) })
	got, err := s.Blocks(t.Context())
	require.NoError(t, err)
	var codes []string
	for _, b := range got {
		codes = append(codes, b.Code)
	}
	assert.IsIncreasing(t, codes, "byte by byte")
	assert.Len(t, codes, len(blocks))
}

func rowsKept(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 0, 0)
	rows := []store.Row{
		{Block: f.block.ID, Label: "7a", Ord: 3, LengthM: 120.5, SpacingM: 1.1, Line: orb.MultiLineString{{{1, 1}, {1, 2}}, {{1, 2.1}, {1.5, 3}, {1, 4}}}},
		{Block: f.block.ID, Label: "no line", Ord: 4},
		{Block: f.block.ID, Label: "ß", Ord: -1, Extra: map[string]any{"a": []any{"b"}}, Line: orb.MultiLineString{{{-180, -90}, {180, 90}}}},
	}
	update(t, s, func(tx store.Tx) error { return tx.SaveRows(rows) })
	got, err := s.Rows(t.Context(), f.block.ID)
	require.NoError(t, err)
	assert.Equal(t, []store.Row{rows[2], rows[0], rows[1]}, got)
}

func rowOrder(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 0, 0)
	var rows []store.Row
	for i, ord := range []int{5, 1, 3, 3, 2} {
		rows = append(rows, store.Row{Block: f.block.ID, Label: string(rune('a' + i)), Ord: ord})
	}
	update(t, s, func(tx store.Tx) error { return tx.SaveRows(rows) })
	got, err := s.Rows(t.Context(), f.block.ID)
	require.NoError(t, err)
	labels := ""
	for _, r := range got {
		labels += r.Label
	}
	assert.Equal(t, "becda", labels, "by Ord, then by id")
}

func vinesKept(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 0)
	at := func(v store.Vine) store.Vine {
		v.Block, v.Row = f.block.ID, f.rows[0].ID
		return v
	}
	vines := []store.Vine{
		at(store.Vine{Number: 1, Point: orb.Point{-180, -90}}),
		at(store.Vine{Number: 2, Point: orb.Point{179.99999999999997, 1.0 / 3}, ChainageM: 1.0 / 7, Part: 2, Planted: 2020, Tag: "A 17/b – ü"}),
		at(store.Vine{Number: 3, Point: orb.Point{0, 0}, Tag: " blank "}),
		at(store.Vine{Number: 1 << 30, Point: orb.Point{5e-324, -1e-300}}),
	}
	update(t, s, func(tx store.Tx) error { return tx.SaveVines(vines) })
	assert.Equal(t, vines, vinesOf(t, s, f.block.ID))
	for _, v := range vines {
		got, err := s.Vine(t.Context(), v.ID)
		require.NoError(t, err)
		assert.Equal(t, v, got)
	}
}

func vineOrder(t *testing.T, h Harness) {
	s := h.open(t)
	f := layField("H3", 4, 5)
	f.rows[0].Ord, f.rows[3].Ord = 9, 0 // row 4, 2, 3, 1
	for _, line := range f.vines {
		line[0].Number, line[4].Number = 5, 1
	}
	update(t, s, f.save)
	plant(t, s, "H4", 2, 3)
	var at []int
	var rows []vine.ID
	for _, v := range vinesOf(t, s, f.block.ID) {
		at = append(at, v.Number)
		if len(rows) == 0 || rows[len(rows)-1] != v.Row {
			rows = append(rows, v.Row)
		}
	}
	assert.Equal(t, []int{1, 2, 3, 4, 5, 1, 2, 3, 4, 5, 1, 2, 3, 4, 5, 1, 2, 3, 4, 5}, at)
	assert.Equal(t, []vine.ID{f.rows[3].ID, f.rows[1].ID, f.rows[2].ID, f.rows[0].ID}, rows)
}

func idsLast(t *testing.T, h Harness) {
	s := h.open(t)
	a, b := plant(t, s, "A", 2, 3), plant(t, s, "B", 2, 3)
	once := make(map[vine.ID]bool)
	note := func(id vine.ID) {
		assert.Positive(t, id)
		assert.Less(t, id, vine.ID(1)<<53)
		assert.False(t, once[id], "id %d stands for two things", id)
		once[id] = true
	}
	for _, f := range []*field{a, b} {
		note(f.block.ID)
		for _, r := range f.rows {
			note(r.ID)
		}
		for _, v := range f.all() {
			note(v.ID)
		}
	}
	before := vinesOf(t, s, a.block.ID)
	update(t, s, func(tx store.Tx) error {
		a.block.Code, a.rows[0].Label, a.vines[0][0].Number, a.vines[1][1].Tag = "A2", "1a", 99, "T"
		return a.save(tx)
	})
	after := vinesOf(t, s, a.block.ID)
	require.Len(t, after, len(before))
	for _, v := range after {
		assert.True(t, once[v.ID], "no new id for what was there")
	}
	other := h.again(t, s)
	assert.Equal(t, after, vinesOf(t, other, a.block.ID), "ids are the same for another handle")
}

func leaveSequence(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 3, 4)
	send(t, s, newDevice("d").event(2027, wholeBlock(f.block), seen(vine.Bearing)))
	for range 20 { // more often than there could be connections
		n := 0
		for _, err := range s.Vines(t.Context(), f.block.ID) {
			require.NoError(t, err)
			if n++; n == 2 {
				break
			}
		}
		for _, err := range s.States(t.Context(), f.block.ID, 2027, 0) {
			require.NoError(t, err)
			break
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	calls := 0
	for _, err := range s.Vines(ctx, f.block.ID) {
		calls++
		assert.ErrorIs(t, err, context.Canceled)
	}
	assert.Equal(t, 1, calls, "a sequence ends after its first error")
}

func readWhileReading(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 3, 4)
	depth, deepest := 0, 0
	var walk func()
	walk = func() {
		if depth++; depth > 12 {
			return
		}
		deepest = max(deepest, depth)
		for v, err := range s.Vines(t.Context(), f.block.ID) {
			require.NoError(t, err)
			_, err = s.Vine(t.Context(), v.ID)
			require.NoError(t, err)
			walk()
			break
		}
	}
	walk()
	assert.Equal(t, 12, deepest)
	update(t, s, func(tx store.Tx) error {
		for v, err := range tx.Vines(t.Context(), f.block.ID) {
			if err != nil {
				return err
			}
			v.Tag = strings.Repeat("x", v.Number)
			if err := tx.SaveVines([]store.Vine{v}); err != nil {
				return err
			}
		}
		return nil
	})
	for _, v := range vinesOf(t, s, f.block.ID) {
		assert.Equal(t, strings.Repeat("x", v.Number), v.Tag)
	}
}
