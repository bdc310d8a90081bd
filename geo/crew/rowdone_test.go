package crew_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

var crewOfPeople = map[string]string{"ana": "north", "bo": "north", "cem": "south"}

func TestProgressOf_RowDone(t *testing.T) {
	done, skipped := vine.Work{Operation: crew.Pruning, Progress: vine.Done}, vine.Work{Operation: crew.Pruning, Progress: vine.Skipped}
	at := func(d, hour int) time.Time { return day(d).Add(time.Duration(hour) * time.Hour) }
	for name, c := range map[string]struct {
		row    string
		events []vine.Event
		day    int // 0: not at its end
		crew   string
	}{
		"one crew": {"oo_o", []vine.Event{tap("ana", 1, at(4, 9), 11, done, 101, 102), tap("ana", 2, at(5, 9), 11, done, 104)}, 5, "north"},
		"who did most of it, not who ended it": {"oooo", []vine.Event{
			tap("ana", 1, at(4, 9), 11, done, 101), tap("bo", 1, at(4, 10), 11, done, 102, 103), tap("cem", 1, at(6, 9), 11, done, 104)}, 6, "north"},
		"as many each: who ended it": {"oooo", []vine.Event{tap("cem", 1, at(4, 9), 11, done, 101, 102), tap("bo", 1, at(4, 10), 11, done, 103, 104)}, 4, "north"},
		"a gap left":                 {"oo_o", []vine.Event{tap("ana", 1, at(4, 9), 11, done, 101)}, 0, ""},
		"a vine skipped on a later day does not move it": {"ooo", []vine.Event{
			tap("ana", 1, at(4, 9), 11, done, 101, 102), tap("cem", 1, at(6, 9), 11, skipped, 103)}, 4, "north"},
		"all skipped":  {"oo", []vine.Event{tap("cem", 1, at(6, 9), 11, skipped)}, 6, "south"},
		"nobody known": {"oo", []vine.Event{tap("dan", 1, at(6, 9), 11, done)}, 6, ""},
		"taken up again and ended again": {"oo", []vine.Event{tap("ana", 1, at(4, 9), 11, done),
			tap("cem", 1, at(5, 9), 11, vine.Work{Operation: crew.Pruning, Progress: vine.ToRedo}, 102), tap("cem", 2, at(7, 9), 11, done, 102)}, 7, "south"},
		"no living vine": {"_x", []vine.Event{tap("ana", 1, at(4, 9), 11, done)}, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := crew.ProgressOf(block(t, c.row), c.events, guyot, crew.Pruning, table(t), crewOfPeople, nil)
			require.NoError(t, err)
			want := time.Time{}
			if c.day > 0 {
				want = day(c.day)
			}
			require.Equal(t, want, got.Rows[0].Day)
			require.Equal(t, c.crew, got.Rows[0].Crew)
		})
	}
}

// Of vines that are each done once a row ends on the day of the latest, whatever
// the order in which the records come in, and no crew did more of it than the one
// that it is counted as.
func TestProgressOf_RowDoneOnce(t *testing.T) {
	who := []string{"ana", "bo", "cem"}
	rapid.Check(t, func(t *rapid.T) {
		s := block(t, "oooooo")
		var events []vine.Event
		latest, count := 0, map[string]int{}
		for k := range 6 {
			hour, by := rapid.IntRange(0, 90).Draw(t, "hour"), rapid.SampledFrom(who).Draw(t, "who")
			latest = max(latest, hour)
			count[crewOfPeople[by]]++
			events = append(events, tap(by, k+1, day(4).Add(time.Duration(hour)*time.Hour), 11, vine.Pruned{}, vine.ID(101+k)))
		}
		events = rapid.Permutation(events).Draw(t, "order")
		got, err := crew.ProgressOf(s, events, guyot, crew.Pruning, table(t), crewOfPeople, nil)
		require.NoError(t, err)
		require.Equal(t, day(4+latest/24), got.Rows[0].Day)
		for name, n := range count {
			require.LessOrEqual(t, n, count[got.Rows[0].Crew], name)
		}
	})
}
