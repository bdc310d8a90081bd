package contract

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func labelTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"duplicates are a conflict":            duplicates,
		"labels may change places":             swapLabels,
		"old labels are kept, newest first":    oldLabels,
		"only the end of a transaction counts": passingLabels,
		"found by address, tag and old label":  findByLabel,
		"letter case counts not":               findAnyCase,
		"at most 50 are found":                 findMany,
	}
}

func duplicates(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	other := plant(t, s, "H4", 1, 1)
	for _, c := range []struct {
		name, names string
		save        func(store.Tx) error
	}{
		{"a new block's code", "H3", func(tx store.Tx) error { return tx.SaveBlocks([]store.Block{{Code: "H3"}}) }},
		{"a changed code", "H3", func(tx store.Tx) error {
			b := other.block
			b.Code = "H3"
			return tx.SaveBlocks([]store.Block{b})
		}},
		{"a new row's label", "2", func(tx store.Tx) error {
			return tx.SaveRows([]store.Row{{Block: f.block.ID, Label: "2"}})
		}},
		{"a changed label", "2", func(tx store.Tx) error {
			r := f.rows[0]
			r.Label = "2"
			return tx.SaveRows([]store.Row{r})
		}},
		{"a new vine's number", "3", func(tx store.Tx) error {
			return tx.SaveVines([]store.Vine{{Block: f.block.ID, Row: f.rows[0].ID, Number: 3}})
		}},
		{"a changed number", "3", func(tx store.Tx) error {
			v := f.vines[0][0]
			v.Number = 3
			return tx.SaveVines([]store.Vine{v})
		}},
		{"two new vines of one call", "9", func(tx store.Tx) error {
			v := store.Vine{Block: f.block.ID, Row: f.rows[0].ID, Number: 9}
			return tx.SaveVines([]store.Vine{v, v})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := s.Update(t.Context(), c.save)
			require.ErrorIs(t, err, store.ErrConflict)
			assert.ErrorContains(t, err, c.names, "the message names the label")
		})
	}
	assert.Equal(t, f.all(), vinesOf(t, s, f.block.ID), "nothing of it was kept")
	update(t, s, func(tx store.Tx) error { // the same in another row or block is no duplicate
		if err := tx.SaveRows([]store.Row{{Block: other.block.ID, Label: "2", Ord: 2}}); err != nil {
			return err
		}
		return tx.SaveVines([]store.Vine{{Block: other.block.ID, Row: other.rows[0].ID, Number: 3}})
	})
}

func swapLabels(t *testing.T, h Harness) {
	s := h.open(t)
	f, other := plant(t, s, "H3", 2, 2), plant(t, s, "H4", 1, 1)
	f.block.Code, other.block.Code = "H4", "H3"
	f.rows[0].Label, f.rows[1].Label = "2", "1"
	f.vines[0][0].Number, f.vines[0][1].Number = 2, 1
	update(t, s, func(tx store.Tx) error {
		if err := f.save(tx); err != nil {
			return err
		}
		return other.save(tx)
	})
	assert.Equal(t, "H4", blockNow(t, s, f.block.ID).Code)
	found, err := s.FindLabel(t.Context(), "H4/2/2")
	require.NoError(t, err)
	assert.Contains(t, idsOfVines(found), f.vines[0][0].ID)
}

func idsOfVines(vines []store.Vine) []vine.ID {
	out := make([]vine.ID, len(vines))
	for i, v := range vines {
		out[i] = v.ID
	}
	return out
}

func labelsBefore(t *testing.T, s store.Ground, id vine.ID) []string {
	t.Helper()
	old, err := s.OldLabels(t.Context(), id)
	require.NoError(t, err)
	var out []string
	for i, o := range old {
		assert.False(t, o.Until.IsZero(), "a label ends on a day")
		if i > 0 {
			assert.False(t, o.Until.After(old[i-1].Until), "newest first")
		}
		out = append(out, o.Label)
	}
	return out
}

func oldLabels(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 2)
	v := &f.vines[0][1]
	assert.Empty(t, labelsBefore(t, s, f.block.ID))
	assert.Empty(t, labelsBefore(t, s, v.ID))
	assert.Empty(t, labelsBefore(t, s, 4_000_000))
	for _, step := range []func(){
		func() { v.Tag = "oak" },
		func() { v.Tag = "ash" },
		func() { v.Number = 7 },
		func() { f.rows[0].Label = "1b" },
		func() { f.block.Code = "K1" },
		func() { v.Number, v.Tag, f.rows[0].Label, f.block.Code = 8, "", "1c", "K2" },
	} {
		step()
		update(t, s, f.save)
	}
	assert.Equal(t, []string{"K1", "H3"}, labelsBefore(t, s, f.block.ID))
	assert.Equal(t, []string{"1b", "1"}, labelsBefore(t, s, f.rows[0].ID))
	got := labelsBefore(t, s, v.ID)
	assert.ElementsMatch(t, []string{"ash", "K1/1b/7", "H3/1/2", "oak"}, got)
	assert.Equal(t, []string{"H3/1/2", "oak"}, got[2:])
	assert.Empty(t, labelsBefore(t, s, f.vines[0][0].ID), "its own number never changed")
}

func passingLabels(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 1)
	v := &f.vines[0][0]
	update(t, s, func(tx store.Tx) error {
		for _, n := range []int{5, 6, 7} {
			v.Number, f.rows[0].Label, f.block.Code = n, string(rune('a'+n)), string(rune('A'+n))
			if err := f.save(tx); err != nil {
				return err
			}
		}
		return nil
	})
	assert.Equal(t, []string{"H3/1/1"}, labelsBefore(t, s, v.ID))
	assert.Equal(t, []string{"1"}, labelsBefore(t, s, f.rows[0].ID))
	assert.Equal(t, []string{"H3"}, labelsBefore(t, s, f.block.ID))
	update(t, s, func(tx store.Tx) error { // there and back
		for _, n := range []int{9, 7} {
			v.Number = n
			if err := tx.SaveVines([]store.Vine{*v}); err != nil {
				return err
			}
		}
		return nil
	})
	assert.Equal(t, []string{"H3/1/1"}, labelsBefore(t, s, v.ID))
}

func findByLabel(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 2, 3)
	plant(t, s, "H30", 2, 3)
	v := &f.vines[1][2]
	v.Tag = "Old Mary"
	update(t, s, f.save)
	find := func(text string, want ...vine.ID) {
		t.Helper()
		got, err := s.FindLabel(t.Context(), text)
		require.NoError(t, err)
		if len(want) == 0 {
			assert.Empty(t, got, text)
			return
		}
		assert.Equal(t, want, idsOfVines(got), text)
	}
	find("H3/2/3", v.ID)
	find("Old Mary", v.ID)
	for _, text := range []string{"", "H3", "H3/2", "H3/2/4", "H3/3/1", "H3/2/3/1", "Old", "Mary", "%", "_", "H3/2/%", "2"} {
		find(text)
	}
	v.Tag, v.Number, f.rows[1].Label, f.block.Code = "Young Mary", 33, "2b", "K9"
	update(t, s, f.save)
	for _, text := range []string{"K9/2b/33", "Young Mary", "Old Mary", "H3/2/3", "H3/2b/33", "K9/2/33"} {
		find(text, v.ID)
	}
	got, err := s.FindLabel(t.Context(), "K9/2b/33")
	require.NoError(t, err)
	assert.Equal(t, []store.Vine{*v}, got, "the whole record")
}

func findAnyCase(t *testing.T, h Harness) {
	s := h.open(t)
	f := layField("Ébène", 1, 2)
	f.rows[0].Label = "Öst"
	f.vines[0][0].Tag = "ÇA–Ω"
	update(t, s, f.save)
	for text, want := range map[string]vine.ID{
		"ébène/öST/1": f.vines[0][0].ID, "ÉBÈNE/ÖST/2": f.vines[0][1].ID, " ébène/öst/2 ": f.vines[0][1].ID, "ça–ω": f.vines[0][0].ID,
	} {
		got, err := s.FindLabel(t.Context(), text)
		require.NoError(t, err)
		assert.Equal(t, []vine.ID{want}, idsOfVines(got), text)
	}
}

func findMany(t *testing.T, h Harness) {
	s := h.open(t)
	f := layField("H3", 2, 40)
	for i := range f.vines {
		for k := range f.vines[i] {
			f.vines[i][k].Tag = "same"
		}
	}
	update(t, s, f.save)
	got, err := s.FindLabel(t.Context(), "SAME")
	require.NoError(t, err)
	require.Len(t, got, 50)
	assert.IsIncreasing(t, idsOfVines(got))
}
