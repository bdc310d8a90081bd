package logbook

import "courson/geo/vine"

// Touched says which vines of one block a set of events is about.
type Touched struct {
	All   bool      // a whole-block event is among them
	Rows  []vine.ID // rows of which all vines are meant, rising
	Vines []vine.ID // single vines, rising
}

// Touch sorts out, block by block, which vines must be folded anew after the
// events.
func Touch(events []Accepted) map[vine.ID]Touched {
	out := make(map[vine.ID]Touched)
	for _, e := range events {
		t := out[e.Target.Block]
		switch {
		case len(e.Target.Vines) > 0:
			t.Vines = append(t.Vines, e.Target.Vines...)
		case e.Target.Row != 0:
			t.Rows = append(t.Rows, e.Target.Row)
		default:
			t.All = true
		}
		out[e.Target.Block] = t
	}
	for id, t := range out {
		t.Rows, t.Vines = distinct(t.Rows), distinct(t.Vines)
		out[id] = t
	}
	return out
}
