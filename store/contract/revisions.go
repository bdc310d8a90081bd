package contract

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"courson/geo/vine"
	"courson/store"
)

func revisionTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"only what changed": revisionsRise,
		"nothing changed":   revisionsStay,
	}
}

func revisionsRise(t *testing.T, h Harness) {
	s := h.open(t)
	a, b, d := plant(t, s, "A", 2, 3), plant(t, s, "B", 1, 2), newDevice("d")
	for _, c := range []struct {
		name   string
		ground bool
		do     func() error
	}{
		{"an event", false, func() error { send(t, s, d.event(2027, oneVine(a.vines[0][0]), weight(1))); return nil }},
		{"a note", false, func() error { send(t, s, d.event(2027, wholeBlock(a.block), vine.Note{Text: "x"})); return nil }},
		{"a plan", false, func() error {
			return s.Update(t.Context(), func(tx store.Tx) error {
				_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: a.block.ID}, nil)
				return err
			})
		}},
		{"the block's record", true, func() error { a.block.Name = "new"; return s.Update(t.Context(), a.save) }},
		{"a row", true, func() error { a.rows[0].LengthM = 9; return s.Update(t.Context(), a.save) }},
		{"a vine", true, func() error { a.vines[0][0].Tag = "9"; return s.Update(t.Context(), a.save) }},
		{"a new vine", true, func() error {
			return s.Update(t.Context(), func(tx store.Tx) error {
				return tx.SaveVines([]store.Vine{{Block: a.block.ID, Row: a.rows[0].ID, Number: 50}})
			})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			was, other := blockNow(t, s, a.block.ID), blockNow(t, s, b.block.ID)
			assert.NoError(t, c.do())
			now := blockNow(t, s, a.block.ID)
			assert.Greater(t, now.Revision, was.Revision)
			if c.ground {
				assert.Equal(t, now.Revision, now.GroundRev)
			} else {
				assert.Equal(t, was.GroundRev, now.GroundRev)
			}
			assert.Equal(t, other, blockNow(t, s, b.block.ID), "the other block is as it was")
		})
	}
}

func revisionsStay(t *testing.T, h Harness) {
	s := h.open(t)
	f := layField("A", 2, 3)
	f.block.Extra = map[string]any{"soil": "schist", "list": []any{1.0, "x"}}
	f.vines[0][1].Tag, f.vines[0][2].Planted = "t", 2020
	update(t, s, f.save)
	was := blockNow(t, s, f.block.ID)
	update(t, s, f.save)
	update(t, s, func(store.Tx) error { return nil })
	assert.Equal(t, was, blockNow(t, s, f.block.ID), "the same saved again changes nothing")
}
