package postgis

import (
	"context"
	"errors"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// appendTries is how often a batch is tried anew when another transaction was in
// the way. Nothing was stored then, so trying again is safe.
const appendTries = 5

// Append stores events that are new. Batches about different blocks go side by
// side; those about one block wait for each other.
func (s *Store) Append(ctx context.Context, events []vine.Event) ([]store.Answer, error) {
	if len(events) == 0 {
		return nil, nil
	}
	if err := take(ctx, s.append); err != nil {
		return nil, fail("append events", err)
	}
	defer func() { <-s.append }()
	for try := 1; ; try++ {
		var answers []store.Answer
		var done *tx
		err := s.inTx(ctx, appendPatience, `SELECT pg_advisory_xact_lock_shared($1, $2)`, func(t *tx) error {
			var err error
			done = t
			answers, err = t.appendOnce(ctx, events)
			return err
		})
		if err == nil {
			s.analyzeAfter(ctx, done, true)
			return answers, nil
		}
		if try == appendTries || !again(err) {
			return nil, fail("append events", err)
		}
	}
}

// appendOnce locks the blocks, judges, folds, and only then asks for the place
// in the log: the lock on it is held until the commit.
func (t *tx) appendOnce(ctx context.Context, events []vine.Event) ([]store.Answer, error) {
	accepted, answers, found, err := t.screen(ctx, events, true)
	if err != nil || len(accepted) == 0 {
		return answers, err
	}
	t.pending, t.places = accepted, found.Vines // the ground stands still until the commit
	if err := t.touchEvents(ctx, accepted, found); err != nil {
		return nil, err
	}
	if err := t.fold(ctx); err != nil {
		return nil, err
	}
	t.pending = nil
	if err := t.store(ctx, accepted, found.Vines); err != nil {
		return nil, err
	}
	return answers, t.announce(ctx)
}

// Append inside an Update stores at once and folds once at the end.
func (t *tx) Append(ctx context.Context, events []vine.Event) ([]store.Answer, error) {
	if len(events) == 0 {
		return nil, nil
	}
	accepted, answers, found, err := t.screen(ctx, events, false)
	if err == nil && len(accepted) > 0 {
		if err = t.touchEvents(ctx, accepted, found); err == nil {
			err = t.store(ctx, accepted, found.Vines)
		}
		if err == nil {
			t.keepFresh(accepted, found.Vines)
		}
	}
	if err != nil {
		return nil, fail("append events", err)
	}
	return answers, nil
}

// screen looks up what the batch needs and judges it; it gives what it found too. With lock set it first takes the blocks for itself, in order of
// their ids.
func (t *tx) screen(ctx context.Context, events []vine.Event, lock bool) ([]logbook.Accepted, []store.Answer, logbook.Found, error) {
	for _, e := range events {
		if e.Received.IsZero() {
			return nil, nil, logbook.Found{}, errors.New("an event without its time of receipt: the caller sets it")
		}
	}
	needs := logbook.Wants(events)
	found := logbook.Found{
		Events: map[uuid.UUID]vine.Kind{},
		Blocks: make(map[vine.ID]bool, len(needs.Blocks)),
		Rows:   make(map[vine.ID]vine.ID, len(needs.Rows)),
		Vines:  make(map[vine.ID]vine.Place, len(needs.Vines)),
	}
	var b pgx.Batch
	if unknown := t.queueNeeds(&b, needs, found, lock); unknown {
		if err := t.indexed(ctx); err != nil {
			return nil, nil, found, err
		}
	}
	err := t.pg.SendBatch(ctx, &b).Close()
	if err == nil {
		err = t.lookUpMoved(ctx, needs, &found)
	}
	if err != nil {
		return nil, nil, found, err
	}
	accepted, answers := logbook.Screen(events, found)
	return accepted, answers, found, nil
}

// queueNeeds asks for what a batch needs, and tells whether it asks for vines.
func (t *tx) queueNeeds(b *pgx.Batch, needs logbook.Needs, found logbook.Found, lock bool) bool {
	blocks := `SELECT b.block_id` + blocksIn + ` ORDER BY b.block_id`
	if lock {
		blocks += ` FOR NO KEY UPDATE`
	}
	b.Queue(blocks, t.estate, needs.Blocks).Query(func(rows pgx.Rows) error {
		var id vine.ID
		_, err := pgx.ForEachRow(rows, []any{&id}, func() error { found.Blocks[id] = true; return nil })
		return err
	})
	b.Queue(`SELECT e.event_id, e.kind`+eventsKnown, t.estate, bytesOf(needs.Events)).Query(func(rows pgx.Rows) error {
		var id uuid.UUID
		var kind vine.Kind
		_, err := pgx.ForEachRow(rows, []any{&id, &kind}, func() error { found.Events[id] = kind; return nil })
		return err
	})
	if len(needs.Rows) > 0 {
		b.Queue(`SELECT r.row_id, r.block_id`+rowsIn, t.estate, needs.Rows).Query(func(rows pgx.Rows) error {
			var id, block vine.ID
			_, err := pgx.ForEachRow(rows, []any{&id, &block}, func() error { found.Rows[id] = block; return nil })
			return err
		})
	}
	var unknown []vine.ID
	for _, id := range needs.Vines {
		if p, ok := t.made.of(id); ok {
			found.Vines[id] = p
		} else {
			unknown = append(unknown, id)
		}
	}
	if len(unknown) > 0 {
		b.Queue(selectPlaces+vinesIn+ofBlock, t.estate, unknown).Query(func(rows pgx.Rows) error {
			places, err := pgx.CollectRows(rows, scanPlace)
			for _, p := range places {
				found.Vines[p.ID] = p
			}
			return err
		})
	}
	return len(unknown) > 0
}

// bytesOf gives ids in the form that pgx takes for arrays.
func bytesOf(ids []uuid.UUID) [][16]byte {
	out := make([][16]byte, len(ids))
	for i, id := range ids {
		out[i] = id
	}
	return out
}

// touchEvents raises the revisions of the blocks and marks what must be folded.
func (t *tx) touchEvents(ctx context.Context, events []logbook.Accepted, found logbook.Found) error {
	touch := logbook.Touch(events, found)
	blocks := make([]vine.ID, 0, len(touch))
	for id := range touch {
		blocks = append(blocks, id)
	}
	if err := t.touch(ctx, blocks); err != nil {
		return err
	}
	for id, what := range touch {
		b := t.touched[id]
		b.logged = true
		b.dirty.add(what)
	}
	return nil
}

// store gives the events their places in the log and writes them. The rows of
// the vines that they name are found in places.
func (t *tx) store(ctx context.Context, events []logbook.Accepted, places map[vine.ID]vine.Place) error {
	seasons := map[int]bool{}
	for _, e := range events {
		seasons[e.Season] = true
	}
	cursor, err := t.newCursors(ctx, seasons, len(events))
	if err != nil {
		return err
	}
	var about [][2]int64
	err = copyIn(ctx, t.pg, "event", eventColumns[:], len(events), func(w *copyRow, i int) {
		at := cursor + int64(i)
		for _, id := range aboutOf(events[i].Target, places) {
			about = append(about, [2]int64{id, at})
		}
		writeEvent(w, t.estate, at, &events[i])
	})
	if err != nil {
		return err
	}
	return copyIn(ctx, t.pg, "event_about", []string{"estate_id", "about_id", "cursor"}, len(about), func(w *copyRow, i int) {
		w.int8(t.estate)
		w.int8(about[i][0])
		w.int8(about[i][1])
	})
}

// eventColumns are the columns of event in the order of writeEvent.
var eventColumns = [...]string{"estate_id", "cursor", "event_id", "device", "seq", "made_at", "happened", "received", "by_whom",
	"season", "block_id", "row_id", "vines", "kind", "value"}

func writeEvent(w *copyRow, estate, cursor int64, e *logbook.Accepted) {
	w.int8(estate)
	w.int8(cursor)
	w.uuid(e.ID)
	w.text(e.Device)
	w.int8(int64(e.Seq))
	w.timestamptz(e.At)
	w.timestamptz(e.When)
	w.timestamptz(e.Received)
	w.text(e.By)
	w.int4(e.Season)
	w.int8(e.Target.Block)
	w.idOrNull(e.Target.Row)
	if len(e.Target.Vines) == 0 {
		w.null()
	} else {
		w.bigints(e.Target.Vines)
	}
	w.text(string(e.Kind))
	w.jsonb(e.Value)
}

// fewVines is how many listed vines an event is kept under one by one; beyond it
// is kept under their rows.
const fewVines = 4

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
	for _, id := range target.Vines {
		// Vines come row by row, so looking at the last is mostly enough.
		if row := places[id].Row; len(rows) == 0 || rows[len(rows)-1] != row {
			rows = append(rows, row)
		}
	}
	slices.Sort(rows)
	return slices.Compact(rows)
}

// newCursors notes the seasons and gives the first of n places in the log.
func (t *tx) newCursors(ctx context.Context, seasons map[int]bool, n int) (int64, error) {
	list := make([]int32, 0, len(seasons))
	for s := range seasons {
		list = append(list, int32(s))
	}
	var first int64
	var b pgx.Batch
	b.Queue(`
		INSERT INTO estate_season (estate_id, season) SELECT $1, s FROM unnest($2::integer[]) s ORDER BY s
		ON CONFLICT DO NOTHING`, t.estate, list)
	if n > 0 {
		b.Queue(`UPDATE estate SET last_cursor = last_cursor + $2 WHERE estate_id = $1 RETURNING last_cursor - $2 + 1`, t.estate, int64(n)).
			QueryRow(func(row pgx.Row) error { return row.Scan(&first) })
	}
	if err := t.pg.SendBatch(ctx, &b).Close(); err != nil || n == 0 {
		return 0, err
	}
	if t.logTo == 0 {
		t.logFrom = first - 1
	}
	t.logTo = first + int64(n) - 1
	return first, nil
}
