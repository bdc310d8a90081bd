package gpkg_test

import (
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
)

func (f small) event(n int, body vine.Body, vines ...vine.ID) vine.Event {
	at := time.Date(2027, 1, 12, 9, 0, n, 123_456_000, time.UTC)
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: uint64(n), At: at, Received: at, By: "Ada", Season: 2027,
		Target: vine.Target{Block: f.block, Vines: vines}, Kind: body.Kind(), Body: body}
}

func (f small) note(n int) vine.Event {
	return f.event(n, vine.Note{Text: "x"}, f.vines[n%len(f.vines)].ID)
}

// everything fills every column of a vine's state.
func (f small) everything() []vine.Event {
	id := f.vines[2].ID
	twelve, one, value := 12, 1, 3.5
	day := time.Date(2027, 6, 1, 0, 0, 0, 0, time.UTC)
	out := []vine.Event{
		f.event(1, vine.Sighting{Condition: vine.Doubtful, Cause: "frost", LookAgain: &day}, id),
		f.event(2, vine.Pruned{Nodes: &twelve, Canes: &one, Spurs: &one, Reason: "split"}, id),
		f.event(3, vine.Note{Text: "x"}, id),
		f.event(4, vine.Work{Operation: "tying", Progress: vine.Done}),
	}
	for i, q := range []vine.Quantity{vine.PruningWeight, vine.CaneCount, vine.VisualScore, vine.Yield, vine.ShootLength} {
		out = append(out, f.event(5+i, vine.Measure{Quantity: q, Unit: q.Unit(), Scale: map[bool]string{true: "1-5"}[q == vine.VisualScore], Value: &value}, id))
	}
	return out
}
