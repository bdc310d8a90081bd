package pruning

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Standards go to JSON and back unchanged.
func TestProperty_StandardsJSON(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := anyStandards(rt)
		data, err := json.Marshal(s)
		require.NoError(rt, err)
		back, err := ParseStandards(data)
		require.NoError(rt, err)
		require.Equal(rt, s, back)
	})
}

// What is left out keeps its default; a table given is the whole table.
func TestParseStandards_Defaults(t *testing.T) {
	s, err := ParseStandards([]byte(`{"limits": {"cap_per_vine": 12}, "load_rule": {"kind": "per_weight", "a": 20, "b": 20, "unit": "lb", "first_weight": 1}}`))
	require.NoError(t, err)
	want := DefaultStandards()
	want.Limits.CapPerVine = 12
	want.Rule = PerPound(20, 20)
	require.Equal(t, want, s)

	s, err = ParseStandards([]byte(`{}`))
	require.NoError(t, err)
	require.Equal(t, DefaultStandards(), s)

	s, err = ParseStandards([]byte(`{"dead_buds": {"rule": "table", "share": 0.3, "table": [{"from": 0.2, "more": 0.25}]}}`))
	require.NoError(t, err)
	require.Equal(t, []DeadLine{{0.2, 0.25}}, s.DeadBuds.Table)
	require.Equal(t, 0.5, s.DeadBuds.MinimalFrom)
}

func TestParseStandards_Refuses(t *testing.T) {
	for text, says := range map[string]string{
		`{"limits": {"shoots_per_m": 0}}`:                         "limits.shoots_per_m: found 0, wanted 3 to 60",
		`{"limits": {"cap_per_vine": 3}}`:                         "the floor of 4 nodes",
		`{"limits": {"cap_per_ha_over": "some"}}`:                 "all or living",
		`{"limits": {"shoot_per_m": 15}}`:                         "unknown field",
		`{"load_rule": {"kind": "guess"}}`:                        "load_rule.kind",
		`{"load_rule": {"kind": "per_weight", "a": 30, "b": 10}}`: `"lb" or "kg"`,
		`{"load_rule": {"kind": "cane_weight"}}`:                  "load_rule.target_g: found 0",
		`{"load_rule": {"kind": "fixed", "nodes": 2}}`:            "load_rule.nodes: found 2",
		`{"load_rule": {"kind": "effective_shoots"}}`:             "0 classes",
		`{"drought": {"wish": "cure"}}`:                           "hold, ease or rule",
		`{"dead_buds": {"rule": "guess"}}`:                        "none, exact or table",
		`{"dead_buds": {"rule": "table", "table": []}}`:           "at least one",
		`{"dead_buds": {"share": 1}}`:                             "dead_buds.share",
		`{"leaf_table": []}`:                                      "0 lines",
		`{"leaf_table": [{"leaf": 2, "stage": "full"}]}`:          "every leaf from the first on",
		`{"leaf_table": [{"leaf": 1, "stage": "part"}]}`:          "full and 1 in the last line",
		`{"leaf_table": [{"leaf": 1, "stage": "whole"}]}`:         "stage",
		`{"wood": {"min_cane_mm": 2}}`:                            "wood.min_cane_mm",
		`{"wood": {"bull_cane_mm": 5}}`:                           "wood.bull_cane_mm: found 5, wanted 8 to 40",
		`{"work": {"cane_minutes": -1}}`:                          "work.cane_minutes",
		`{"system": {"key": "own", "name": "own", "arms": 0}}`:    "arms",
		`{"load_rule": {"kind": "effective_shoots", "scores": [{"from_mm": 9, "score": 1}, {"from_mm": 8, "score": 2}]}}`: "rising limits",
	} {
		_, err := ParseStandards([]byte(text))
		require.Error(t, err, text)
		require.ErrorContains(t, err, says, text)
		if text != `{"system": {"key": "own", "name": "own", "arms": 0}}` {
			require.ErrorIs(t, err, ErrStandards, text)
		}
	}
}

// NaN passes no check.
func TestStandards_NaN(t *testing.T) {
	s := DefaultStandards()
	s.Wood.InternodeM = math.NaN()
	require.ErrorIs(t, s.Check(), ErrStandards)
	s = DefaultStandards()
	s.Rule.TargetG = math.NaN()
	require.ErrorIs(t, s.Check(), ErrStandards)
}

// The bands of Purdue Extension, Double pruning grapevines: as usual under 15 %,
// 35 % more under 35 %, 50 % more to 50 %, above it minimal pruning.
func TestDeadBuds_Bands(t *testing.T) {
	for _, c := range []struct {
		share, factor float64
		minimal       bool
	}{{0, 1, false}, {0.14, 1, false}, {0.15, 1.35, false}, {0.34, 1.35, false}, {0.35, 1.5, false}, {0.5, 1.5, false}, {0.51, 1.5, true}} {
		f, minimal := DeadBuds{Share: c.share, Rule: DeadTable, Table: PurdueDeadBuds(), MinimalFrom: 0.5}.factor()
		require.Equal(t, c.factor, f, "%g", c.share)
		require.Equal(t, c.minimal, minimal, "%g", c.share)
	}
	r := one{spacingM: 3, leaf: 9, weightG: 700}.plan(t, with(DoubleGuyot(), func(s *Standards) { s.DeadBuds.Rule, s.DeadBuds.Share = DeadTable, 0.2 }))
	require.EqualValues(t, 27, r.Load[0], "20 nodes, 20 %% dead")
	require.NotZero(t, r.Reasons[0]&ReasonDeadBuds)
	r = one{spacingM: 3, leaf: 9, weightG: 490}.plan(t, with(DoubleGuyot(), func(s *Standards) { s.DeadBuds.Rule, s.DeadBuds.Share = DeadTable, 0.2 }))
	require.EqualValues(t, 19, r.Load[0], "14 nodes make 18.9")
	r = one{spacingM: 3, leaf: 9, weightG: 700}.plan(t, with(DoubleGuyot(), func(s *Standards) { s.DeadBuds.Rule, s.DeadBuds.Share = DeadTable, 0.6 }))
	require.NotZero(t, r.Flags[0]&FlagMinimal)
	require.Equal(t, FollowFinish, r.FollowUps(0)[0].Kind)
}

// The scores at their limits: 7 and 10 mm to the upper class, 15 mm to the lower
// (chosen by us; the classes are those of Practical Winery & Vineyard, June 2017).
func TestRule_ScoresAtLimits(t *testing.T) {
	for mm, want := range map[float64]float64{6.9: 0, 7: 0.5, 9.9: 0.5, 10: 1, 15: 1, 15.1: 2, 30: 2} {
		require.Equal(t, want, ByEffectiveShoots().Effective([]float64{mm}), "%g mm", mm)
	}
}

// Under the first weight a + b is not defined: nodes fall in proportion, and the
// vine is to be rebuilt (common practice).
func TestRule_BelowFirstWeight(t *testing.T) {
	n, below, ok := PerPound(20, 20).ByWeight(0.5 * KgPerLb * 1000)
	require.True(t, ok && below)
	require.InDelta(t, 10, n, 1e-9)
	_, below, _ = PerPound(20, 20).ByWeight(KgPerLb * 1000)
	require.False(t, below)
	r := one{spacingM: 1.8, leaf: 9, weightG: 250}.plan(t, with(DoubleGuyot(), func(s *Standards) { s.Rule = PerPound(20, 20) }))
	require.NotZero(t, r.Flags[0]&FlagRebuild)
	require.NotZero(t, r.Reasons[0]&ReasonBelowFirst)
}
