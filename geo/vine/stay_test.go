package vine

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestEvent_Covers(t *testing.T) {
	p := movedPlace() // row 10, then row 11 of block 1, then row 99 of block 2
	for _, c := range []struct {
		name   string
		target Target
		at     int
		want   bool
	}{
		{"its first row then", Target{Block: 1, Row: 10}, 3, true},
		{"its first row at the moment it left", Target{Block: 1, Row: 10}, 4, false},
		{"its second row then", Target{Block: 1, Row: 11}, 5, true},
		{"its second row too early", Target{Block: 1, Row: 11}, 3, false},
		{"its row now", Target{Block: 2, Row: 99}, 9, true},
		{"its row now, before it came", Target{Block: 2, Row: 99}, 7, false},
		{"its row, told under the other block", Target{Block: 2, Row: 10}, 3, true},
		{"its block then", Target{Block: 1}, 7, true},
		{"its block, after it left", Target{Block: 1}, 8, false},
		{"its block now", Target{Block: 2}, 8, true},
		{"its block now, before it came", Target{Block: 2}, 7, false},
		{"named where it stood", Target{Block: 1, Row: 10, Vines: []ID{5}}, 3, true},
		{"named where it stood, told later", Target{Block: 1, Row: 10, Vines: []ID{5}}, 12, true},
		{"another named", Target{Block: 1, Row: 10, Vines: []ID{6}}, 3, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := Event{At: hour(c.at), Target: c.target, Kind: KindNote, Body: Note{"x"}}
			require.Equal(t, c.want, e.Covers(p))
		})
	}
	void := Event{At: hour(12), Target: Target{Block: 1, Row: 10}, Kind: KindVoid, Body: Void{Event: uuid.UUID{1}}}
	require.True(t, void.Covers(p), "taken back for the row, after the vine left it")
	void.Target.Row = 12
	require.False(t, void.Covers(p))
}

func TestPlace_Stood(t *testing.T) {
	p := movedPlace()
	require.True(t, p.Stood(10, 1))
	require.True(t, p.Stood(0, 1))
	require.True(t, p.Stood(99, 2))
	require.False(t, p.Stood(99, 1))
	require.False(t, p.Stood(10, 2))
	require.False(t, p.Stood(0, 3))
}

// TestFold_MoveLeavesRecords: what was recorded before a vine came into another row
// and block says of it afterwards what it said before.
func TestFold_MoveLeavesRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		before := testPlaces()[0]
		after := Place{ID: before.ID, Row: 77, Block: 7, Planted: before.Planted, Was: []Stay{{Row: before.Row, Block: before.Block, Until: hour(13)}}}
		var past []Event
		for _, e := range events {
			if e.Target.Block == before.Block { // a vine is only named where it stands
				past = append(past, e)
			}
		}
		same(t, "after the move", Fold(after, past), Fold(before, past))
	})
}

func TestFold_AfterMove(t *testing.T) {
	p := Place{ID: 41, Row: 12, Block: 4, Was: []Stay{{Row: 12, Block: 3, Until: january("12 10:00")}}}
	make := func(n byte, at string, target Target, body Body) Event {
		return Event{ID: uuid.UUID{n}, Device: "a", Seq: uint64(n), At: january(at), Season: 2027, Target: target, Kind: body.Kind(), Body: body}
	}
	life := Fold(p, []Event{
		make(1, "12 09:00", Target{Block: 3}, saw(Weak)),                            // the whole block that it stood in
		make(2, "12 09:30", Target{Block: 4}, saw(Dead)),                            // a block that it was not in yet
		make(3, "12 11:00", Target{Block: 3}, saw(Missing)),                         // the block that it had left
		make(4, "12 11:30", Target{Block: 4}, did("tying", Done)),                   // the block that it is in
		make(5, "12 12:00", Target{Block: 3, Row: 12, Vines: []ID{41}}, weighed(3)), // by one who had not heard of the move
	})
	require.Len(t, life.States, 1)
	s := life.States[0]
	require.Equal(t, Weak, s.Condition)
	require.Equal(t, Done, s.Work["tying"])
	require.InDelta(t, 3, s.Measures[PruningWeight].Value, 0)
	require.Equal(t, january("12 09:00"), s.SeenAt.In(time.UTC))
}
