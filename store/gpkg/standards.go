package gpkg

import (
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

func readStandards(c *conn) (out []store.Standards, err error) {
	err = c.each(`SELECT block_id, made, by_whom, value FROM standards
		WHERE id IN (SELECT max(id) FROM standards GROUP BY block_id) ORDER BY block_id`, func(s *sqlite3.Stmt) error {
		out = append(out, store.Standards{Block: s.ColumnInt64(0), Made: moment(s.ColumnInt64(1)), By: s.ColumnText(2), Value: []byte(s.ColumnText(3))})
		return nil
	})
	return out, err
}

// SaveStandards writes a new version for one block, or for the estate.
func (t *tx) SaveStandards(v store.Standards) error {
	return t.run(t.ctx, fmt.Sprintf("save standards of block %d", v.Block), func(c *conn) error { return t.saveStandards(c, v) })
}

func (t *tx) saveStandards(c *conn, v store.Standards) error {
	if err := logbook.CheckStandards(v); err != nil {
		return err
	}
	blocks, err := readBlocks(c)
	if err != nil {
		return err
	}
	touch := make([]vine.ID, 0, len(blocks))
	for _, b := range blocks {
		if v.Block == 0 || v.Block == b.ID {
			touch = append(touch, b.ID)
		}
	}
	if v.Block != 0 && len(touch) == 0 {
		return orMissing(nil, "block %d", v.Block)
	}
	if v.Made.IsZero() {
		v.Made = t.store.now()
	}
	err = c.exec("INSERT INTO standards (block_id, made, by_whom, value) VALUES (?, ?, ?, CAST(? AS TEXT))",
		v.Block, micros(v.Made.Truncate(time.Microsecond)), v.By, []byte(v.Value))
	if err != nil {
		return err
	}
	for _, id := range touch {
		if err := t.touchGround(c, id); err != nil {
			return err
		}
	}
	return nil
}
