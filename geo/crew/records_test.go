package crew_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"courson/geo/crew"
	"courson/geo/vine"
)

// A morning in the log: ana taps vine by vine in row 1, bo says at once that row 2
// is done, and takes one vine back; then ana comes into bo's row.
func morning() []vine.Event {
	at := func(minute int) time.Time { return day(4).Add(8*time.Hour + time.Duration(minute)*time.Minute) }
	row := tap("bo", 1, at(12), 12, vine.Pruned{})
	return []vine.Event{
		tap("ana", 1, at(0), 11, vine.Pruned{}, 101), tap("ana", 2, at(3), 11, vine.Pruned{}, 102), tap("ana", 3, at(6), 11, vine.Pruned{}, 104),
		tap("ana", 4, at(7), 11, vine.Pruned{}, 104), // twice
		row, tap("bo", 2, at(13), 12, vine.Void{Event: row.ID}, 108),
		tap("ana", 5, at(12), 12, vine.Pruned{}, 108),
	}
}

func TestRecordsOf(t *testing.T) {
	s := block(t, "oo_o", "yyoo")
	pruning, ok := table(t).Operation(crew.Pruning)
	require.True(t, ok)
	got := crew.RecordsOf(s, morning(), guyot, pruning, map[string]string{"ana": "north"}, true)
	type short struct {
		who   string
		vines int
		class crew.Class
	}
	var list []short
	for _, r := range got {
		list = append(list, short{r.Who, r.Vines, r.Class})
		require.True(t, r.Saved)
	}
	require.Equal(t, []short{{"ana", 1, 0}, {"ana", 1, 0}, {"ana", 1, 0}, {"ana", 1, 0}, {"bo", 3, crew.ClassYoung}}, list)
	require.Equal(t, "north", got[0].Crew)
	_, err := table(t).Learn(got, crew.LearnOptions{})
	require.NoError(t, err)
}

func TestDoneOn(t *testing.T) {
	s := block(t, "oo_o", "yyoo")
	got := crew.DoneOn(s, morning(), crew.Pruning, day(4), nil)
	var who []string
	for _, d := range got {
		who = append(who, d.Label+d.Who)
	}
	require.Equal(t, []string{"1ana", "1ana", "1ana", "2bo", "2bo", "2bo", "2ana"}, who)
	require.Empty(t, crew.DoneOn(s, morning(), crew.Pruning, day(5), nil))
	require.Empty(t, crew.DoneOn(s, morning(), crew.Tying, day(4), nil))
}

func TestSeenOf(t *testing.T) {
	s := block(t, "oo_o", "yyoo")
	seen := crew.SeenOf(s, morning(), crew.Pruning)
	require.Len(t, seen, 4+1+4)
	clashes := crew.Clashes(seen, 30*time.Minute)
	require.Len(t, clashes, 1)
	require.EqualValues(t, 12, clashes[0].Row)
	require.Equal(t, []int{4}, clashes[0].Both)
}

func TestClass_String(t *testing.T) {
	require.Equal(t, []string{"vigour not known", "vigour 2", "young", "all"},
		[]string{crew.ClassUnknown.String(), crew.Class(2).String(), crew.ClassYoung.String(), crew.ClassAll.String()})
}
