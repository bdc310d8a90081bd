package postgis

import (
	"context"
	"slices"

	"courson/geo/vine"
	"courson/store/logbook"
)

// freshLog is the whole log of a block that the transaction made itself, so
// that its states can be folded without asking for what was written a moment
// ago.
type freshLog struct {
	whole []vine.Event             // about the block
	about map[vine.ID][]vine.Event // by row or vine, as in event_about
}

// freshLogs are those of a transaction, as long as they take little room.
type freshLogs struct {
	of     map[vine.ID]*freshLog
	events int
	full   bool
}

// mostKept is how many events are kept in memory, some 300 bytes each.
const mostKept = 100_000

func (l *freshLogs) drop(block vine.ID) { delete(l.of, block) }

// keepFresh notes events of blocks that the transaction made.
func (t *tx) keepFresh(events []logbook.Accepted, places map[vine.ID]vine.Place) {
	l := &t.logs
	if l.events += len(events); l.events > mostKept {
		l.of, l.full = nil, true
	}
	for i := range events {
		e := &events[i].Event
		block := e.Target.Block
		if l.full || !t.isNew(block) {
			continue
		}
		if l.of == nil {
			l.of = map[vine.ID]*freshLog{}
		}
		if l.of[block] == nil {
			l.of[block] = &freshLog{about: map[vine.ID][]vine.Event{}}
		}
		l.of[block].add(e, places)
	}
}

func (l *freshLog) add(e *vine.Event, places map[vine.ID]vine.Place) {
	for _, id := range aboutOf(e.Target, places) {
		if id == e.Target.Block {
			l.whole = append(l.whole, *e)
		} else {
			l.about[id] = append(l.about[id], *e)
		}
	}
}

// foldsFresh tells whether all states of a block come out of its fold: the
// transaction made it and has not folded it before, and knows where its vines
// stand.
func (t *tx) foldsFresh(block vine.ID) bool {
	return t.isNew(block) && !t.touched[block].folded && t.logs.of[block] != nil && t.made.sure(block)
}

// foldFresh folds a block with nothing but what is in memory: one goroutine
// folds, the connection takes what comes out of it.
func (t *tx) foldFresh(ctx context.Context, block vine.ID, b *touched) (*folder, error) {
	if err := t.beginStates(ctx, t.made.total()); err != nil {
		return nil, err
	}
	planted := 0
	if err := t.pg.QueryRow(ctx, `SELECT planted FROM block WHERE estate_id = $1 AND block_id = $2`, t.estate, block).Scan(&planted); err != nil {
		return nil, err
	}
	f := &folder{tx: t, block: block, write: true, revision: b.revision}
	log := t.logs.of[block]
	err := copyStream(ctx, t.pg, "vine_state", stateColumns[:], func(out *copyWriter) error {
		return t.made.in(block, foldChunk, func(places []vine.Place) error {
			for i := range places {
				if places[i].Planted == 0 {
					places[i].Planted = planted
				}
			}
			return f.foldOut(places, log.eventsOf(places), out)
		})
	})
	t.logs.drop(block)
	return f, err
}

// eventsOf gives the events about the places, each once.
func (l *freshLog) eventsOf(places []vine.Place) []vine.Event {
	events := slices.Clone(l.whole)
	seen := make(map[[16]byte]bool)
	take := func(id vine.ID) {
		for _, e := range l.about[id] {
			if len(e.Target.Vines) <= 1 || !seen[e.ID] { // one vine or a row: kept in one place
				seen[e.ID] = true
				events = append(events, e)
			}
		}
	}
	var row vine.ID
	for _, p := range places {
		if p.Row != row {
			row = p.Row
			take(row)
		}
		take(p.ID)
	}
	return events
}

// foldOut folds vines that have no records yet and writes what comes out.
func (f *folder) foldOut(places []vine.Place, events []vine.Event, out *copyWriter) error {
	var err error
	vine.FoldMany(places, events, func(i int, life vine.Life) {
		if err != nil {
			return
		}
		var shift logbook.Shift
		if shift, err = logbook.Compare(places[i], nil, life.States); err != nil || shift.None() {
			return
		}
		f.note(shift)
		for _, r := range shift.Put {
			r.Changed = f.revision
			if err = out.next(func(w *copyRow) { writeState(w, f.estate, &r) }); err != nil {
				return
			}
		}
	})
	return err
}
