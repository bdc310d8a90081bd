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
func Touch(events []Accepted, found Found) map[vine.ID]Touched {
	out := make(map[vine.ID]Touched)
	for _, e := range events {
		if found.Moved {
			touchMoved(out, e.Target, found)
		}
		t := out[e.Target.Block]
		switch {
		case len(e.Target.Vines) > 0 && found.Moved:
			continue
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

// touchMoved adds the vines that the target lists, in whichever block they stand, and
// those that stood in the row or block that it names.
func touchMoved(out map[vine.ID]Touched, target vine.Target, found Found) {
	touch := func(p vine.Place) {
		t := out[p.Block]
		t.Vines = append(t.Vines, p.ID)
		out[p.Block] = t
	}
	for _, id := range target.Vines {
		touch(found.Vines[id])
	}
	if len(target.Vines) > 0 {
		return
	}
	for _, p := range found.Stood {
		for _, s := range p.Was {
			if target.Row != 0 && s.Row == target.Row || target.Row == 0 && s.Block == target.Block {
				touch(p)
				break
			}
		}
	}
}
