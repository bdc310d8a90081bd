package work

import (
	"cmp"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// loadLog reads what is recorded of the block up to this season.
func (w *blockWork) loadLog() error {
	if w.season == 0 {
		return nil
	}
	q := store.EventQuery{Block: w.b.ID}
	if len(w.exported) == 0 {
		q.Season = w.season
	}
	events, err := w.tx.Events(w.ctx, q)
	if err != nil {
		return err
	}
	w.log = map[vine.ID][]vine.Event{}
	for _, e := range events {
		if e.Season <= w.season {
			w.log[e.Target.Row] = append(w.log[e.Target.Row], e.Event)
		}
	}
	return nil
}

// baseline is what a line's cells are compared with: cells that say the same
// bring nothing new.
type baseline struct {
	state  vine.State
	plant  vine.Planting // the present or last one
	notes  []string
	events []vine.Event // about the vine, in order
}

// lastImported is what was imported last for the vines of a row in the season.
// What crews recorded does not count: an old file says nothing of it.
func (w *blockWork) lastImported(rw *rowWork) []baseline {
	return w.foldRow(rw, func(e *vine.Event) bool {
		return e.Season == w.season && strings.HasPrefix(e.Device, importDevice)
	})
}

// asExported is what held for the vines of a row when the file was written out
// by us: only cells that were edited since then say anything new.
func (w *blockWork) asExported(rw *rowWork, at time.Time) []baseline {
	return w.foldRow(rw, func(e *vine.Event) bool { return !e.Received.After(at) })
}

// foldRow folds the records of a row that pass; nil where there are none.
func (w *blockWork) foldRow(rw *rowWork, pass func(*vine.Event) bool) []baseline {
	var events []vine.Event
	for _, row := range []vine.ID{rw.r.ID, 0} { // 0: about the block, or vines of several rows
		for _, e := range w.log[row] {
			if pass(&e) {
				events = append(events, e)
			}
		}
	}
	if len(events) == 0 {
		return nil
	}
	out := make([]baseline, len(rw.vines))
	places := make([]vine.Place, len(rw.vines))
	at := make(map[vine.ID]int, len(rw.vines))
	for k, v := range rw.vines {
		places[k] = vine.Place{ID: v.ID, Row: v.Row, Block: v.Block, Planted: plantedSeason(v, w.b.Block)}
		at[v.ID] = k
	}
	vine.FoldMany(places, events, func(k int, life vine.Life) {
		out[k].state, out[k].plant = life.In(w.season, places[k]), life.Plantings[len(life.Plantings)-1]
	})
	for _, e := range events {
		if len(e.Target.Vines) == 0 {
			for k := range out {
				out[k].take(e, w.season)
			}
		}
		for _, id := range e.Target.Vines {
			if k, ok := at[id]; ok {
				out[k].take(e, w.season)
			}
		}
	}
	return out
}

func (b *baseline) take(e vine.Event, season int) {
	if e.Season != season {
		return
	}
	b.events = append(b.events, e)
	if n, ok := e.Body.(vine.Note); ok {
		b.notes = append(b.notes, n.Text)
	}
}

// newest gives the last of the events about something that was not taken back,
// nil for none.
func (b *baseline) newest(about func(vine.Event) bool) *vine.Event {
	voided := map[uuid.UUID]bool{}
	for _, e := range b.events {
		if v, ok := e.Body.(vine.Void); ok {
			voided[v.Event] = true
		}
	}
	var newest *vine.Event
	for j := range b.events {
		e := &b.events[j]
		if about(*e) && !voided[e.ID] && (newest == nil || cmp.Or(e.When.Compare(newest.When), cmp.Compare(e.Seq, newest.Seq)) >= 0) {
			newest = e
		}
	}
	return newest
}
