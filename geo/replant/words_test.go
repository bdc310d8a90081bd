package replant

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Codes go over the wire as words and come back.
func TestWords(t *testing.T) {
	type all struct {
		State  State
		Action Action
		Way    Way
		Stage  Stage
		Day    Day
	}
	in := all{DeadAboveGraft, ActTest, PullBlock, HoleDug, jan(12)}
	text, err := json.Marshal(in)
	require.NoError(t, err)
	require.JSONEq(t, `{"State": "dead above graft", "Action": "test", "Way": "pull the block", "Stage": "hole dug", "Day": "2027-01-12"}`, string(text))
	var out all
	require.NoError(t, json.Unmarshal(text, &out))
	require.Equal(t, in, out)
	for _, bad := range []string{`{"State": "gone"}`, `{"Action": ""}`, `{"Way": "burn"}`, `{"Stage": "lost"}`, `{"Day": "12.1."}`} {
		require.Error(t, json.Unmarshal([]byte(bad), &out), bad)
	}
	_, err = ParseStage("lost")
	require.ErrorIs(t, err, ErrStep)
	require.Equal(t, "state 99", State(99).String())
}

// Settings keep every default through JSON.
func TestSettings_JSON(t *testing.T) {
	m := DefaultMoney()
	text, err := json.Marshal(m)
	require.NoError(t, err)
	var back Money
	require.NoError(t, json.Unmarshal(text, &back))
	require.Equal(t, m, back)
	text, err = json.Marshal(DefaultRules())
	require.NoError(t, err)
	var rules Rules
	require.NoError(t, json.Unmarshal(text, &rules))
	require.Equal(t, DefaultRules(), rules)
}

func TestWalk_Order(t *testing.T) {
	g := plotStand(t, 3, 2, 2027, 2010).Ground
	require.Equal(t, []int{0, 1, 2, 3, 4, 5}, Walk{}.Order(g))
	require.Equal(t, []int{0, 1, 3, 2, 4, 5}, Walk{BackForth: true}.Order(g))
	require.Equal(t, []int{5, 4, 2, 3, 1, 0}, Walk{FarFirst: true, LastFirst: true, BackForth: true}.Order(g))
}

// A day is that of the estate's clocks.
func TestDayOf(t *testing.T) {
	late := time.Date(2027, 1, 12, 23, 30, 0, 0, time.UTC)
	require.Equal(t, jan(12), DayOf(late, nil))
	require.Equal(t, jan(13), DayOf(late, time.FixedZone("east", 3600)))
	require.Zero(t, DayOf(time.Time{}, nil))
}

// What can hurt people or break rules is said.
func TestCautions(t *testing.T) {
	text := joined(Cautions())
	for _, says := range []string{"agronomist decides", "pipes, cables", "local work-safety rules", "the label is law", "certified", "Local plant-health", "shade", "roots", "phylloxera"} {
		require.Contains(t, text, says)
	}
}

// Every setting there is has a default with its source.
func TestFigures(t *testing.T) {
	said := map[string]string{}
	for _, f := range Figures() {
		require.NotEmpty(t, f.Source, f.Key)
		said[f.Part+"."+f.Key] = f.Value
	}
	keys := 1 // the allowance
	for part, settings := range map[string]any{"find": DefaultFindSettings(), "rules": DefaultRules(), "limits": DefaultLimits(), "life": DefaultLife(), "order": DefaultOrderSettings()} {
		text, err := json.Marshal(settings)
		require.NoError(t, err)
		var fields map[string]any
		require.NoError(t, json.Unmarshal(text, &fields))
		for key, v := range fields {
			keys++
			require.Contains(t, said, part+"."+key)
			if key != "sick" {
				require.Equal(t, fmt.Sprint(v), said[part+"."+key], key)
			}
		}
	}
	require.Len(t, said, keys)
	for kind, rule := range DefaultRules().Sick {
		require.NotEmpty(t, rule.Source, kind)
	}
}
