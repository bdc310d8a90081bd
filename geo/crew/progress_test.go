package crew_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// tap is an event of a person's phone; vines by their ids, none: the whole row.
func tap(who string, seq int, when time.Time, row vine.ID, body vine.Body, vines ...vine.ID) vine.Event {
	var id uuid.UUID
	copy(id[:], who)
	id[15], id[14] = byte(seq), byte(seq>>8)
	return vine.Event{ID: id, Device: who, Seq: uint64(seq), At: when, By: who, Season: 2027, Kind: body.Kind(), Body: body,
		Target: vine.Target{Block: 1, Row: row, Vines: vines}}
}

func TestProgressOf(t *testing.T) {
	s := block(t, "oo_o", "oooo")
	done, redo := vine.Work{Operation: crew.Pruning, Progress: vine.Done}, vine.Work{Operation: crew.Pruning, Progress: vine.ToRedo}
	skipped := vine.Work{Operation: crew.Pruning, Progress: vine.Skipped}
	at := func(d, hour int) time.Time { return day(d).Add(time.Duration(hour) * time.Hour) }
	first := tap("ana", 1, at(4, 9), 11, vine.Pruned{}, 101, 102)
	events := []vine.Event{
		first,
		tap("bo", 1, at(4, 10), 11, done, 104),
		tap("bo", 2, at(5, 9), 11, done, 104),   // again: it stays with the first
		tap("cem", 1, at(5, 10), 12, done),      // the whole row
		tap("cem", 2, at(5, 11), 12, redo, 105), // to be redone
		tap("cem", 3, at(6, 11), 12, done, 105), // and redone
		tap("cem", 4, at(6, 12), 12, redo, 106), // and one that still is
		tap("bo", 3, at(6, 12), 12, skipped, 107),
		tap("ana", 2, at(6, 13), 11, vine.Void{Event: first.ID}, 102), // taken back for one vine
		tap("bo", 4, at(6, 14), 12, vine.Work{Operation: crew.Tying, Progress: vine.Done}),
	}
	late := tap("ana", 3, at(6, 14), 12, done)
	late.Season = 2026
	events = append(events, late)
	got, err := crew.ProgressOf(s, events, guyot, crew.Pruning, table(t), map[string]string{"ana": "north", "bo": "north", "cem": "south"}, nil)
	require.NoError(t, err)
	require.Equal(t, []crew.RowProgress{{Row: 11, Label: "1", Vines: 3, Done: 2, Left: 1}, {Row: 12, Label: "2", Vines: 4, Done: 2, Skipped: 1, Left: 1}}, got.Rows)
	require.Equal(t, crew.RowProgress{Label: "H3", Vines: 7, Done: 4, Skipped: 1, Left: 2}, got.Block)
	require.Equal(t, []crew.DayProgress{
		{Day: day(4), Crew: "north", Vines: 2, Minutes: 2 * 2.7},
		{Day: day(5), Crew: "south", Vines: 1, Minutes: 2.7},
		{Day: day(6), Crew: "south", Vines: 1, Minutes: 2.7},
	}, got.Days)
}

// The day turns where the estate's clocks stand.
func TestProgressOf_Zone(t *testing.T) {
	s := block(t, "o")
	east := time.FixedZone("east", 12*3600)
	events := []vine.Event{tap("ana", 1, day(4).Add(20*time.Hour), 11, vine.Pruned{}, 101)}
	got, err := crew.ProgressOf(s, events, guyot, crew.Pruning, table(t), nil, east)
	require.NoError(t, err)
	require.Equal(t, time.Date(2027, 1, 5, 0, 0, 0, 0, east), got.Days[0].Day)
}

// Whatever the events, in whatever order: done, skipped and left are those of the
// fold, and the days add up to what is done.
func TestProgressOf_Fold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := block(t, "oo_o", "owso")
		var events []vine.Event
		for k := range rapid.IntRange(0, 15).Draw(t, "events") {
			row := vine.ID(rapid.IntRange(11, 12).Draw(t, "row"))
			var vines []vine.ID
			if rapid.Bool().Draw(t, "one vine") {
				vines = []vine.ID{100 + 4*(row-11) + vine.ID(rapid.IntRange(1, 4).Draw(t, "vine"))}
			}
			var body vine.Body = vine.Work{Operation: crew.Pruning, Progress: vine.Progress(rapid.IntRange(1, 4).Draw(t, "progress"))}
			switch {
			case len(events) > 0 && rapid.IntRange(0, 4).Draw(t, "void") == 0:
				body = vine.Void{Event: events[rapid.IntRange(0, len(events)-1).Draw(t, "which")].ID}
			case rapid.IntRange(0, 3).Draw(t, "pruned") == 0:
				body = vine.Pruned{}
			}
			who := rapid.SampledFrom([]string{"ana", "bo"}).Draw(t, "who")
			events = append(events, tap(who, k+1, day(4).Add(time.Duration(rapid.IntRange(0, 72).Draw(t, "hour"))*time.Hour), row, body, vines...))
		}
		events = rapid.Permutation(events).Draw(t, "order")
		got, err := crew.ProgressOf(s, events, guyot, crew.Pruning, table(t), map[string]string{"ana": "north"}, nil)
		require.NoError(t, err)
		var want crew.RowProgress
		for i, id := range s.Ground.ID {
			if !s.Condition[i].Living() {
				continue
			}
			p := vine.Place{ID: id, Row: s.Ground.Rows[s.Ground.Row[i]].ID, Block: 1}
			want.Vines++
			switch vine.Fold(p, events).In(2027, p).Work[crew.Pruning] {
			case vine.Done:
				want.Done++
			case vine.Skipped:
				want.Skipped++
			default:
				want.Left++
			}
		}
		want.Label = "H3"
		require.Equal(t, want, got.Block)
		sum := 0
		for _, d := range got.Days {
			sum += d.Vines
			require.False(t, d.Day.Before(day(4)), "no day without an event")
		}
		require.Equal(t, want.Done, sum)
	})
}
