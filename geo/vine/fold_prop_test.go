package vine

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"
)

// The vines of the tests stand in one block of two rows of four.
const (
	testBlock = ID(1)
	vinesEach = 4
)

func testPlaces() []Place {
	var out []Place
	for row := ID(10); row <= 11; row++ {
		for n := ID(1); n <= vinesEach; n++ {
			out = append(out, Place{ID: row*10 + n, Row: row, Block: testBlock, Planted: 2015})
		}
	}
	return append(out, Place{ID: 999, Row: 99, Block: 2}, movedPlace())
}

// movedPlace is a vine that stood in row 10 of block 1 until 4 h, in row 11 until 8 h
// of the tests' day, and now stands in block 2.
func movedPlace() Place {
	return Place{ID: 5, Row: 99, Block: 2, Was: []Stay{{Row: 10, Block: testBlock, Until: hour(4)}, {Row: 11, Block: testBlock, Until: hour(8)}}}
}

func hour(h int) time.Time { return time.Date(2027, 1, 1, h, 0, 0, 0, time.UTC) }

func anyTarget(t *rapid.T) Target {
	target := Target{Block: rapid.SampledFrom([]ID{testBlock, testBlock, testBlock, 2}).Draw(t, "block")}
	switch rapid.IntRange(0, 3).Draw(t, "target") {
	case 0: // the whole block
	case 1:
		target.Row = rapid.SampledFrom([]ID{10, 11, 99}).Draw(t, "row")
	default:
		vines := rapid.SliceOfN(rapid.SampledFrom([]ID{101, 102, 103, 111, 114, 999, 5}), 1, 4)
		target.Vines = vines.Draw(t, "vines")
	}
	return target
}

func anyBody(t *rapid.T, n int, ids []uuid.UUID) Body {
	number := rapid.IntRange(0, 3)
	switch rapid.IntRange(0, 5).Draw(t, "kind") {
	case 0:
		s := Sighting{Condition: Condition(rapid.IntRange(1, 8).Draw(t, "condition"))}
		s.Cause = rapid.SampledFrom([]string{"", "frost", "esca"}).Draw(t, "cause")
		if s.Condition == Replanted {
			s.Planted = rapid.SampledFrom([]int{0, 2024, 2026, 2027}).Draw(t, "planted")
		}
		return s
	case 1:
		m := Measure{Quantity: rapid.SampledFrom([]Quantity{PruningWeight, VisualScore}).Draw(t, "quantity")}
		m.Unit = m.Quantity.Unit()
		if n > 0 && rapid.Bool().Draw(t, "each") {
			for range n {
				m.Values = append(m.Values, float64(number.Draw(t, "value")))
			}
			return m
		}
		v := float64(number.Draw(t, "value"))
		m.Value = &v
		return m
	case 2:
		p := Pruned{}
		if rapid.Bool().Draw(t, "said") {
			v := number.Draw(t, "nodes")
			p.Nodes = &v
		}
		return p
	case 3:
		return Work{Operation: rapid.SampledFrom([]string{Pruning, "tying"}).Draw(t, "operation"), Progress: Progress(rapid.IntRange(0, 4).Draw(t, "progress"))}
	case 4:
		return Note{Text: "seen"}
	}
	return Void{Event: rapid.SampledFrom(ids).Draw(t, "voided")}
}

// anyEvents draws events of a few devices with clocks that run as they like.
func anyEvents(t *rapid.T) []Event {
	n := rapid.IntRange(0, 14).Draw(t, "events")
	ids := make([]uuid.UUID, n)
	for i := range ids {
		ids[i] = uuid.UUID{15: byte(rapid.IntRange(1, 250).Draw(t, "id")), 14: byte(i)}
	}
	moment := rapid.Map(rapid.IntRange(1, 12), func(h int) time.Time { return time.Date(2027, 1, 1, h, 0, 0, 0, time.UTC) })
	out := make([]Event, n)
	for i := range out {
		e := Event{ID: ids[i], Device: rapid.SampledFrom([]string{"a", "b", "c", "import:x", "import:y"}).Draw(t, "device"),
			Seq: uint64(rapid.IntRange(1, 5).Draw(t, "seq")), At: moment.Draw(t, "at"),
			Season: rapid.IntRange(2025, 2027).Draw(t, "season"), Target: anyTarget(t)}
		if rapid.Bool().Draw(t, "corrected") {
			e.When = moment.Draw(t, "when")
		}
		if rapid.Bool().Draw(t, "received") {
			e.Received = moment.Draw(t, "receipt")
		}
		e.Body = anyBody(t, len(e.Target.Vines), ids)
		e.Kind = e.Body.Kind()
		out[i] = e
	}
	return out
}

// same tells whether two lives are equal and shows the difference if not.
func same(t *rapid.T, what string, got, want Life) {
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("%s:\n got %+v\nwant %+v", what, got, want)
	}
}

func TestFoldMany_SameAsFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		places := append(testPlaces(), testPlaces()[0])
		next := 0
		FoldMany(places, events, func(i int, got Life) {
			if i != next {
				t.Fatalf("place %d came when %d was due", i, next)
			}
			next++
			same(t, fmt.Sprintf("vine %d", places[i].ID), got, Fold(places[i], events))
		})
		if next != len(places) {
			t.Fatalf("%d of %d places came", next, len(places))
		}
	})
}

func TestFold_AnyOrderAnyCopies(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		many := slices.Concat(events, events[:rapid.IntRange(0, len(events)).Draw(t, "again")])
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 1))
		r.Shuffle(len(many), func(i, j int) { many[i], many[j] = many[j], many[i] })
		for _, p := range testPlaces() {
			same(t, fmt.Sprintf("vine %d", p.ID), Fold(p, many), Fold(p, events))
		}
	})
}

// What is taken back leaves no trace: the vine stands in every season as if
// neither the event nor its void had been recorded.
func TestFold_VoidLeavesNoTrace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		wrong := Event{ID: uuid.UUID{1}, Device: rapid.SampledFrom([]string{"a", "b", "import:x"}).Draw(t, "device"), Seq: uint64(rapid.IntRange(1, 5).Draw(t, "seq")),
			At: time.Date(2027, 1, 1, rapid.IntRange(1, 12).Draw(t, "at"), 0, 0, 0, time.UTC), Season: rapid.IntRange(2025, 2027).Draw(t, "season"), Target: anyTarget(t)}
		wrong.Body = anyBody(t, len(wrong.Target.Vines), []uuid.UUID{{2}})
		wrong.Kind = wrong.Body.Kind()
		if wrong.Kind == KindVoid {
			t.Skip("a void cannot be taken back")
		}
		void := Event{ID: uuid.UUID{3}, Device: "v", Seq: 1, At: wrong.At.Add(time.Hour), Season: wrong.Season, Target: wrong.Target, Kind: KindVoid, Body: Void{Event: wrong.ID}}
		for _, p := range testPlaces() {
			with, without := Fold(p, append(slices.Clone(events), wrong, void)), Fold(p, events)
			if !reflect.DeepEqual(with.Plantings, without.Plantings) {
				t.Fatalf("plantings of vine %d: %+v, not %+v", p.ID, with.Plantings, without.Plantings)
			}
			for season := 2024; season <= 2029; season++ {
				if got, want := with.In(season, p), without.In(season, p); !reflect.DeepEqual(got, want) {
					t.Fatalf("vine %d in %d: %+v, not %+v", p.ID, season, got, want)
				}
			}
		}
	})
}

// The events of one device never change places: whatever the clocks say, the
// last by its counter holds.
func TestFold_LastOfOneDeviceHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "events")
		events := make([]Event, n)
		for i := range events {
			hour := rapid.IntRange(0, 23).Draw(t, "hour")
			events[i] = rec(i+1, "ana", fmt.Sprintf("12 %02d:00", hour), 2027, weighed(float64(i)))
			events[i].ID[0] = byte(n - i) // ids fall while the counter rises
		}
		if got := Fold(vine41, events).States[0].Measures[PruningWeight].Value; got != float64(n-1) {
			t.Fatalf("event %g holds, not the last", got+1)
		}
	})
}

// An event about a row is the same as one that names all vines that stood in it then.
func TestFold_RowIsItsVines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		named := slices.Clone(events)
		for i := range named {
			if named[i].Target.Row == 0 || len(named[i].Target.Vines) > 0 {
				continue
			}
			for _, p := range testPlaces() {
				if events[i].Covers(p) {
					named[i].Target.Vines = append(named[i].Target.Vines, p.ID)
				}
			}
		}
		for _, p := range testPlaces() {
			same(t, fmt.Sprintf("vine %d", p.ID), Fold(p, named), Fold(p, events))
		}
	})
}

// However a log comes in, in batches with repeats, the life after the last batch
// is the same.
func TestFold_AnySplitIntoBatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		log := map[uuid.UUID]Event{} // what a store keeps: one copy of each
		var kept []Event
		for _, cut := range rapid.SliceOf(rapid.IntRange(0, max(0, len(events)-1))).Draw(t, "batches") {
			if cut < len(events) {
				kept = store(log, kept, events[cut:])
			}
		}
		kept = store(log, kept, events)
		for _, p := range testPlaces() {
			same(t, fmt.Sprintf("vine %d", p.ID), Fold(p, kept), Fold(p, events))
		}
	})
}

func store(log map[uuid.UUID]Event, kept, batch []Event) []Event {
	for _, e := range batch {
		if _, known := log[e.ID]; !known {
			log[e.ID] = e
			kept = append(kept, e)
		}
	}
	return kept
}
