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
		"any version can be read":             planVersion,
		"standards: the newest counts":        standardsVersions,
		"standards are checked":               standardsChecks,
		"papers: the newest of a key counts":  paperVersions,
		"papers are checked":                  paperChecks,
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

func planVersion(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 2)
	entries := []store.PlanEntry{{Vine: f.vines[0][0].ID, Nodes: 12, Canes: 1, Spurs: 2, Reason: "growth", Detail: []byte(`{"i":[1,8],"é":null}`)}}
	var first, second int64
	update(t, s, func(tx store.Tx) (err error) {
		if first, err = tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.block.ID, By: "Ada", Inputs: map[string]any{"a": 1.5}}, entries); err != nil {
			return err
		}
		second, err = tx.SavePlan(store.Plan{Kind: "other", Season: 2028, Block: f.block.ID}, nil)
		return err
	})
	p, got, err := s.PlanVersion(t.Context(), first)
	require.NoError(t, err)
	assert.Equal(t, entries, got)
	assert.Equal(t, []any{first, store.PlanPruning, 2027, f.block.ID, "Ada", map[string]any{"a": 1.5}}, []any{p.ID, p.Kind, p.Season, p.Block, p.By, p.Inputs})
	inUse, err := s.PlanEntries(t.Context(), store.PlanPruning, 2027, f.block.ID)
	require.NoError(t, err)
	assert.Equal(t, entries, inUse)
	for name, detail := range map[string]string{"a list": `[1]`, "broken": `{"a"`, "zero": `{"a": "\u0000"}`} {
		require.Error(t, s.Update(t.Context(), func(tx store.Tx) error {
			_, err := tx.SavePlan(store.Plan{Kind: "other", Season: 2028, Block: f.block.ID}, []store.PlanEntry{{Vine: f.vines[0][0].ID, Detail: []byte(detail)}})
			return err
		}), name)
	}
	p, got, err = s.PlanVersion(t.Context(), second)
	require.NoError(t, err)
	assert.Empty(t, got)
	assert.Equal(t, store.PlanKind("other"), p.Kind)
	_, _, err = s.PlanVersion(t.Context(), second+1000)
	require.ErrorIs(t, err, store.ErrNotFound)
}

func standardsVersions(t *testing.T, h Harness) {
	s := h.open(t)
	a, b := plant(t, s, "A", 1, 1), plant(t, s, "B", 1, 1)
	none, err := s.Standards(t.Context())
	require.NoError(t, err)
	assert.Empty(t, none)
	revisions := func() (out [2][2]int64) {
		blocks, err := s.Blocks(t.Context())
		require.NoError(t, err)
		for i, b := range blocks {
			out[i] = [2]int64{b.Revision, b.GroundRev}
		}
		return out
	}
	save := func(block vine.ID, by, value string) {
		update(t, s, func(tx store.Tx) error {
			return tx.SaveStandards(store.Standards{Block: block, By: by, Value: []byte(value)})
		})
	}
	before := revisions()
	save(a.block.ID, "Ada", `{"x": 1}`)
	save(a.block.ID, "Bo", `{"x": [2, "é"], "y": {"z": null}}`)
	after := revisions()
	assert.Equal(t, after[0][0], after[0][1], "a change of the ground")
	assert.Greater(t, after[0][0], before[0][0])
	assert.Equal(t, before[1], after[1], "of this block only")
	save(0, "Cy", `{}`)
	assert.Greater(t, revisions()[1][1], after[1][1], "the estate's are for every block")
	got, err := s.Standards(t.Context())
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, []vine.ID{0, a.block.ID}, []vine.ID{got[0].Block, got[1].Block})
	assert.Equal(t, []string{"Cy", "Bo"}, []string{got[0].By, got[1].By})
	assert.JSONEq(t, `{"x": [2, "é"], "y": {"z": null}}`, string(got[1].Value))
	assert.WithinDuration(t, time.Now(), got[1].Made, time.Minute)
	_ = b
}

func standardsChecks(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "A", 1, 1)
	for name, v := range map[string]store.Standards{
		"no value":      {Block: f.block.ID},
		"a list":        {Block: f.block.ID, Value: []byte(`[1]`)},
		"broken":        {Block: f.block.ID, Value: []byte(`{"a"`)},
		"zero in a key": {Block: f.block.ID, Value: []byte(`{"\u0000": 1}`)},
		"zero in by":    {Block: f.block.ID, By: "\x00", Value: []byte(`{}`)},
	} {
		require.Error(t, s.Update(t.Context(), func(tx store.Tx) error { return tx.SaveStandards(v) }), name)
	}
	err := s.Update(t.Context(), func(tx store.Tx) error {
		return tx.SaveStandards(store.Standards{Block: f.block.ID + 5000, Value: []byte(`{}`)})
	})
	require.ErrorIs(t, err, store.ErrNotFound)
	got, err := s.Standards(t.Context())
	require.NoError(t, err)
	assert.Empty(t, got)
}
