package postgis

import (
	"fmt"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
)

// Mark tells the last id and the newest event.
func (t *tx) Mark() (m store.Mark, err error) {
	err = t.pg.QueryRow(t.ctx, `SELECT next_id - 1, last_cursor FROM estate WHERE estate_id = $1`, t.estate).Scan(&m.ID, &m.Cursor)
	return m, fail("mark", err)
}

// Drop takes ground away.
func (t *tx) Drop(d store.Dropped) error {
	what := fmt.Sprintf("drop %d blocks, %d rows and %d vines", len(d.Blocks), len(d.Rows), len(d.Vines))
	if err := t.indexed(t.ctx); err != nil {
		return fail(what, err)
	}
	rows, vines, blocks, err := t.spread(d)
	if err == nil {
		err = t.touchGround(t.ctx, blocks)
	}
	if err != nil {
		return fail(what, err)
	}
	for _, id := range vines {
		t.made.forget(id)
		delete(t.names.vines, id)
	}
	for id := range blocks {
		t.logs.drop(id)
		maps.DeleteFunc(t.touched[id].dirty.vines, func(v vine.ID, _ bool) bool { _, gone := slices.BinarySearch(vines, v); return gone })
	}
	for _, id := range rows {
		delete(t.names.rows, id)
	}
	for _, id := range d.Blocks {
		t.touched[id].dirty = dirty{}
		delete(t.names.blocks, id)
	}
	t.wrote += len(vines) + len(rows) + len(d.Blocks)
	return fail(what, t.clear(d.Blocks, rows, vines))
}

// spread gives the rows and vines that go, those of whole blocks and rows too,
// and the blocks that this touches.
func (t *tx) spread(d store.Dropped) (rows, vines []vine.ID, blocks map[vine.ID]bool, err error) {
	blocks = map[vine.ID]bool{}
	for _, id := range d.Blocks {
		blocks[id] = true
	}
	if err := t.mustExist(`SELECT b.block_id`+blocksIn, "block", blocks); err != nil {
		return nil, nil, nil, err
	}
	rows, err = t.with(`SELECT r.row_id, r.block_id`+rowsIn, d.Rows, "row", blocks)
	if err != nil {
		return nil, nil, nil, err
	}
	more, err := t.with(`SELECT row_id, block_id FROM vine_row WHERE estate_id = $1 AND block_id = ANY($2)`, d.Blocks, "", blocks)
	if err != nil {
		return nil, nil, nil, err
	}
	rows = sorted(rows, more)
	vines, err = t.with(`SELECT v.vine_id, v.block_id`+vinesIn, d.Vines, "vine", blocks)
	if err != nil {
		return nil, nil, nil, err
	}
	more, err = t.with(`SELECT v.vine_id, v.block_id`+vinesOfRows, rows, "", blocks)
	return rows, sorted(vines, more), blocks, err
}

func sorted(a, b []vine.ID) []vine.ID {
	all := slices.Concat(a, b)
	slices.Sort(all)
	return slices.Compact(all)
}

// with asks for ids and their blocks by other ids. Where those are the things
// themselves, what names them, and one that is not there is refused.
func (t *tx) with(sql string, ids []vine.ID, what string, blocks map[vine.ID]bool) ([]vine.ID, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	found, err := t.pg.Query(t.ctx, sql, t.estate, ids)
	if err != nil {
		return nil, err
	}
	var out []vine.ID
	var id, block vine.ID
	if _, err := pgx.ForEachRow(found, []any{&id, &block}, func() error {
		out, blocks[block] = append(out, id), true
		return nil
	}); err != nil || what == "" {
		return out, err
	}
	there := sorted(out, nil)
	for _, id := range ids {
		if _, ok := slices.BinarySearch(there, id); !ok {
			return nil, fmt.Errorf("%s %d: %w", what, id, store.ErrNotFound)
		}
	}
	return out, nil
}

// clear takes ground out of all tables but the log. The revision of a block
// stays: by it everyone who holds the block hears that it changed, and finds it
// gone.
func (t *tx) clear(blocks, rows, vines []vine.ID) error {
	var b pgx.Batch
	for _, sql := range []string{
		`DELETE FROM plan_entry WHERE estate_id = $1 AND plan_id IN (SELECT plan_id FROM plan WHERE estate_id = $1 AND block_id = ANY($2))`,
		`DELETE FROM plan WHERE estate_id = $1 AND block_id = ANY($2)`,
		`DELETE FROM standards WHERE estate_id = $1 AND block_id = ANY($2)`,
		`DELETE FROM paper WHERE estate_id = $1 AND block_id = ANY($2)`,
	} {
		b.Queue(sql, t.estate, blocks)
	}
	b.Queue(`DELETE FROM vine_state WHERE ctid = ANY (ARRAY(SELECT s.ctid FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT ctid FROM vine_state WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) s))`, t.estate, vines)
	b.Queue(`DELETE FROM plan_entry e USING (SELECT p.plan_id, v.vine_id`+vinesIn+` JOIN plan p ON p.estate_id = $1 AND p.block_id = v.block_id) w
		WHERE e.estate_id = $1 AND e.plan_id = w.plan_id AND e.vine_id = w.vine_id`, t.estate, vines)
	b.Queue(`DELETE FROM vine_stay WHERE estate_id = $1 AND vine_id = ANY($2)`, t.estate, vines)
	b.Queue(`DELETE FROM label_history WHERE estate_id = $1 AND of_id = ANY($2)`, t.estate, slices.Concat(blocks, rows, vines))
	b.Queue(`DELETE FROM vine WHERE ctid = ANY (ARRAY(SELECT v.ctid`+vinesIn+`))`, t.estate, vines)
	b.Queue(`DELETE FROM vine_row WHERE ctid = ANY (ARRAY(SELECT r.ctid`+rowsIn+`))`, t.estate, rows)
	b.Queue(`DELETE FROM block WHERE estate_id = $1 AND block_id = ANY($2)`, t.estate, blocks)
	return t.pg.SendBatch(t.ctx, &b).Close()
}

// DropSeason takes a season off the list. Who holds blocks reads the list anew
// where a plan changed.
func (t *tx) DropSeason(season int) error {
	for _, b := range t.touched {
		b.plan = true
	}
	_, err := t.pg.Exec(t.ctx, `DELETE FROM estate_season WHERE estate_id = $1 AND season = $2`, t.estate, season)
	return fail(fmt.Sprintf("drop season %d", season), err)
}
