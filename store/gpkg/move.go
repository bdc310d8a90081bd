package gpkg

import (
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
)

// MoveRows puts rows with their vines into another block.
func (t *tx) MoveRows(rows []vine.ID, block vine.ID, at time.Time) error {
	return t.run(t.ctx, fmt.Sprintf("move %d rows to block %d", len(rows), block), func(c *conn) error {
		if _, found, err := readBlock(c, block); err != nil || !found {
			return orMissing(err, "block %d", block)
		}
		for _, id := range rows {
			if err := t.moveRow(c, id, block, at); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t *tx) moveRow(c *conn, id, block vine.ID, at time.Time) error {
	from, err := t.blockOfRow(c, id)
	if err != nil || from == 0 {
		return orMissing(err, "row %d", id)
	}
	if from == block {
		return nil
	}
	vines, err := c.ids("SELECT id FROM vine WHERE row_id = ? ORDER BY id", id)
	if err != nil {
		return err
	}
	if err := t.leave(c, vines, id, from, at); err != nil {
		return err
	}
	if err := c.exec("UPDATE vine_row SET block_id = ? WHERE id = ?", block, id); err != nil {
		return err
	}
	t.rowOf[id], t.rows[block] = block, true
	delete(t.dirtyIn(from).rows, id)
	return t.arrive(c, vines, id, block, from)
}

// MoveVines puts vines into another row.
func (t *tx) MoveVines(vines []vine.ID, row vine.ID, at time.Time) error {
	return t.run(t.ctx, fmt.Sprintf("move %d vines to row %d", len(vines), row), func(c *conn) error {
		block, err := t.blockOfRow(c, row)
		if err != nil || block == 0 {
			return orMissing(err, "row %d", row)
		}
		for _, id := range vines {
			v, found, err := readVine(c, id)
			if err != nil || !found {
				return orMissing(err, "vine %d", id)
			}
			if v.Row == row {
				continue
			}
			one := []vine.ID{id}
			if err := t.leave(c, one, v.Row, v.Block, at); err != nil {
				return err
			}
			if err := t.arrive(c, one, row, block, v.Block); err != nil {
				return err
			}
		}
		return nil
	})
}

// leave notes where vines stood and what they were called there. A time before the
// last move is taken for that: one move follows the other.
func (t *tx) leave(c *conn, vines []vine.ID, row, block vine.ID, at time.Time) error {
	code, label, err := t.calledBefore(c, row, block)
	if err != nil {
		return err
	}
	for _, id := range vines {
		v, found, err := readVine(c, id)
		if err != nil || !found {
			return orMissing(err, "vine %d", id)
		}
		t.names.moved(id, v, code, label)
		err = c.exec(`INSERT OR IGNORE INTO vine_stay (vine_id, row_id, block_id, until)
			VALUES (?1, ?2, ?3, max(?4, coalesce((SELECT max(until) FROM vine_stay WHERE vine_id = ?1), ?4)))`, id, row, block, micros(at))
		if err != nil {
			return err
		}
	}
	return nil
}

// calledBefore gives block and row as they were called when the transaction began.
func (t *tx) calledBefore(c *conn, row, block vine.ID) (code, label string, err error) {
	_, err = c.one("SELECT b.code, r.label FROM vine_row r, block b WHERE r.id = ? AND b.id = ?", func(s *sqlite3.Stmt) error {
		code, label = s.ColumnText(0), s.ColumnText(1)
		return nil
	}, row, block)
	if was, ok := t.names.blocks[block]; ok {
		code = was
	}
	if was, ok := t.names.rows[row]; ok {
		label = was
	}
	return code, label, err
}

// arrive writes where vines stand now, takes their states along and marks them for
// folding.
func (t *tx) arrive(c *conn, vines []vine.ID, row, block, from vine.ID) error {
	for _, id := range []vine.ID{from, block} {
		t.giveUp(id)
		if err := t.touchGround(c, id); err != nil {
			return err
		}
	}
	t.laid[block] = &laid{gone: true}
	t.numbers[row] = true
	old, now := t.dirtyIn(from), t.dirtyIn(block)
	for _, id := range vines {
		if err := c.exec("UPDATE vine SET row_id = ?, block_id = ? WHERE id = ?", row, block, id); err != nil {
			return err
		}
		if err := c.exec("UPDATE vine_state SET block_id = ?, changed = ? WHERE id BETWEEN ? AND ?", block, t.touched[block].revision,
			recordID(id, firstSeason), recordID(id, firstSeason+seasonsPerVine-1)); err != nil {
			return err
		}
		delete(old.vines, id)
		now.vines[id] = row
	}
	return nil
}

// moved keeps what a vine was called when the transaction began, if it is moved.
func (n *oldNames) moved(id vine.ID, v store.Vine, code, label string) {
	n.vine(id, v)
	was := n.vines[id]
	if was.address == "" {
		was.address = vine.Address{Block: code, Row: label, Number: was.number}.String()
		n.vines[id] = was
	}
}
