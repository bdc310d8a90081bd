package gpkg

import (
	"errors"
	"slices"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// fewVines is how many listed vines an event is kept under one by one; beyond
// it is kept under their rows.
const fewVines = 4

func (t *tx) appendEvents(c *conn, events []vine.Event) ([]store.Answer, error) {
	for _, e := range events {
		if e.Received.IsZero() {
			return nil, errors.New("an event without its time of receipt: the caller sets it")
		}
	}
	found, err := lookUp(c, logbook.Wants(events))
	if err != nil {
		return nil, err
	}
	accepted, answers := logbook.Screen(events, found)
	for _, a := range accepted {
		if err := t.take(c, a, found); err != nil {
			return nil, err
		}
	}
	return answers, nil
}

// take writes one event, notes under what it can be found, and marks the vines
// that it is about for folding.
func (t *tx) take(c *conn, a logbook.Accepted, found logbook.Found) error {
	cursor, err := insertEvent(c, a)
	if err != nil {
		return err
	}
	b, err := t.touch(c, a.Target.Block)
	if err != nil {
		return err
	}
	if !b.seasons[a.Season] {
		b.seasons[a.Season] = true
		if err := c.exec("INSERT OR IGNORE INTO season VALUES (?)", a.Season); err != nil {
			return err
		}
	}
	for _, about := range aboutOf(a.Target, found.Vines) {
		if err := c.exec("INSERT INTO event_about VALUES (?, ?)", about, cursor); err != nil {
			return err
		}
	}
	if found.Moved {
		return t.markMoved(c, a, found)
	}
	t.dirtyIn(a.Target.Block).mark(a.Target, found.Vines)
	return nil
}

// markMoved marks for folding what an event is about, in whichever block it stands.
func (t *tx) markMoved(c *conn, a logbook.Accepted, found logbook.Found) error {
	for block, touched := range logbook.Touch([]logbook.Accepted{a}, found) {
		b, err := t.touch(c, block)
		if err != nil {
			return err
		}
		b.seasons[a.Season] = true
		d := t.dirtyIn(block)
		d.all = d.all || touched.All
		for _, row := range touched.Rows {
			d.rows[row] = true
		}
		for _, v := range touched.Vines {
			d.vines[v] = found.Vines[v].Row
		}
	}
	return nil
}

// dirty is which vines of one block must be folded anew.
type dirty struct {
	all   bool
	rows  map[vine.ID]bool
	vines map[vine.ID]vine.ID // vine → row
}

func (t *tx) dirtyIn(block vine.ID) *dirty {
	d := t.dirty[block]
	if d == nil {
		d = &dirty{rows: make(map[vine.ID]bool), vines: make(map[vine.ID]vine.ID)}
		t.dirty[block] = d
	}
	return d
}

// mark notes what a target covers.
func (d *dirty) mark(target vine.Target, places map[vine.ID]vine.Place) {
	switch {
	case len(target.Vines) == 0 && target.Row == 0:
		d.all = true
	case len(target.Vines) == 0:
		d.rows[target.Row] = true
	case len(target.Vines) <= fewVines:
		for _, v := range target.Vines {
			d.vines[v] = places[v].Row
		}
	default:
		for _, v := range target.Vines {
			d.rows[places[v].Row] = true
		}
	}
}

// aboutOf gives the ids under which an event with the target is found.
func aboutOf(target vine.Target, places map[vine.ID]vine.Place) []vine.ID {
	switch {
	case len(target.Vines) == 0 && target.Row == 0:
		return []vine.ID{target.Block}
	case len(target.Vines) == 0:
		return []vine.ID{target.Row}
	case len(target.Vines) <= fewVines:
		return target.Vines
	}
	var rows []vine.ID
	for _, v := range target.Vines {
		// Vines come row by row, so looking at the last is mostly enough.
		if row := places[v].Row; len(rows) == 0 || rows[len(rows)-1] != row {
			rows = append(rows, row)
		}
	}
	slices.Sort(rows)
	return slices.Compact(rows)
}

// lookUp finds what a batch of events must be judged by.
func lookUp(c *conn, n logbook.Needs) (f logbook.Found, err error) {
	f.Events = make(map[uuid.UUID]vine.Kind)
	for _, id := range n.Events {
		_, err := c.one("SELECT kind FROM event WHERE uuid = ?", func(s *sqlite3.Stmt) error {
			f.Events[id] = vine.Kind(s.ColumnText(0))
			return nil
		}, id[:])
		if err != nil {
			return f, err
		}
	}
	f.Blocks = make(map[vine.ID]bool, len(n.Blocks))
	for _, id := range n.Blocks {
		there, err := c.number("SELECT count(*) FROM block WHERE id = ?", id)
		if err != nil {
			return f, err
		}
		f.Blocks[id] = there > 0
	}
	f.Rows = make(map[vine.ID]vine.ID, len(n.Rows))
	for _, id := range n.Rows {
		block, err := c.number("SELECT block_id FROM vine_row WHERE id = ?", id)
		if err != nil {
			return f, err
		}
		if block != 0 {
			f.Rows[id] = block
		}
	}
	if f.Vines, err = placesOf(c, n.Vines); err != nil {
		return f, err
	}
	return f, lookUpMoved(c, n, &f)
}

const selectPlaces = "SELECT id, row_id, block_id, planted FROM vine "

// scanPlace reads a place as it is kept: planted 0 means as the block.
func scanPlace(s *sqlite3.Stmt) vine.Place {
	return vine.Place{ID: s.ColumnInt64(0), Row: s.ColumnInt64(1), Block: s.ColumnInt64(2), Planted: s.ColumnInt(3)}
}

// placesOf gives where vines stand. Ids that lie close together are read in one
// sweep.
func placesOf(c *conn, ids []vine.ID) (map[vine.ID]vine.Place, error) {
	out := make(map[vine.ID]vine.Place, len(ids))
	take := func(s *sqlite3.Stmt) error {
		p := scanPlace(s)
		out[p.ID] = p
		return nil
	}
	err := sweep(ids, func(from, to vine.ID) error {
		return c.each(selectPlaces+"WHERE id BETWEEN ? AND ?", take, from, to)
	})
	return out, err
}

// sweep calls do for ranges that together hold all ids, and not many others.
func sweep(ids []vine.ID, do func(from, to vine.ID) error) error {
	const gap = 4 // ids skipped rather than asked for anew
	for i := 0; i < len(ids); {
		j := i + 1
		for j < len(ids) && ids[j] >= ids[j-1] && ids[j]-ids[j-1] <= gap {
			j++
		}
		if err := do(ids[i], ids[j-1]); err != nil {
			return err
		}
		i = j
	}
	return nil
}
