package postgis

import (
	"cmp"
	"context"
	"fmt"
	"iter"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// foldChunk is how many vines are folded at a time: it bounds the memory.
const foldChunk = 4_000

// stateColumns are the columns of vine_state after estate_id, in the order of
// stateRow.
var stateColumns = [...]string{"vine_id", "season", "block_id", "changed", "condition", "progress", "planted", "notes", "clashes",
	"cause", "seen_at", "look_again", "pruning_weight_g", "pruning_weight_at", "cane_count", "cane_count_at",
	"score", "score_scale", "score_at", "yield_g", "yield_at", "nodes_left", "canes_left", "spurs_left",
	"pruned_at", "pruned_by", "detail"}

// stateSelect is the same for a query; changed is given apart.
const stateSelect = `s.vine_id, s.season, s.block_id, s.condition, s.progress, s.planted, s.notes, s.clashes,
	s.cause, s.seen_at, s.look_again, s.pruning_weight_g, s.pruning_weight_at, s.cane_count, s.cane_count_at,
	s.score, s.score_scale, s.score_at, s.yield_g, s.yield_at, s.nodes_left, s.canes_left, s.spurs_left,
	s.pruned_at, s.pruned_by, s.detail`

// stateRow takes one record of vine_state from the database without an
// allocation for every column that is empty.
type stateRow struct {
	record                          logbook.Record
	changed                         int64
	condition, progress             int16
	season, planted, notes, clashes int32
	cause, scale, by                pgtype.Text
	seen, look, weightAt, canesAt   pgtype.Timestamptz
	scoreAt, yieldAt, pruned        pgtype.Timestamptz
	weight, caneCount, score, yield pgtype.Float8
	nodes, canes, spurs             pgtype.Int4
	detail                          []byte
	into                            []any
}

func newStateRow() *stateRow {
	s := &stateRow{}
	s.into = []any{&s.changed, &s.record.Vine, &s.season, &s.record.Block, &s.condition, &s.progress, &s.planted, &s.notes, &s.clashes,
		&s.cause, &s.seen, &s.look, &s.weight, &s.weightAt, &s.caneCount, &s.canesAt, &s.score, &s.scale, &s.scoreAt,
		&s.yield, &s.yieldAt, &s.nodes, &s.canes, &s.spurs, &s.pruned, &s.by, &s.detail}
	return s
}

// take gives the record that was scanned last.
func (s *stateRow) take() logbook.Record {
	return logbook.Record{
		Vine: s.record.Vine, Block: s.record.Block, Season: int(s.season), Changed: s.changed,
		Condition: vine.Condition(s.condition), Cause: s.cause.String, SeenAt: s.seen.Time.UTC(), LookAgain: s.look.Time.UTC(), Planted: int(s.planted),
		PruningWeight: measured(s.weight, s.weightAt), CaneCount: measured(s.caneCount, s.canesAt),
		Score: measured(s.score, s.scoreAt), ScoreScale: s.scale.String, Yield: measured(s.yield, s.yieldAt),
		NodesLeft: count(s.nodes), CanesLeft: count(s.canes), SpursLeft: count(s.spurs),
		PrunedAt: s.pruned.Time.UTC(), PrunedBy: s.by.String, Progress: vine.Progress(s.progress),
		Notes: int(s.notes), Clashes: int(s.clashes), Detail: slices.Clone(s.detail),
	}
}

func measured(v pgtype.Float8, at pgtype.Timestamptz) logbook.Measured {
	return logbook.Measured{Value: v.Float64, At: at.Time.UTC(), Known: v.Valid}
}

func count(n pgtype.Int4) *int {
	if !n.Valid {
		return nil
	}
	i := int(n.Int32)
	return &i
}

// stateValues is a record as COPY takes it.
func stateValues(estate int64, r logbook.Record) []any {
	value := func(m logbook.Measured) (any, any) {
		if !m.Known {
			return nil, nil
		}
		return m.Value, orNull(m.At)
	}
	weight, weightAt := value(r.PruningWeight)
	canes, canesAt := value(r.CaneCount)
	score, scoreAt := value(r.Score)
	yield, yieldAt := value(r.Yield)
	var detail any
	if r.Detail != nil {
		detail = r.Detail
	}
	return []any{estate, r.Vine, int32(r.Season), r.Block, r.Changed, int16(r.Condition), int16(r.Progress), int32(r.Planted),
		int32(r.Notes), int32(r.Clashes), textOrNull(r.Cause), orNull(r.SeenAt), orNull(r.LookAgain),
		weight, weightAt, canes, canesAt, score, textOrNull(r.ScoreScale), scoreAt, yield, yieldAt,
		r.NodesLeft, r.CanesLeft, r.SpursLeft, orNull(r.PrunedAt), textOrNull(r.PrunedBy), detail}
}

func textOrNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// States gives the states of a block's vines in a season, as they are or carried
// forward. The block is read whole before the first state is handed over.
func (r reader) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return statesOf(block, season, func() (pile[logbook.Record], error) { return r.records(ctx, block, season, after) })
}

// statesOf turns the records that load reads into states, one by one: a record
// takes less room than the state that it becomes.
func statesOf(block vine.ID, season int, load func() (pile[logbook.Record], error)) iter.Seq2[store.VineState, error] {
	what := fmt.Sprintf("states of block %d in %d", block, season)
	return func(yield func(store.VineState, error) bool) {
		for r, err := range handOut(what, load) {
			var out store.VineState
			if err == nil {
				out, err = stateIn(r, season)
				err = fail(what, err)
			}
			if !yield(out, err) || err != nil {
				return
			}
		}
	}
}

// Both queries find for each vine the season that counts and the newest change,
// then fetch the one record and the vine's place in the block. The first looks at
// every vine of the block that has a record, the second at those that changed.
const (
	statesAll = `
		SELECT m.changed, ` + stateSelect + `
		FROM (
		    SELECT vine_id, max(season) FILTER (WHERE season <= $3) AS season, max(changed) AS changed
		    FROM vine_state WHERE estate_id = $1 AND block_id = $2 GROUP BY vine_id) m` + stateOfSeason
	statesAfter = `
		SELECT m.changed, ` + stateSelect + `
		FROM (
		    SELECT DISTINCT vine_id FROM vine_state WHERE estate_id = $1 AND block_id = $2 AND changed > $4) w
		CROSS JOIN LATERAL (
		    SELECT w.vine_id, max(n.season) FILTER (WHERE n.season <= $3) AS season, max(n.changed) AS changed
		    FROM vine_state n WHERE n.estate_id = $1 AND n.vine_id = w.vine_id) m` + stateOfSeason
	stateOfSeason = `
		CROSS JOIN LATERAL (
		    SELECT * FROM vine_state WHERE estate_id = $1 AND vine_id = m.vine_id AND season = m.season OFFSET 0) s
		CROSS JOIN LATERAL (
		    SELECT row_id, number FROM vine WHERE estate_id = $1 AND vine_id = m.vine_id OFFSET 0) v
		CROSS JOIN LATERAL (
		    SELECT ord FROM vine_row WHERE estate_id = $1 AND row_id = v.row_id OFFSET 0) r
		ORDER BY r.ord, v.row_id, v.number`
)

// records gives the newest record up to the season of every vine that changed
// after the revision, with the revision at which any of the vine's changed.
func (r reader) records(ctx context.Context, block vine.ID, season int, after int64) (pile[logbook.Record], error) {
	sql, args := statesAll, []any{r.estate, block, season}
	if after > 0 {
		sql, args = statesAfter, append(args, after)
	}
	rows, err := r.q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	var out pile[logbook.Record]
	row := newStateRow()
	_, err = pgx.ForEachRow(rows, row.into, func() error {
		out.add(row.take())
		return nil
	})
	return out, err
}

// stateIn gives a record's state for a season, carried forward where the record
// is of an earlier one.
func stateIn(r logbook.Record, season int) (store.VineState, error) {
	if r.Season != season {
		r = r.Carried(season)
	}
	s, err := r.State()
	return store.VineState{Vine: r.Vine, Changed: r.Changed, State: s}, err
}

// fold folds the vines that events or the ground touched, block by block.
func (t *tx) fold(ctx context.Context) error {
	for _, id := range slices.Sorted(maps.Keys(t.touched)) {
		b := t.touched[id]
		if !b.dirty.any() {
			continue
		}
		places, err := t.dirtyPlaces(ctx, id, b.dirty)
		if err != nil {
			return fail("fold", err)
		}
		b.dirty = dirty{}
		f := folder{tx: t, block: id, write: true, revision: b.revision}
		if err := f.run(ctx, places, nil); err != nil {
			return fail(fmt.Sprintf("fold block %d", id), err)
		}
		b.whole = b.whole || f.carried
		for _, s := range f.seasons {
			b.seasons[s] = true
		}
	}
	return nil
}

// dirtyPlaces gives the places of the vines that must be folded.
func (t *tx) dirtyPlaces(ctx context.Context, block vine.ID, d dirty) ([]vine.Place, error) {
	var b pgx.Batch
	var out []vine.Place
	queue := func(from string, args ...any) {
		b.Queue(selectPlaces+from+ofVine, args...).Query(func(rows pgx.Rows) error {
			places, err := pgx.CollectRows(rows, scanPlace)
			out = append(out, places...)
			return err
		})
	}
	switch {
	case d.all:
		queue(vinesOfBlockRows, t.estate, block)
	default:
		rows := slices.Sorted(maps.Keys(d.rows))
		if len(rows) > 0 {
			queue(vinesOfRows, t.estate, rows)
		}
		if len(d.vines) > 0 {
			queue(vinesIn, t.estate, slices.Sorted(maps.Keys(d.vines)))
		}
	}
	err := t.q.SendBatch(ctx, &b).Close()
	slices.SortFunc(out, func(a, b vine.Place) int { return cmp.Compare(a.ID, b.ID) })
	return slices.Compact(out), err
}

// folder folds vines of one block and compares with, or mends, what is cached.
type folder struct {
	*tx
	block    vine.ID
	write    bool
	revision int64

	whole   []vine.Event // events about whole rows or the block
	wrong   int          // vines whose records differed
	seasons []int
	carried bool
}

// run folds the vines of the places, in chunks. done is told how many are ready.
func (f *folder) run(ctx context.Context, places []vine.Place, done func(int)) error {
	rows, err := f.q.Query(ctx, eventsOfWhole, f.estate, f.block)
	if err != nil {
		return err
	}
	whole, err := pgx.CollectRows(rows, scanEvent)
	if err != nil {
		return err
	}
	f.whole = plain(whole)
	for _, p := range f.pending {
		if p.Target.Block == f.block && len(p.Target.Vines) == 0 {
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

func plain(logged []store.LoggedEvent) []vine.Event {
	out := make([]vine.Event, len(logged))
	for i, e := range logged {
		out[i] = e.Event
	}
	return out
}

func (f *folder) chunk(ctx context.Context, places []vine.Place) error {
	ids := make([]vine.ID, len(places))
	for i, p := range places {
		ids[i] = p.ID
	}
	events, before, err := f.load(ctx, ids)
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

// The events that a fold needs: those that name vines, those about a whole row
// or block.
const (
	eventsOfVines = selectEvents + `
		FROM (SELECT DISTINCT n.cursor FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		    SELECT cursor FROM event_vine WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) n) c` + eventAt
	eventsOfWhole = selectEvents + ` FROM event e WHERE e.estate_id = $1 AND e.block_id = $2 AND e.vines IS NULL`
)

// load gives the events about the vines and the records held of them.
func (f *folder) load(ctx context.Context, ids []vine.ID) ([]vine.Event, map[vine.ID][]logbook.Record, error) {
	events := slices.Clone(f.whole)
	before := make(map[vine.ID][]logbook.Record)
	var b pgx.Batch
	b.Queue(eventsOfVines, f.estate, ids).
		Query(func(rows pgx.Rows) error {
			found, err := pgx.CollectRows(rows, scanEvent)
			events = append(events, plain(found)...)
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
	if err := f.q.SendBatch(ctx, &b).Close(); err != nil {
		return nil, nil, err
	}
	for _, p := range f.pending {
		if p.Target.Block == f.block && len(p.Target.Vines) > 0 {
			events = append(events, p.Event)
		}
	}
	return events, before, nil
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
	_, err := f.q.CopyFrom(ctx, pgx.Identifier{"vine_state"}, append([]string{"estate_id"}, stateColumns[:]...),
		pgx.CopyFromSlice(len(put), func(i int) ([]any, error) {
			put[i].Changed = f.revision
			return stateValues(f.estate, put[i]), nil
		}))
	return err
}
