package contract

import (
	"context"
	"encoding/json"
	"time"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// plain writes a state in a form that can be compared: nil and empty are the
// same, times are moments.
func plain(s vine.State) string {
	measures := map[vine.Quantity]any{}
	for q, r := range s.Measures {
		measures[q] = []any{r.Value, r.Scale, moment(r.At)}
	}
	work := map[string]string{}
	for op, p := range s.Work {
		work[op] = p.String()
	}
	text, err := json.MarshalIndent(map[string]any{
		"season": s.Season, "condition": s.Condition.String(), "cause": s.Cause, "seen": moment(s.SeenAt),
		"look": moment(s.LookAgain), "planted": s.Planted, "measures": measures, "pruned": s.Pruned,
		"pruned at": moment(s.PrunedAt), "pruned by": s.PrunedBy, "work": work, "notes": s.Notes,
		"clashes": append([]vine.Clash{}, s.Clashes...),
	}, "", " ")
	if err != nil {
		return err.Error()
	}
	return string(text)
}

func moment(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// requireFold holds the states that the store gives for a block against the
// fold of the events that it was sent: the same vines in the same order, with
// the same states.
func requireFold(ctx context.Context, t require.TestingT, s store.Log, f *field, events []vine.Event, season int) {
	var want, got []string
	var who, given []vine.ID
	for _, v := range f.all() {
		p := f.place(v)
		life := vine.Fold(p, events)
		if len(life.States) == 0 || life.States[0].Season > season {
			continue
		}
		who = append(who, v.ID)
		want = append(want, plain(life.In(season, p)))
	}
	for st, err := range s.States(ctx, f.block.ID, season, 0) {
		require.NoError(t, err)
		given = append(given, st.Vine)
		got = append(got, plain(st.State))
	}
	require.Equal(t, who, given, "vines with a state in %d", season)
	for i := range want {
		require.Equal(t, want[i], got[i], "vine %d in %d", who[i], season)
	}
}
