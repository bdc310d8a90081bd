package gpkg

import (
	"maps"
	"slices"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// fold works out anew the states of all vines that the transaction has touched,
// and writes what changed.
func (t *tx) fold(c *conn) error {
	for _, block := range slices.Sorted(maps.Keys(t.dirty)) {
		if err := t.foldBlock(c, block, t.dirty[block]); err != nil {
			return err
		}
		delete(t.dirty, block)
	}
	return nil
}

func (t *tx) foldBlock(c *conn, block vine.ID, d *dirty) error {
	b, err := t.touch(c, block)
	if err != nil {
		return err
	}
	w := stateWriter{c: c, revision: b.revision, touched: b}
	laid, err := t.folding(c, block)
	if err != nil {
		return err
	}
	put := w.put
	if laid != nil {
		put = func(p vine.Place, s logbook.Shift) error {
			laid.put(p.ID, s, b.revision)
			return w.put(p, s)
		}
	}
	l, err := openLog(c, block)
	if err != nil {
		return err
	}
	err = l.rows(d, func(places []vine.Place) error { return l.shifts(places, put) })
	if err != nil {
		return err
	}
	return w.flush()
}

// blockLog reads the log of one block row by row.
type blockLog struct {
	c       *conn
	block   vine.ID
	planted int                  // of the block
	moved   bool                 // vines were moved at some time, here or elsewhere
	whole   []vine.Event         // about the whole block
	wide    map[int64]vine.Event // about several rows, by cursor: read once
}

func openLog(c *conn, block vine.ID) (*blockLog, error) {
	l := &blockLog{c: c, block: block, wide: make(map[int64]vine.Event)}
	planted, err := c.number("SELECT planted FROM block WHERE id = ?", block)
	if err == nil {
		l.planted = int(planted)
		l.whole, err = l.about(nil, block, block)
	}
	if err == nil {
		l.moved, err = anyMoved(c)
	}
	return l, err
}

// rows calls do with the vines to fold, row by row. A nil d means all.
func (l *blockLog) rows(d *dirty, do func([]vine.Place) error) error {
	if d == nil || d.all {
		d = &dirty{rows: make(map[vine.ID]bool)}
		ids, err := l.c.ids("SELECT id FROM vine_row WHERE block_id = ?", l.block)
		if err != nil {
			return err
		}
		for _, id := range ids {
			d.rows[id] = true
		}
	}
	byRow := make(map[vine.ID][]vine.ID)
	for v, row := range d.vines {
		if !d.rows[row] {
			byRow[row] = append(byRow[row], v)
		}
	}
	for _, row := range slices.Sorted(maps.Keys(d.rows)) {
		places, err := rowPlaces(l.c, row)
		if err == nil {
			err = do(places)
		}
		if err != nil {
			return err
		}
	}
	for _, row := range slices.Sorted(maps.Keys(byRow)) {
		found, err := placesOf(l.c, slices.Sorted(slices.Values(byRow[row])))
		if err != nil {
			return err
		}
		maps.DeleteFunc(found, func(_ vine.ID, p vine.Place) bool { return p.Row != row }) // vines between those asked for
		places := slices.SortedFunc(maps.Values(found), func(a, b vine.Place) int { return int(a.ID - b.ID) })
		if err := do(places); err != nil {
			return err
		}
	}
	return nil
}

func rowPlaces(c *conn, row vine.ID) (out []vine.Place, err error) {
	err = c.each(selectPlaces+"WHERE row_id = ? ORDER BY id",
		func(s *sqlite3.Stmt) error {
			out = append(out, scanPlace(s))
			return nil
		}, row)
	return out, err
}

// about appends the events kept under ids from … to.
func (l *blockLog) about(dst []vine.Event, from, to vine.ID) ([]vine.Event, error) {
	err := l.c.each("SELECT "+eventColumns+` FROM event_about a CROSS JOIN event e ON e.cursor = a.cursor
		WHERE a.about BETWEEN ? AND ?`, func(s *sqlite3.Stmt) error {
		if e, ok := l.wide[s.ColumnInt64(0)]; ok {
			dst = append(dst, e)
			return nil
		}
		e, err := scanEvent(s)
		if err != nil {
			return err
		}
		if len(e.Target.Vines) > fewVines && e.Target.Row == 0 {
			l.wide[e.Cursor] = e.Event
		}
		dst = append(dst, e.Event)
		return nil
	}, from, to)
	return dst, err
}

// aboutBefore adds to places of one row where they stood before, and appends the events
// kept under those rows and blocks.
func (l *blockLog) aboutBefore(dst []vine.Event, places []vine.Place) ([]vine.Event, error) {
	if err := addStays(l.c, places); err != nil {
		return nil, err
	}
	var about []vine.ID
	for _, p := range places {
		about = append(about, wasIn(p)...)
	}
	slices.Sort(about)
	var err error
	for _, id := range slices.Compact(about) {
		if id != l.block && id != places[0].Row && err == nil {
			dst, err = l.about(dst, id, id)
		}
	}
	return dst, err
}

// shifts folds vines of one row and calls do for each with what the cached
// records differ in.
func (l *blockLog) shifts(places []vine.Place, do func(vine.Place, logbook.Shift) error) error {
	if len(places) == 0 {
		return nil
	}
	events, err := l.about(slices.Clip(l.whole), places[0].Row, places[0].Row)
	if err == nil && l.moved {
		events, err = l.aboutBefore(events, places)
	}
	if err != nil {
		return err
	}
	ids := make([]vine.ID, len(places))
	for i := range places {
		ids[i] = places[i].ID
		if places[i].Planted == 0 {
			places[i].Planted = l.planted
		}
	}
	err = sweep(ids, func(from, to vine.ID) (err error) {
		events, err = l.about(events, from, to)
		return err
	})
	if err != nil {
		return err
	}
	before, err := recordsOf(l.c, ids)
	if err != nil {
		return err
	}
	vine.FoldMany(places, events, func(i int, life vine.Life) {
		if err != nil {
			return
		}
		var s logbook.Shift
		if s, err = logbook.Compare(places[i], before[places[i].ID], life.States); err == nil {
			err = do(places[i], s)
		}
	})
	return err
}

// recordsOf gives the cached records of vines, by vine and season.
func recordsOf(c *conn, ids []vine.ID) (map[vine.ID][]logbook.Record, error) {
	out := make(map[vine.ID][]logbook.Record)
	seen := make(words)
	err := sweep(ids, func(from, to vine.ID) error {
		return c.each("SELECT "+recordColumns+", s.id FROM vine_state s WHERE s.id BETWEEN ? AND ? ORDER BY s.id", func(s *sqlite3.Stmt) error {
			r, err := scanRecord(s, seen)
			id := s.ColumnInt64(recordWidth-1) / seasonsPerVine
			out[id] = append(out[id], r)
			return err
		}, recordID(from, firstSeason), recordID(to, firstSeason+seasonsPerVine-1))
	})
	return out, err
}

// stateWriter gathers changed records and writes many at once.
type stateWriter struct {
	c        *conn
	revision int64
	touched  *touched
	records  []logbook.Record
}

func (w *stateWriter) put(p vine.Place, s logbook.Shift) error {
	if s.None() {
		return nil
	}
	w.touched.any = w.touched.any || s.Carried
	for _, season := range s.Seasons {
		w.touched.seasons[season] = true
	}
	for _, season := range s.Drop {
		if err := w.c.exec("DELETE FROM vine_state WHERE id = ?", recordID(p.ID, season)); err != nil {
			return err
		}
	}
	for _, r := range s.Put {
		r.Changed = w.revision
		w.records = append(w.records, r)
		w.touched.written++
	}
	if len(w.records) >= 2000 {
		return w.flush()
	}
	return nil
}

func (w *stateWriter) flush() error {
	err := saveRecords(w.c, w.records)
	w.records = w.records[:0]
	return err
}

var _ store.Tx = (*tx)(nil)
