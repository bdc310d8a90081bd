package vine

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
)

// rowsOfWinter makes rows of a hundred vines with three records each: the row
// weighed vine by vine, pruned, and one sighting of the whole row.
func rowsOfWinter(rows int) ([]Place, []Event) {
	const each = 100
	places := make([]Place, 0, rows*each)
	events := make([]Event, 0, rows*3)
	day := time.Date(2027, 1, 12, 9, 0, 0, 0, time.UTC)
	for r := range rows {
		row := ID(r + 1)
		ids, weights := make([]ID, each), make([]float64, each)
		for n := range each {
			ids[n] = ID(10_000_000 + r*each + n)
			weights[n] = float64(300 + n)
			places = append(places, Place{ID: ids[n], Row: row, Block: 1, Planted: 2010})
		}
		for i, body := range []Body{
			Sighting{Condition: Bearing},
			Measure{Quantity: PruningWeight, Unit: "g", Values: weights},
			Pruned{},
		} {
			target := Target{Block: 1, Row: row}
			if i == 1 {
				target.Vines = ids
			}
			events = append(events, Event{ID: uuid.UUID{byte(i + 1), 1: byte(r), 2: byte(r >> 8), 3: byte(r >> 16)}, Device: "phone", Seq: uint64(r*3 + i),
				At: day, When: day, Received: day, Season: 2027, Target: target, Kind: body.Kind(), Body: body})
		}
	}
	return places, events
}

// BenchmarkFoldMany folds a million vines with three records each, given row by
// row.
func BenchmarkFoldMany(b *testing.B) {
	places, events := rowsOfWinter(10_000)
	b.ResetTimer()
	for b.Loop() {
		n := 0
		FoldMany(places, events, func(_ int, l Life) { n += len(l.States) })
		if n != len(places) {
			b.Fatalf("%d states for %d vines", n, len(places))
		}
	}
	b.ReportMetric(float64(len(places))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvines/s")
}

// BenchmarkFold folds one vine with the records of 1 to 100 seasons.
func BenchmarkFold(b *testing.B) {
	for _, n := range []int{1, 10, 100} {
		b.Run(fmt.Sprintf("%d events", n), func(b *testing.B) {
			_, all := rowsOfWinter(n)
			for i := range all {
				all[i].Target = Target{Block: 1}
				all[i].Season = 1900 + i
			}
			p := Place{ID: 1, Row: 1, Block: 1}
			for b.Loop() {
				Fold(p, all[:n])
			}
		})
	}
}
