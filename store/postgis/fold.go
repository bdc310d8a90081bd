package postgis

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store/logbook"
)

// foldChunk is how many vines are folded at a time: it bounds the memory.
const foldChunk = 2_000

// fold folds the vines that events or the ground touched, block by block.
func (t *tx) fold(ctx context.Context) error {
	for _, id := range slices.Sorted(maps.Keys(t.touched)) {
		b := t.touched[id]
		if !b.dirty.any() {
			continue
		}
		if t.foldsFresh(id) {
			b.dirty, b.folded = dirty{}, true
			f, err := t.foldFresh(ctx, id, b)
			if err != nil {
				return fail(fmt.Sprintf("fold block %d", id), err)
			}
			b.note(f)
			continue
		}
		b.folded = true
		t.logs.drop(id)
		places, err := t.dirtyPlaces(ctx, id, b.dirty)
		if err != nil {
			return fail("fold", err)
		}
		b.dirty = dirty{}
		f := folder{tx: t, block: id, write: true, revision: b.revision}
		if err := f.run(ctx, places, nil); err != nil {
			return fail(fmt.Sprintf("fold block %d", id), err)
		}
		b.note(&f)
	}
	return nil
}

// note takes over what a fold changed.
func (b *touched) note(f *folder) {
	b.whole = b.whole || f.carried
	for _, s := range f.seasons {
		b.seasons[s] = true
	}
}

// dirtyPlaces gives the places of the vines that must be folded.
func (t *tx) dirtyPlaces(ctx context.Context, block vine.ID, d dirty) ([]vine.Place, error) {
	var b pgx.Batch
	var out []vine.Place
	queue := func(from string, args ...any) {
		b.Queue(`SELECT v.vine_id, v.row_id, v.block_id, v.planted`+from, args...).Query(func(rows pgx.Rows) error {
			var p vine.Place
			_, err := pgx.ForEachRow(rows, placeInto(&p), func() error {
				out = append(out, p)
				return nil
			})
			return err
		})
	}
	planted := 0
	b.Queue(`SELECT planted FROM block WHERE estate_id = $1 AND block_id = $2`, t.estate, block).
		QueryRow(func(row pgx.Row) error { return row.Scan(&planted) })
	if d.all {
		queue(vinesOfBlockRows, t.estate, block)
	} else {
		if len(d.rows) > 0 {
			queue(vinesOfRows, t.estate, slices.Sorted(maps.Keys(d.rows)))
		}
		var unknown []vine.ID
		out, unknown = t.remembered(d.vines)
		if len(unknown) > 0 {
			queue(vinesIn, t.estate, unknown)
		}
	}
	if err := t.q.SendBatch(ctx, &b).Close(); err != nil {
		return nil, err
	}
	for i := range out {
		out[i].Planted = cmp.Or(out[i].Planted, planted)
	}
	slices.SortFunc(out, func(a, b vine.Place) int { return cmp.Compare(a.ID, b.ID) })
	return slices.CompactFunc(out, func(a, b vine.Place) bool { return a.ID == b.ID }), nil
}

// remembered gives the places of vines that need not be asked for, and the ids of
// the others, rising.
func (t *tx) remembered(vines map[vine.ID]bool) (places []vine.Place, unknown []vine.ID) {
	for id := range vines {
		p, ok := t.places[id]
		if !ok {
			p, ok = t.made.of(id)
		}
		if ok {
			places = append(places, p)
		} else {
			unknown = append(unknown, id)
		}
	}
	slices.Sort(unknown)
	return places, unknown
}

// folder folds vines of one block and compares with, or mends, what is cached.
type folder struct {
	*tx
	block    vine.ID
	write    bool
	revision int64

	whole   []vine.Event // events about the whole block
	wrong   int          // vines whose records differed
	seasons []int
	carried bool
}

// run folds the vines of the places, in chunks. done is told how many are ready.
func (f *folder) run(ctx context.Context, places []vine.Place, done func(int)) error {
	var err error
	if f.whole, err = f.events(ctx, []vine.ID{f.block}); err != nil {
		return err
	}
	for _, p := range f.pending {
		if p.Target.Block == f.block || f.moved {
			f.whole = append(f.whole, p.Event)
		}
	}
	for part := range slices.Chunk(places, foldChunk) {
		if err := f.chunk(ctx, part); err != nil {
			return err
		}
		if done != nil {
			done(len(part))
		}
	}
	return nil
}

// events gives the events kept under the ids.
func (f *folder) events(ctx context.Context, about []vine.ID) ([]vine.Event, error) {
	rows, err := f.q.Query(ctx, eventsAbout, f.estate, about)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanPlain)
}

func scanPlain(row pgx.CollectableRow) (vine.Event, error) {
	e, err := scanEvent(row)
	return e.Event, err
}

func (f *folder) chunk(ctx context.Context, places []vine.Place) error {
	if f.moved {
		if err := f.addStays(ctx, places); err != nil {
			return err
		}
	}
	events, before, err := f.load(ctx, places)
	if err != nil {
		return err
	}
	var put, drop []logbook.Record
	vine.FoldMany(places, events, func(i int, life vine.Life) {
		if err != nil {
			return
		}
		var shift logbook.Shift
		if shift, err = logbook.Compare(places[i], before[places[i].ID], life.States); err != nil || shift.None() {
			return
		}
		f.note(shift)
		for _, s := range shift.Seasons {
			drop = append(drop, logbook.Record{Vine: places[i].ID, Season: s})
		}
		put = append(put, shift.Put...)
	})
	if err != nil || !f.write || len(drop) == 0 {
		return err
	}
	return f.save(ctx, put, drop, len(before) > 0)
}

// note counts a vine whose records differ.
func (f *folder) note(shift logbook.Shift) {
	f.wrong++
	f.carried = f.carried || shift.Carried
	for _, s := range shift.Seasons {
		if !slices.Contains(f.seasons, s) {
			f.seasons = append(f.seasons, s)
		}
	}
}

// eventsAbout gives the events kept under ids, each once.
const eventsAbout = selectEvents + `
	FROM (SELECT DISTINCT n.cursor FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
	    SELECT cursor FROM event_about WHERE estate_id = $1 AND about_id = w.id OFFSET 0) n) c` + eventAt

// load gives the events about the vines, and others about their rows, and the
// records held of them.
func (f *folder) load(ctx context.Context, places []vine.Place) ([]vine.Event, map[vine.ID][]logbook.Record, error) {
	ids := make([]vine.ID, len(places))
	about := make([]vine.ID, 0, 2*len(places))
	for i, p := range places {
		ids[i] = p.ID
		about = append(about, p.ID, p.Row)
	}
	about = append(about, wasIn(places...)...)
	slices.Sort(about)
	about = slices.Compact(about)
	events := slices.Clone(f.whole)
	before := make(map[vine.ID][]logbook.Record)
	var b pgx.Batch
	b.Queue(eventsAbout, f.estate, about).Query(func(rows pgx.Rows) (err error) {
		events, err = pgx.AppendRows(events, rows, scanPlain)
		return err
	})
	b.Queue(`SELECT s.changed, `+stateSelect+statesOfVines+` ORDER BY s.vine_id, s.season`, f.estate, ids).
		Query(func(rows pgx.Rows) error {
			row := newStateRow()
			_, err := pgx.ForEachRow(rows, row.into, func() error {
				r := row.take()
				before[r.Vine] = append(before[r.Vine], r)
				return nil
			})
			return err
		})
	err := f.q.SendBatch(ctx, &b).Close()
	return events, before, err
}

// save takes the records out that changed or went, and writes the new ones.
func (f *folder) save(ctx context.Context, put, drop []logbook.Record, held bool) error {
	if held {
		vines, seasons := make([]vine.ID, len(drop)), make([]int32, len(drop))
		for i, r := range drop {
			vines[i], seasons[i] = r.Vine, int32(r.Season)
		}
		_, err := f.q.Exec(ctx, `
			DELETE FROM vine_state WHERE ctid = ANY (ARRAY(
			    SELECT s.ctid FROM unnest($2::bigint[], $3::integer[]) AS w(vine_id, season) CROSS JOIN LATERAL (
			        SELECT ctid FROM vine_state WHERE estate_id = $1 AND vine_id = w.vine_id AND season = w.season OFFSET 0) s))`, f.estate, vines, seasons)
		if err != nil {
			return err
		}
	}
	return copyIn(ctx, f.pg, "vine_state", stateColumns[:], len(put), func(w *copyRow, i int) {
		put[i].Changed = f.revision
		writeState(w, f.estate, &put[i])
	})
}
