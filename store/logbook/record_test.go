package logbook_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store/logbook"
)

func instant() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		if rapid.Bool().Draw(t, "none") {
			return time.Time{}
		}
		return time.UnixMicro(rapid.Int64Range(0, 3e15).Draw(t, "us")).UTC()
	})
}

func sometimes(t *rapid.T, what string) *int {
	if rapid.Bool().Draw(t, what+"?") {
		return nil
	}
	n := rapid.IntRange(0, 40).Draw(t, what)
	return &n
}

// state draws any state that a fold could give.
func state(t *rapid.T) vine.State {
	s := vine.State{
		Season:    rapid.IntRange(2020, 2030).Draw(t, "season"),
		Condition: vine.Condition(rapid.IntRange(0, 8).Draw(t, "condition")), Cause: rapid.SampledFrom([]string{"", "frost"}).Draw(t, "cause"),
		SeenAt: instant().Draw(t, "seen"), LookAgain: instant().Draw(t, "look"), Planted: rapid.IntRange(0, 2030).Draw(t, "planted"),
		PrunedAt: instant().Draw(t, "pruned at"), PrunedBy: rapid.SampledFrom([]string{"", "Ada"}).Draw(t, "by"),
		Notes: rapid.IntRange(0, 3).Draw(t, "notes"),
	}
	for _, q := range []vine.Quantity{vine.PruningWeight, vine.CaneCount, vine.CaneDiameter, vine.VisualScore, vine.Yield, vine.CanopyIndex} {
		if rapid.Bool().Draw(t, string(q)) {
			if s.Measures == nil {
				s.Measures = map[vine.Quantity]vine.Reading{}
			}
			s.Measures[q] = vine.Reading{Value: rapid.Float64Range(-1e6, 1e6).Draw(t, "value"),
				Scale: rapid.SampledFrom([]string{"", "1-5"}).Draw(t, "scale"), At: instant().Draw(t, "at")}
		}
	}
	if rapid.Bool().Draw(t, "pruned") {
		s.Pruned = &vine.Pruned{Nodes: sometimes(t, "nodes"), Canes: sometimes(t, "canes"), Spurs: sometimes(t, "spurs"),
			Reason: rapid.SampledFrom([]string{"", "weak"}).Draw(t, "reason")}
		if rapid.Bool().Draw(t, "arms") {
			s.Pruned.Arms = []vine.Arm{{Name: "left", Canes: []vine.Cane{{Nodes: 10, LengthMM: 900}}, Spurs: []vine.Spur{{Nodes: 2, FirstBudFaces: "below"}},
				LargeCuts: []vine.Cut{{Face: "upper", DiameterMM: 31.5}}, ClimbMM: 12}}
		}
	}
	for _, op := range []string{vine.Pruning, "tying"} {
		if rapid.Bool().Draw(t, op) {
			if s.Work == nil {
				s.Work = map[string]vine.Progress{}
			}
			s.Work[op] = vine.Progress(rapid.IntRange(0, 4).Draw(t, "progress"))
		}
	}
	if rapid.Bool().Draw(t, "clash") {
		s.Clashes = []vine.Clash{{Field: vine.FieldCondition, Kept: uuid.New(), Disputed: uuid.New()}}
	}
	return s
}

// TestRecord_HoldsTheState: what is spread over columns can be put together again.
func TestRecord_HoldsTheState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := state(t)
		r, err := logbook.NewRecord(41, 3, want)
		require.NoError(t, err)
		got, err := r.State()
		require.NoError(t, err)
		require.Equal(t, want, got)
		again, err := logbook.NewRecord(41, 3, got)
		require.NoError(t, err)
		require.True(t, r.Same(again))
	})
}

// TestRecord_Same: databases write JSON in their own way, and revisions differ.
func TestRecord_Same(t *testing.T) {
	s := vine.State{Season: 2027, Work: map[string]vine.Progress{"tying": vine.Done, "mowing": vine.Started},
		Clashes: []vine.Clash{{Field: vine.FieldPruned, Kept: uuid.New(), Disputed: uuid.New()}}}
	a, err := logbook.NewRecord(1, 2, s)
	require.NoError(t, err)
	b := a
	var any map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(a.Detail, &any))
	b.Detail, err = json.MarshalIndent(any, "", "   ")
	require.NoError(t, err)
	b.Changed = 99
	assert.True(t, a.Same(b))
	b.Notes++
	assert.False(t, a.Same(b))
	b = a
	b.Detail = nil
	assert.False(t, a.Same(b))
	b.Detail = []byte("{")
	assert.False(t, a.Same(b), "what cannot be read is not the same")
	_, err = b.State()
	assert.ErrorContains(t, err, "vine 1 in 2027")
}

func TestRecord_TypicalHasNoDetail(t *testing.T) {
	nodes := 14
	r, err := logbook.NewRecord(1, 2, vine.State{Season: 2027, Condition: vine.Bearing,
		Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: {Value: 412}, vine.Yield: {Value: 2700}, vine.VisualScore: {Value: 3, Scale: "1-5"}},
		Pruned:   &vine.Pruned{Nodes: &nodes}, Work: map[string]vine.Progress{vine.Pruning: vine.Done}})
	require.NoError(t, err)
	assert.Nil(t, r.Detail, "a million of these are read at once")
	assert.Equal(t, vine.Done, r.Progress)
	assert.Equal(t, 14, *r.NodesLeft)
}

func TestCarried(t *testing.T) {
	r, err := logbook.NewRecord(1, 2, vine.State{Season: 2026, Condition: vine.Dead, Cause: "esca", SeenAt: morning, Planted: 2010, Notes: 2,
		Measures: map[vine.Quantity]vine.Reading{vine.Yield: {Value: 1}}, Work: map[string]vine.Progress{"tying": vine.Done}})
	require.NoError(t, err)
	got, err := r.Carried(2028).State()
	require.NoError(t, err)
	assert.Equal(t, vine.State{Season: 2028, Condition: vine.Dead, Cause: "esca", SeenAt: logbook.Instant(morning), Planted: 2010}, got)
}

func TestCompare(t *testing.T) {
	p := vine.Place{ID: 4, Row: 2, Block: 1, Planted: 2010}
	record := func(s vine.State) logbook.Record {
		r, err := logbook.NewRecord(p.ID, p.Block, s)
		require.NoError(t, err)
		return r
	}
	in := func(season int, c vine.Condition) vine.State {
		return vine.State{Season: season, Condition: c, Planted: 2010}
	}
	weighed := in(2027, vine.Bearing)
	weighed.Measures = map[vine.Quantity]vine.Reading{vine.Yield: {Value: 1}}
	for _, c := range []struct {
		name          string
		before        []logbook.Record
		now           []vine.State
		seasons, drop []int
		carried       bool
	}{
		{"nothing", nil, nil, nil, nil, false},
		{"the same", []logbook.Record{record(in(2027, vine.Dead))}, []vine.State{in(2027, vine.Dead)}, nil, nil, false},
		{"a first weight, condition as before", []logbook.Record{record(in(2026, vine.Bearing))}, []vine.State{in(2026, vine.Bearing), weighed}, []int{2027}, nil, false},
		{"a first note, nothing seen yet", nil, []vine.State{in(2027, vine.Unseen)}, []int{2027}, nil, false},
		{"a condition", []logbook.Record{record(in(2026, vine.Bearing))}, []vine.State{in(2026, vine.Dead)}, []int{2026}, nil, true},
		{"a condition in a new season", []logbook.Record{record(in(2026, vine.Bearing))}, []vine.State{in(2026, vine.Bearing), in(2027, vine.Dead)}, []int{2027}, nil, true},
		{"a record too many", []logbook.Record{record(in(2026, vine.Bearing)), record(in(2027, vine.Dead))}, []vine.State{in(2026, vine.Bearing)}, []int{2027}, []int{2027}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := logbook.Compare(p, c.before, c.now)
			require.NoError(t, err)
			assert.Equal(t, c.seasons, got.Seasons)
			assert.Equal(t, c.drop, got.Drop)
			assert.Equal(t, c.carried, got.Carried)
			assert.Equal(t, len(c.seasons) == 0, got.None())
			assert.Len(t, got.Put, len(c.seasons)-len(c.drop))
		})
	}
}
