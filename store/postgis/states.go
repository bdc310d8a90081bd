package postgis

import (
	"context"
	"fmt"
	"iter"
	"sort"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// States gives the states of a block's vines in a season, as they are or carried
// forward. The block is read whole before the first state is handed over.
func (r reader) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return statesOf(block, season, func() (iter.Seq[logbook.Record], error) { return r.records(ctx, block, season, after) })
}

// statesOf turns the records that load reads into states, one by one: a record
// takes less room than the state that it becomes.
func statesOf(block vine.ID, season int, load func() (iter.Seq[logbook.Record], error)) iter.Seq2[store.VineState, error] {
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

// statesAll reads all records of the block in one sweep and keeps the newest up
// to the season of each vine, in order of vine; statesAfter looks up the few vines
// that changed, in order of the block. Both give the newest change of any season.
const (
	statesAll = `
		SELECT DISTINCT ON (s.vine_id) s.moved, ` + stateSelect + `
		FROM (
		    SELECT *, max(changed) OVER (
		        PARTITION BY vine_id ORDER BY season DESC -- the order wanted below: sorted once
		        ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING) AS moved
		    FROM vine_state WHERE estate_id = $1 AND block_id = $2) s
		WHERE s.season <= $3
		ORDER BY s.vine_id, s.season DESC`
	statesAfter = `
		SELECT m.changed, ` + stateSelect + `
		FROM (
		    SELECT DISTINCT vine_id FROM vine_state WHERE estate_id = $1 AND block_id = $2 AND changed > $4) w
		CROSS JOIN LATERAL (
		    SELECT w.vine_id, max(n.season) FILTER (WHERE n.season <= $3) AS season, max(n.changed) AS changed
		    FROM vine_state n WHERE n.estate_id = $1 AND n.vine_id = w.vine_id) m
		CROSS JOIN LATERAL (
		    SELECT * FROM vine_state WHERE estate_id = $1 AND vine_id = m.vine_id AND season = m.season OFFSET 0) s
		CROSS JOIN LATERAL (
		    SELECT row_id, number FROM vine WHERE estate_id = $1 AND vine_id = m.vine_id OFFSET 0) v
		CROSS JOIN LATERAL (
		    SELECT ord FROM vine_row WHERE estate_id = $1 AND row_id = v.row_id OFFSET 0) r
		ORDER BY r.ord, v.row_id, v.number`
	orderOfVines = `SELECT v.vine_id` + fromBlock
)

// records gives the newest record up to the season of every vine that changed
// after the revision, with the revision at which any of the vine's changed.
func (r reader) records(ctx context.Context, block vine.ID, season int, after int64) (iter.Seq[logbook.Record], error) {
	var found pile[logbook.Record]
	gather := func(rows pgx.Rows) error {
		row := newStateRow()
		_, err := pgx.ForEachRow(rows, row.into, func() error {
			found.add(row.take())
			return nil
		})
		return err
	}
	if after > 0 {
		rows, err := r.q.Query(ctx, statesAfter, r.estate, block, season, after)
		if err == nil {
			err = gather(rows)
		}
		return found.all(), err
	}
	var order []vine.ID
	var b pgx.Batch
	b.Queue(statesAll, r.estate, block, season).Query(gather)
	// After the states, so that no vine with a state is missing.
	b.Queue(orderOfVines, r.estate, block).Query(func(rows pgx.Rows) (err error) {
		order, err = pgx.AppendRows(order, rows, pgx.RowTo[vine.ID])
		return err
	})
	if err := r.q.SendBatch(ctx, &b).Close(); err != nil {
		return nil, err
	}
	return inOrder(found, order), nil
}

// inOrder gives records, which rise by vine, in the order of the list of vines.
func inOrder(found pile[logbook.Record], order []vine.ID) iter.Seq[logbook.Record] {
	return func(yield func(logbook.Record) bool) {
		next := 0
		for _, id := range order {
			if next >= found.len() || found.at(next).Vine != id { // mostly the order is that of the ids
				next = sort.Search(found.len(), func(i int) bool { return found.at(i).Vine >= id })
			}
			if next < found.len() && found.at(next).Vine == id {
				if !yield(*found.at(next)) {
					return
				}
				next++
			}
		}
	}
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
