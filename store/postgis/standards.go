package postgis

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// Standards gives the newest standards of every block that has any.
func (r reader) Standards(ctx context.Context) ([]store.Standards, error) {
	rows, err := r.q.Query(ctx, `SELECT DISTINCT ON (block_id) block_id, made, by_whom, value FROM standards
		WHERE estate_id = $1 ORDER BY block_id, standards_id DESC`, r.estate)
	if err != nil {
		return nil, fail("standards", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.Standards, error) {
		var v store.Standards
		var value []byte
		err := row.Scan(&v.Block, &v.Made, &v.By, &value)
		v.Made, v.Value = v.Made.UTC(), value
		return v, err
	})
	return out, fail("standards", err)
}

// SaveStandards writes a new version for one block, or for the estate.
func (t *tx) SaveStandards(v store.Standards) error {
	return fail(fmt.Sprintf("save standards of block %d", v.Block), t.saveStandards(v))
}

func (t *tx) saveStandards(v store.Standards) error {
	if err := logbook.CheckStandards(v); err != nil {
		return err
	}
	touch, err := t.standardsFor(v.Block)
	if err != nil {
		return err
	}
	id, err := t.newIDs(t.ctx, 1)
	if err != nil {
		return err
	}
	if v.Made.IsZero() {
		v.Made = t.now
	}
	_, err = t.pg.Exec(t.ctx, `INSERT INTO standards (estate_id, standards_id, block_id, made, by_whom, value) VALUES ($1, $2, $3, $4, $5, $6)`,
		t.estate, id, v.Block, logbook.Instant(v.Made), v.By, []byte(v.Value))
	if err != nil {
		return err
	}
	return t.touchGround(t.ctx, touch)
}

// standardsFor gives the blocks that standards of a block, or of the estate,
// hold for.
func (t *tx) standardsFor(block vine.ID) (map[vine.ID]bool, error) {
	if block != 0 {
		one := map[vine.ID]bool{block: true}
		return one, t.mustExist(`SELECT b.block_id`+blocksIn, "block", one)
	}
	rows, err := t.pg.Query(t.ctx, `SELECT block_id FROM block WHERE estate_id = $1`, t.estate)
	if err != nil {
		return nil, err
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[vine.ID])
	all := make(map[vine.ID]bool, len(ids))
	for _, id := range ids {
		all[id] = true
	}
	return all, err
}
