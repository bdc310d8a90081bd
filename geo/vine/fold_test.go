package vine

import (
	"encoding/binary"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// vine41 stands in row 12 of block 3; its first plant's first leaf was in 2010.
var vine41 = Place{ID: 41, Row: 12, Block: 3, Planted: 2010}

// rec is short for an event about vine 41 by a device. Its time is of
// January 2027, "12 09:30" being the 12th; it was received the moment it was
// made. The number is id and counter in one.
func rec(n int, device, at string, season int, body Body) Event {
	id := uuid.UUID{6: 0x70, 8: 0x80}
	binary.BigEndian.PutUint32(id[12:], uint32(n))
	when := january(at)
	return Event{ID: id, Device: device, Seq: uint64(n), At: when, When: when, Received: when, Season: season,
		Target: Target{Block: 3, Row: 12, Vines: []ID{41}}, Kind: body.Kind(), Body: body}
}

func january(at string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", "2027-01-"+at)
	if err != nil {
		panic(err)
	}
	return t
}

// late is the same event, received later.
func (e Event) late(at string) Event {
	e.Received = january(at)
	return e
}

func saw(c Condition) Sighting { return Sighting{Condition: c} }

func sawFor(c Condition, cause string) Sighting { return Sighting{Condition: c, Cause: cause} }

func weighed(g float64) Measure { return Measure{Quantity: PruningWeight, Unit: "g", Value: &g} }

func scored(v float64, scale string) Measure {
	return Measure{Quantity: VisualScore, Unit: "score", Scale: scale, Value: &v}
}

func left(nodes int) Pruned { return Pruned{Nodes: &nodes} }

func did(op string, p Progress) Work { return Work{Operation: op, Progress: p} }

func TestFold_Nothing(t *testing.T) {
	got := Fold(vine41, nil)
	require.Equal(t, Life{Plantings: []Planting{{From: 2010}}}, got)
	require.Equal(t, State{Season: 2027, Planted: 2010}, got.In(2027, vine41))
}

func TestFold_Plantings(t *testing.T) {
	replanted := func(season int) Sighting { return Sighting{Condition: Replanted, Planted: season} }
	for _, c := range []struct {
		name   string
		place  Place
		events []Event
		want   []Planting
	}{
		{"standing", vine41, []Event{rec(1, "ana", "12 09:00", 2027, saw(Weak))}, []Planting{{From: 2010}}},
		{"missing in winter: last there the season before", vine41, []Event{rec(1, "ana", "12 09:00", 2027, sawFor(Missing, "machine"))},
			[]Planting{{From: 2010, To: 2026, Why: "machine"}}},
		{"dead, then pulled: the first look says until when, the last cause why", vine41, []Event{
			rec(1, "ana", "12 09:00", 2025, sawFor(Dead, "esca")), rec(2, "ana", "12 10:00", 2026, sawFor(Missing, "pulled"))},
			[]Planting{{From: 2010, To: 2024, Why: "pulled"}}},
		{"dead, then missing without a cause: the cause stays", vine41, []Event{
			rec(1, "ana", "12 09:00", 2025, sawFor(Dead, "esca")), rec(2, "ana", "12 10:00", 2026, saw(Missing))},
			[]Planting{{From: 2010, To: 2024, Why: "esca"}}},
		{"lost in its first summer", Place{ID: 41, Row: 12, Block: 3, Planted: 2027}, []Event{rec(1, "ana", "12 09:00", 2027, saw(Dead))},
			[]Planting{{From: 2027, To: 2027}}},
		{"replanted without a record of the loss", vine41, []Event{rec(1, "ana", "12 09:00", 2027, Sighting{Condition: Replanted, Cause: "frost", Clone: "115"})},
			[]Planting{{From: 2010, To: 2026, Why: "frost"}, {From: 2027, Clone: "115"}}},
		{"replanted twice", vine41, []Event{
			rec(1, "ana", "12 09:00", 2024, saw(Replanted)), rec(2, "ana", "12 10:00", 2026, saw(Missing)), rec(3, "ana", "12 11:00", 2027, saw(Replanted))},
			[]Planting{{From: 2010, To: 2023}, {From: 2024, To: 2025}, {From: 2027}}},
		{"the same replant seen in two winters", vine41, []Event{
			rec(1, "ana", "12 09:00", 2026, saw(Replanted)), rec(2, "ana", "12 10:00", 2027, replanted(2026))},
			[]Planting{{From: 2010, To: 2025}, {From: 2026}}},
		{"a replant that turns out older", vine41, []Event{
			rec(1, "ana", "12 09:00", 2026, saw(Replanted)), rec(2, "ana", "12 10:00", 2027, replanted(2024))},
			[]Planting{{From: 2010, To: 2023}, {From: 2024}}},
		{"first plant of unknown age", Place{ID: 41, Row: 12, Block: 3}, []Event{rec(1, "ana", "12 09:00", 2027, saw(Replanted))},
			[]Planting{{To: 2026}, {From: 2027}}},
		{"a replanting taken back", vine41, []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Replanted)), rec(2, "ana", "12 09:10", 2027, Void{Event: rec(1, "", "01 00:00", 0, Note{}).ID})},
			[]Planting{{From: 2010}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, Fold(c.place, c.events).Plantings)
		})
	}
}

func TestFold_Planted(t *testing.T) {
	life := Fold(vine41, []Event{
		rec(1, "ana", "12 09:00", 2025, saw(Bearing)),
		rec(2, "ana", "12 10:00", 2026, Sighting{Condition: Replanted, Planted: 2027}),
		rec(3, "ana", "12 11:00", 2028, saw(Young)),
	})
	for season, want := range map[int]int{2024: 2010, 2025: 2010, 2026: 2027, 2027: 2027, 2028: 2027, 2030: 2027} {
		require.Equal(t, want, life.In(season, vine41).Planted, "season %d", season)
	}
}

func TestFold_Clashes(t *testing.T) {
	id := func(n int) uuid.UUID { return rec(n, "", "01 00:00", 0, Note{}).ID }
	clash := func(f Field, kept, disputed int) Clash { return Clash{f, id(kept), id(disputed)} }
	arms := func(nodes int) Pruned { return Pruned{Arms: []Arm{{Name: "left", Canes: []Cane{{Nodes: nodes}}}}} }
	const eve = "12 18:00"
	for _, c := range []struct {
		name   string
		events []Event
		want   []Clash
	}{
		{"one says dead, the other bearing", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing))},
			[]Clash{clash(FieldCondition, 2, 1)}},
		{"both say dead, for different causes", []Event{
			rec(1, "ana", "12 09:00", 2027, sawFor(Dead, "esca")).late(eve), rec(2, "bo", "12 10:00", 2027, sawFor(Dead, "frost"))}, nil},
		{"in different seasons", []Event{
			rec(1, "ana", "12 09:00", 2026, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing))}, nil},
		{"received in time", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late("12 10:00"), rec(2, "bo", "12 10:00", 2027, saw(Bearing))}, nil},
		{"one device changes its mind", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "ana", "12 10:00", 2027, saw(Bearing)).late(eve)}, nil},
		{"replanted in different seasons", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Replanted)).late(eve), rec(2, "bo", "12 10:00", 2027, Sighting{Condition: Replanted, Planted: 2025})},
			[]Clash{clash(FieldCondition, 2, 1)}},
		{"three phones, two against the last", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Missing)).late(eve), rec(3, "cy", "12 11:00", 2027, saw(Bearing))},
			[]Clash{clash(FieldCondition, 3, 1), clash(FieldCondition, 3, 2)}},
		{"the disputing device has changed its mind", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "ana", "12 09:30", 2027, saw(Bearing)).late(eve), rec(3, "bo", "12 10:00", 2027, saw(Bearing))}, nil},
		{"settled by who knew both", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing)), rec(3, "cy", "13 10:00", 2027, saw(Bearing))}, nil},
		{"not settled by who knew one of them and says something else", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing)), rec(3, "bo", "12 11:00", 2027, saw(Weak))},
			[]Clash{clash(FieldCondition, 3, 1)}},
		{"one of the two was taken back", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing)), rec(3, "ana", "13 08:00", 2027, Void{Event: id(1)})}, nil},
		{"the last word was taken back", []Event{
			rec(1, "ana", "12 09:00", 2027, saw(Dead)).late(eve), rec(2, "bo", "12 10:00", 2027, saw(Bearing)).late(eve),
			rec(3, "cy", "12 11:00", 2027, saw(Weak)).late(eve), rec(4, "cy", "12 11:05", 2027, Void{Event: id(3)})},
			[]Clash{clash(FieldCondition, 2, 1)}},
		{"weights", []Event{
			rec(1, "ana", "12 09:00", 2027, weighed(300)).late(eve), rec(2, "bo", "12 10:00", 2027, weighed(310))},
			[]Clash{clash("measure:pruning_weight", 2, 1)}},
		{"the same score on two scales", []Event{
			rec(1, "ana", "12 09:00", 2027, scored(3, "1-5")).late(eve), rec(2, "bo", "12 10:00", 2027, scored(3, "0-10"))},
			[]Clash{clash("measure:visual_score", 2, 1)}},
		{"files among themselves", []Event{
			rec(1, "import:a", "12 09:00", 2027, weighed(300)).late(eve), rec(2, "import:b", "12 10:00", 2027, weighed(310)).late(eve)}, nil},
		{"a file against a phone", []Event{
			rec(1, "import:a", "12 09:00", 2027, weighed(300)).late(eve), rec(2, "bo", "12 10:00", 2027, weighed(310))},
			[]Clash{clash("measure:pruning_weight", 2, 1)}},
		{"only the last of two files against a phone", []Event{
			rec(1, "import:a", "12 08:00", 2027, weighed(300)).late(eve), rec(2, "import:b", "12 09:00", 2027, weighed(310)).late(eve), rec(3, "bo", "12 10:00", 2027, weighed(310))}, nil},
		{"nodes left", []Event{
			rec(1, "ana", "12 09:00", 2027, left(10)).late(eve), rec(2, "bo", "12 10:00", 2027, left(12))},
			[]Clash{clash(FieldPruned, 2, 1)}},
		{"as instructed against twelve nodes", []Event{
			rec(1, "ana", "12 09:00", 2027, Pruned{}).late(eve), rec(2, "bo", "12 10:00", 2027, left(12))}, nil},
		{"arms that add up to the other's nodes", []Event{
			rec(1, "ana", "12 09:00", 2027, arms(12)).late(eve), rec(2, "bo", "12 10:00", 2027, left(12))}, nil},
		{"arms against arms", []Event{
			rec(1, "ana", "12 09:00", 2027, arms(12)).late(eve), rec(2, "bo", "12 10:00", 2027, arms(8))},
			[]Clash{clash(FieldPruned, 2, 1)}},
		{"started, then done", []Event{
			rec(1, "ana", "12 09:00", 2027, did(Pruning, Started)).late(eve), rec(2, "bo", "12 10:00", 2027, did(Pruning, Done))}, nil},
		{"done, then started by one who did not know", []Event{
			rec(1, "ana", "12 09:00", 2027, did(Pruning, Done)).late(eve), rec(2, "bo", "12 10:00", 2027, did(Pruning, Started))},
			[]Clash{clash("work:pruning", 2, 1)}},
		{"skipped against pruned", []Event{
			rec(1, "ana", "12 09:00", 2027, did(Pruning, Skipped)).late(eve), rec(2, "bo", "12 10:00", 2027, left(12))},
			[]Clash{clash("work:pruning", 2, 1)}},
		{"two notes", []Event{
			rec(1, "ana", "12 09:00", 2027, Note{"a"}).late(eve), rec(2, "bo", "12 10:00", 2027, Note{"b"})}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, Fold(vine41, c.events).In(2027, vine41).Clashes)
		})
	}
}

// A record without a time of receipt disputes nothing: nobody can tell who could
// know of it.
func TestFold_NotReceived(t *testing.T) {
	a, b := rec(1, "ana", "12 09:00", 2027, saw(Dead)), rec(2, "bo", "12 10:00", 2027, saw(Bearing))
	a.Received, b.Received = time.Time{}, time.Time{}
	require.Empty(t, Fold(vine41, []Event{a, b}).States[0].Clashes)
}

// The copy of an event that a device kept carries no times of receipt; the
// store's copy counts, in whichever order they come.
func TestFold_CopyWithoutReceipt(t *testing.T) {
	full := rec(1, "ana", "12 09:00", 2027, saw(Dead)).late("12 18:00")
	bare := full
	bare.Received, bare.When = time.Time{}, time.Time{}
	other := rec(2, "bo", "12 10:00", 2027, saw(Bearing))
	want := Fold(vine41, []Event{full, other})
	require.Len(t, want.States[0].Clashes, 1)
	require.Equal(t, want, Fold(vine41, []Event{bare, full, other}))
	require.Equal(t, want, Fold(vine41, []Event{other, full, bare}))
}

// A measure whose values do not match its vines is refused by Check; should it
// come all the same it must not stop the fold.
func TestFold_TooFewValues(t *testing.T) {
	e := rec(1, "ana", "12 09:00", 2027, Measure{Quantity: PruningWeight, Unit: "g", Values: []float64{100}})
	e.Target.Vines = []ID{40, 41}
	require.Error(t, e.Check())
	require.Empty(t, Fold(vine41, []Event{e}).States[0].Measures)
}

func TestFold_SharesNothingWithTheClock(t *testing.T) {
	zone := time.FixedZone("", 3600)
	e := rec(1, "ana", "12 09:00", 2027, saw(Dead))
	e.When = e.When.In(zone)
	require.Equal(t, january("12 09:00"), Fold(vine41, []Event{e}).States[0].SeenAt)
}

func TestStanding(t *testing.T) {
	for _, c := range []struct {
		seen Condition
		leaf int
		want Condition
	}{
		{Replanted, 0, Replanted}, {Replanted, 1, Replanted}, {Replanted, 3, Replanted}, {Replanted, 4, Bearing}, {Replanted, 20, Bearing},
		{Unseen, 20, Unseen}, {Young, 2, Young}, {Young, 20, Young}, {Weak, 9, Weak}, {Missing, 9, Missing}, {Dead, 9, Dead}, {Doubtful, 9, Doubtful},
	} {
		require.Equal(t, c.want, Standing(c.seen, c.leaf), "%s in leaf %d", c.seen, c.leaf)
	}
}

// A record made under a wrong clock and taken back does not hold up what its
// device wrote afterwards.
func TestFold_WrongClockTakenBack(t *testing.T) {
	wrong := rec(1, "ana", "30 09:00", 2027, saw(Dead))
	events := []Event{wrong, rec(2, "ana", "12 09:00", 2027, saw(Weak)), rec(3, "bo", "12 10:00", 2027, saw(Bearing))}
	require.Equal(t, Weak, Fold(vine41, events).States[0].Condition, "ana's second record was made after the 30th")
	events = append(events, rec(4, "ana", "12 11:00", 2027, Void{Event: wrong.ID}))
	require.Equal(t, Bearing, Fold(vine41, events).States[0].Condition)
}
