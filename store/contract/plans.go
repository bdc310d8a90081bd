package contract

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func planTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"the newest is in use, the old stays": planVersions,
		"of its kind, season and block":       planSelection,
		"of vines that are there":             planChecks,
	}
}

func planVersions(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 4)
	v := f.vines[0]
	first := store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.block.ID, Made: time.Date(2026, 12, 1, 8, 0, 0, 0, time.FixedZone("", 3600)),
		By: "Ada", Source: "import «plan.csv»", Inputs: map[string]any{"target_g": 45.5, "list": []any{"a", true, nil}, "in": map[string]any{"é": "ü"}}}
	var ids []int64
	save := func(p store.Plan, entries ...store.PlanEntry) {
		update(t, s, func(tx store.Tx) error {
			id, err := tx.SavePlan(p, entries)
			ids = append(ids, id)
			return err
		})
	}
	old := []store.PlanEntry{
		{Vine: v[0].ID, Nodes: 12, Canes: 1, Spurs: 1, Reason: "growth: 480 g ÷ 40 g – «least of»"},
		{Vine: v[1].ID, Nodes: 0, Canes: -1, Spurs: 0},
		{Vine: v[3].ID, Nodes: -1, Canes: -1, Spurs: -1, Reason: "look again"},
	}
	save(first, old...)
	got, err := s.PlanEntries(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	assert.ElementsMatch(t, old, got)
	before := time.Now()
	save(store.Plan{ID: 9999, Kind: store.PlanPruning, Season: 2027, Block: f.block.ID, Source: "rule"}, store.PlanEntry{Vine: v[2].ID, Nodes: 6, Canes: -7})
	got, err = s.PlanEntries(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	require.Len(t, got, 1, "the newest alone is in use")
	assert.Equal(t, 6, got[0].Nodes)
	assert.Negative(t, got[0].Canes, "not said")
	plans, err := s.PlanList(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	require.Len(t, plans, 2)
	assert.Equal(t, []int64{ids[1], ids[0]}, []int64{plans[0].ID, plans[1].ID}, "newest first")
	assert.WithinDuration(t, before, plans[0].Made, time.Minute, "made now where not said")
	first.ID, first.Made = ids[0], first.Made.UTC()
	assert.Equal(t, first, plans[1])
	save(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.block.ID})
	got, err = s.PlanEntries(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	assert.Empty(t, got, "an empty plan takes the place of a full one")
}

func planSelection(t *testing.T, h Harness) {
	s := h.open(t)
	a, b := plant(t, s, "A", 1, 1), plant(t, s, "B", 1, 1)
	update(t, s, func(tx store.Tx) error {
		for _, p := range []store.Plan{
			{Kind: store.PlanPruning, Season: 2027, Block: a.block.ID, By: "1"}, {Kind: store.PlanPruning, Season: 2028, Block: a.block.ID, By: "2"},
			{Kind: store.PlanPruning, Season: 2027, Block: b.block.ID, By: "3"}, {Kind: "other", Season: 2027, Block: a.block.ID, By: "4"},
		} {
			if _, err := tx.SavePlan(p, nil); err != nil {
				return err
			}
		}
		return nil
	})
	for _, c := range []struct {
		kind   store.PlanKind
		season int
		block  vine.ID
		want   string
	}{
		{store.PlanPruning, 2027, a.block.ID, "1"}, {store.PlanPruning, 2027, 0, "31"}, {store.PlanPruning, 2028, 0, "2"},
		{"other", 2027, 0, "4"}, {"other", 2028, 0, ""}, {store.PlanPruning, 2027, 4_000_000, ""},
	} {
		plans, err := s.PlanList(t.Context(), c.kind, c.season, c.block)
		require.NoError(t, err)
		got := ""
		for _, p := range plans {
			got += p.By
		}
		assert.Equal(t, c.want, got, "%+v", c)
	}
}

func planChecks(t *testing.T, h Harness) {
	s := h.open(t)
	a, b := plant(t, s, "A", 1, 2), plant(t, s, "B", 1, 1)
	v := a.vines[0][0].ID
	for _, c := range []struct {
		name    string
		block   vine.ID
		entries []store.PlanEntry
		want    error
	}{
		{"no such block", 4_000_000, nil, store.ErrNotFound},
		{"no such vine", a.block.ID, []store.PlanEntry{{Vine: v}, {Vine: 4_000_000}}, store.ErrNotFound},
		{"a vine of another block", a.block.ID, []store.PlanEntry{{Vine: b.vines[0][0].ID}}, store.ErrNotFound},
		{"a vine twice", a.block.ID, []store.PlanEntry{{Vine: v}, {Vine: v}}, store.ErrConflict},
	} {
		err := s.Update(t.Context(), func(tx store.Tx) error {
			_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: c.block}, c.entries)
			return err
		})
		assert.ErrorIs(t, err, c.want, c.name)
	}
	plans, err := s.PlanList(t.Context(), store.PlanPruning, 2027, 0)
	require.NoError(t, err)
	assert.Empty(t, plans)
}
