package vine_test

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
)

// A vine was seen missing in one winter and planted anew in the next.
func ExampleFold() {
	place := vine.Place{ID: 41, Row: 12, Block: 3, Planted: 2010}
	event := func(n byte, season int, body vine.Body) vine.Event {
		at := time.Date(season, time.January, 12, 9, 0, 0, 0, time.UTC)
		return vine.Event{ID: uuid.UUID{15: n}, Device: "ana", Seq: uint64(n), At: at, When: at, Received: at, Season: season,
			Target: vine.Target{Block: 3, Row: 12, Vines: []vine.ID{41}}, Kind: body.Kind(), Body: body}
	}
	life := vine.Fold(place, []vine.Event{
		event(2, 2027, vine.Sighting{Condition: vine.Replanted, Rootstock: "SO4"}),
		event(1, 2026, vine.Sighting{Condition: vine.Missing, Cause: "esca"}),
	})
	for season := 2025; season <= 2028; season++ {
		s := life.In(season, place)
		fmt.Println(season, s.Condition, "leaf", vine.Leaf(s.Planted, season))
	}
	for _, p := range life.Plantings {
		fmt.Printf("from %d to %d %s\n", p.From, p.To, p.Why)
	}
	// Output:
	// 2025 unseen leaf 16
	// 2026 missing leaf 17
	// 2027 replanted leaf 1
	// 2028 replanted leaf 2
	// from 2010 to 2025 esca
	// from 2027 to 0
}

func ExampleCalendar_Season() {
	north, south := vine.Hemisphere(false, nil), vine.Hemisphere(true, nil)
	fmt.Println(north.Season(time.Date(2026, time.December, 5, 0, 0, 0, 0, time.UTC)))
	fmt.Println(south.Season(time.Date(2027, time.July, 10, 0, 0, 0, 0, time.UTC)))
	// Output:
	// 2027
	// 2028
}
