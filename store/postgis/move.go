package postgis

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// MoveRows puts rows with their vines into another block.
func (t *tx) MoveRows(rows []vine.ID, block vine.ID, at time.Time) error {
	return fail(fmt.Sprintf("move %d rows to block %d", len(rows), block), t.moveRows(rows, block, at))
}

func (t *tx) moveRows(rows []vine.ID, block vine.ID, at time.Time) error {
	if err := t.indexed(t.ctx); err != nil {
		return err
	}
	if err := t.mustExist(`SELECT b.block_id`+blocksIn, "block", map[vine.ID]bool{block: true}); err != nil {
		return err
	}
	from := map[vine.ID]bool{}
	if _, err := t.with(`SELECT r.row_id, r.block_id`+rowsIn, rows, "row", from); err != nil {
		return err
	}
	found, err := t.pg.Query(t.ctx, `SELECT v.vine_id, v.row_id, v.block_id, v.planted`+vinesOfRows+` WHERE v.block_id <> $3`, t.estate, rows, block)
	if err != nil {
		return err
	}
	places, err := pgx.CollectRows(found, scanPlace)
	if err != nil {
		return err
	}
	gone, err := t.pg.Query(t.ctx, `UPDATE vine_row SET block_id = $3 WHERE estate_id = $1 AND row_id = ANY($2) AND block_id <> $3 RETURNING row_id`, t.estate, rows, block)
	if err != nil {
		return err
	}
	changed, err := pgx.CollectRows(gone, pgx.RowTo[vine.ID])
	if err != nil || len(changed) == 0 {
		return err
	}
	from[block] = true
	t.wrote += len(changed)
	if err := t.resettle(places, from, at, 0, block); err != nil {
		return err
	}
	for _, p := range places {
		delete(t.touched[p.Block].dirty.rows, p.Row)
	}
	return nil
}

// MoveVines puts vines into another row.
func (t *tx) MoveVines(vines []vine.ID, row vine.ID, at time.Time) error {
	return fail(fmt.Sprintf("move %d vines to row %d", len(vines), row), t.moveVines(vines, row, at))
}

func (t *tx) moveVines(vines []vine.ID, row vine.ID, at time.Time) error {
	in := map[vine.ID]bool{}
	if _, err := t.with(`SELECT r.row_id, r.block_id`+rowsIn, []vine.ID{row}, "row", in); err != nil {
		return err
	}
	block := slices.Collect(maps.Keys(in))[0]
	if err := t.indexed(t.ctx); err != nil {
		return err
	}
	found, err := t.placesOf(t.ctx, vines)
	if err != nil {
		return err
	}
	var places []vine.Place
	for _, id := range vines {
		p, ok := found[id]
		if !ok {
			return fmt.Errorf("vine %d: %w", id, store.ErrNotFound)
		}
		if p.Row != row {
			places = append(places, p)
			in[p.Block] = true
			found[id] = vine.Place{ID: id, Row: row, Block: block} // named twice, it moves once
		}
	}
	if len(places) == 0 {
		return nil
	}
	return t.resettle(places, in, at, row, block)
}

// resettle notes where the vines of the places stood, writes where they stand now,
// takes their states along and marks them for folding. blocks are all that this
// touches; row 0 means the same row.
func (t *tx) resettle(places []vine.Place, blocks map[vine.ID]bool, at time.Time, row, block vine.ID) error {
	t.moved = true
	if err := t.touchGround(t.ctx, blocks); err != nil {
		return err
	}
	for id := range blocks {
		t.logs.drop(id)
		t.touched[id].folded, t.touched[id].logged = true, true
	}
	slices.SortFunc(places, func(a, b vine.Place) int { return cmp.Compare(a.ID, b.ID) })
	if err := t.noteNames(places); err != nil {
		return err
	}
	ids, rows, blocksOf := make([]vine.ID, len(places)), make([]vine.ID, len(places)), make([]vine.ID, len(places))
	for i, p := range places {
		ids[i], rows[i], blocksOf[i] = p.ID, p.Row, p.Block
		t.made.forget(p.ID)
		delete(t.touched[p.Block].dirty.vines, p.ID)
	}
	t.touched[block].dirty.add(logbook.Touched{Vines: ids})
	var b pgx.Batch
	// A time before the last move is taken for that: one move follows the other.
	b.Queue(`INSERT INTO vine_stay (estate_id, vine_id, until, row_id, block_id)
		SELECT $1, w.id, greatest($2, (SELECT max(until) FROM vine_stay WHERE estate_id = $1 AND vine_id = w.id)), w.r, w.b
		FROM unnest($3::bigint[], $4::bigint[], $5::bigint[]) AS w(id, r, b) ON CONFLICT DO NOTHING`, t.estate, at, ids, rows, blocksOf)
	b.Queue(`UPDATE vine SET row_id = coalesce(nullif($3, 0), row_id), block_id = $4 WHERE ctid = ANY (ARRAY(SELECT v.ctid`+vinesIn+`))`, t.estate, ids, row, block)
	b.Queue(`UPDATE vine_state SET block_id = $3, changed = $4 WHERE ctid = ANY (ARRAY(SELECT s.ctid FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT ctid FROM vine_state WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) s))`, t.estate, ids, block, t.touched[block].revision)
	t.wrote += len(places)
	return t.pg.SendBatch(t.ctx, &b).Close()
}

// noteNames keeps what the vines were called when the transaction began.
func (t *tx) noteNames(places []vine.Place) error {
	ids := make([]vine.ID, len(places))
	for i, p := range places {
		ids[i] = p.ID
	}
	for part := range slices.Chunk(ids, chunk) {
		rows, err := t.pg.Query(t.ctx, `
			SELECT v.vine_id, v.block_id, v.row_id, v.number, coalesce(v.tag, ''), b.code, r.label`+vinesIn+ofRow+ofBlock, t.estate, part)
		if err != nil {
			return err
		}
		var v store.Vine
		var code, label string
		if _, err := pgx.ForEachRow(rows, []any{&v.ID, &v.Block, &v.Row, &v.Number, &v.Tag, &code, &label}, func() error {
			t.names.moved(v, cmp.Or(t.names.blocks[v.Block], code), cmp.Or(t.names.rows[v.Row], label))
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// moved keeps what a vine was called when the transaction began, if it is moved.
func (n *oldNames) moved(v store.Vine, code, label string) {
	n.vine(v.ID, v)
	was := n.vines[v.ID]
	if was.address == "" {
		was.address = vine.Address{Block: code, Row: label, Number: was.number}.String()
		n.vines[v.ID] = was
	}
}
