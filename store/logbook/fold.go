package logbook

import (
	"slices"

	"courson/geo/vine"
)

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

// Join adds what another set of events touches.
func (t Touched) Join(o Touched) Touched {
	return Touched{
		All:   t.All || o.All,
		Rows:  distinct(append(slices.Clone(t.Rows), o.Rows...)),
		Vines: distinct(append(slices.Clone(t.Vines), o.Vines...)),
	}
}

// Log is events of one block, laid out so that each vine's own are found at
// once: an event about a thousand vines costs each of them one step, not a
// thousand.
type Log struct {
	whole []vine.Event             // about the whole block
	rows  map[vine.ID][]vine.Event // row → events about the whole row
	vines map[vine.ID][]vine.Event // vine → events about it, narrowed to it
}

// NewLog lays out events. Where only is not nil, events about single vines are
// kept only for the vines that it holds.
func NewLog(events []vine.Event, only map[vine.ID]bool) *Log {
	l := &Log{rows: map[vine.ID][]vine.Event{}, vines: map[vine.ID][]vine.Event{}}
	for _, e := range events {
		switch {
		case len(e.Target.Vines) > 0:
			for i, id := range e.Target.Vines {
				if only == nil || only[id] {
					l.vines[id] = append(l.vines[id], narrow(e, i))
				}
			}
		case e.Target.Row != 0:
			l.rows[e.Target.Row] = append(l.rows[e.Target.Row], e)
		default:
			l.whole = append(l.whole, e)
		}
	}
	return l
}

// narrow gives an event about several vines as it concerns the i-th of them.
func narrow(e vine.Event, i int) vine.Event {
	if len(e.Target.Vines) == 1 {
		return e
	}
	e.Target.Vines = e.Target.Vines[i : i+1 : i+1]
	if m, ok := e.Body.(vine.Measure); ok && m.Value == nil {
		v := m.For(i)
		m.Value, m.Values = &v, nil
		e.Body = m
	}
	return e
}

// States folds the events about one vine: one state for every season in which
// anything is recorded about it, rising. The result is nil where nothing is.
// An event that was taken back still counts as recorded: its season keeps a
// state, so that whoever follows the changes learns that it is void.
func (l *Log) States(p vine.Place) []vine.State {
	own, row := l.vines[p.ID], l.rows[p.Row]
	if len(own)+len(row)+len(l.whole) == 0 {
		return nil
	}
	events := own
	if len(row)+len(l.whole) > 0 {
		events = slices.Concat(l.whole, row, own)
	}
	life := vine.Fold(p, events)
	seasons := make([]int, 0, 4)
	for _, e := range events {
		if !slices.Contains(seasons, e.Season) {
			seasons = append(seasons, e.Season)
		}
	}
	for _, s := range life.States {
		if !slices.Contains(seasons, s.Season) {
			seasons = append(seasons, s.Season)
		}
	}
	slices.Sort(seasons)
	states := make([]vine.State, len(seasons))
	for i, season := range seasons {
		states[i] = life.In(season, p)
	}
	return states
}
