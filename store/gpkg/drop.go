package gpkg

import (
	"fmt"

	"courson/geo/vine"
	"courson/store"
)

// Mark tells the last id and the newest event.
func (t *tx) Mark() (m store.Mark, err error) {
	err = t.read(t.ctx, func(c *conn) (err error) {
		if m.ID, err = c.number("SELECT value FROM counter WHERE name = 'last_id'"); err == nil {
			m.Cursor, err = c.number("SELECT max(cursor) FROM event")
		}
		return err
	})
	return m, err
}

// Drop takes ground away.
func (t *tx) Drop(d store.Dropped) error {
	return t.run(t.ctx, fmt.Sprintf("drop %d blocks, %d rows and %d vines", len(d.Blocks), len(d.Rows), len(d.Vines)), func(c *conn) error {
		for _, id := range d.Vines {
			if err := t.dropVine(c, id); err != nil {
				return err
			}
		}
		for _, id := range d.Rows {
			if err := t.dropRow(c, id); err != nil {
				return err
			}
		}
		for _, id := range d.Blocks {
			if err := t.emptyBlock(c, id); err != nil {
				return err
			}
		}
		// At the end: for every block that goes, SQLite looks for vines that stay.
		return each(d.Blocks, func(id vine.ID) error { return c.exec("DELETE FROM block WHERE id = ?", id) })
	})
}

func each(ids []vine.ID, do func(vine.ID) error) error {
	for _, id := range ids {
		if err := do(id); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) dropVine(c *conn, id vine.ID) error {
	v, found, err := readVine(c, id)
	if err != nil || !found {
		return orMissing(err, "vine %d", id)
	}
	t.giveUp(v.Block)
	if err := t.touchGround(c, v.Block); err != nil {
		return err
	}
	return t.clearVine(c, id, v.Block)
}

// clearVine takes a vine out of all tables but the log.
func (t *tx) clearVine(c *conn, id, block vine.ID) error {
	t.index.drop(id)
	delete(t.names.vines, id)
	if d := t.dirty[block]; d != nil {
		delete(d.vines, id)
	}
	for _, do := range []struct {
		sql  string
		args []any
	}{
		{"DELETE FROM vine_state WHERE id BETWEEN ? AND ?", []any{recordID(id, firstSeason), recordID(id, firstSeason+seasonsPerVine-1)}},
		{"DELETE FROM plan_entry WHERE vine_id = ? AND plan_id IN (SELECT id FROM plan WHERE block_id = ?)", []any{id, block}},
		{"DELETE FROM old_label WHERE of_id = ?", []any{id}},
		{"DELETE FROM vine_stay WHERE vine_id = ?", []any{id}},
		{"DELETE FROM vine WHERE id = ?", []any{id}},
	} {
		if err := c.exec(do.sql, do.args...); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) dropRow(c *conn, id vine.ID) error {
	block, err := t.blockOfRow(c, id)
	if err != nil || block == 0 {
		return orMissing(err, "row %d", id)
	}
	t.giveUp(block)
	if err := t.touchGround(c, block); err != nil {
		return err
	}
	return t.clearRow(c, id, block)
}

func (t *tx) clearRow(c *conn, id, block vine.ID) error {
	vines, err := c.ids("SELECT id FROM vine WHERE row_id = ?", id)
	if err == nil {
		err = each(vines, func(v vine.ID) error { return t.clearVine(c, v, block) })
	}
	if err != nil {
		return err
	}
	return t.clearLine(c, id, block)
}

// clearLine takes a row without vines out of all tables but the log.
func (t *tx) clearLine(c *conn, id, block vine.ID) error {
	delete(t.rowOf, id)
	delete(t.names.rows, id)
	if d := t.dirty[block]; d != nil {
		delete(d.rows, id)
	}
	for _, sql := range []string{"DELETE FROM old_label WHERE of_id = ?", "DELETE FROM rtree_vine_row_geom WHERE id = ?", "DELETE FROM vine_row WHERE id = ?"} {
		if err := c.exec(sql, id); err != nil {
			return err
		}
	}
	return nil
}

// clearWhole does so for a row of a block that goes, whose states and plans are
// gone already: many vines at once.
func (t *tx) clearWhole(c *conn, id, block vine.ID) error {
	vines, err := c.ids("SELECT id FROM vine WHERE row_id = ?", id)
	if err != nil {
		return err
	}
	for _, v := range vines {
		t.index.drop(v)
		delete(t.names.vines, v)
	}
	for _, sql := range []string{"DELETE FROM old_label WHERE of_id IN (SELECT id FROM vine WHERE row_id = ?)",
		"DELETE FROM vine_stay WHERE vine_id IN (SELECT id FROM vine WHERE row_id = ?)", "DELETE FROM vine WHERE row_id = ?"} {
		if err := c.exec(sql, id); err != nil {
			return err
		}
	}
	return t.clearLine(c, id, block)
}

// emptyBlock takes all out of a block. Its revision stays: by it everyone who
// holds the block hears that it changed, and finds it gone.
func (t *tx) emptyBlock(c *conn, id vine.ID) error {
	if _, found, err := readBlock(c, id); err != nil || !found {
		return orMissing(err, "block %d", id)
	}
	t.giveUp(id)
	if err := t.touchGround(c, id); err != nil {
		return err
	}
	for _, sql := range []string{
		"DELETE FROM plan_entry WHERE plan_id IN (SELECT id FROM plan WHERE block_id = ?)", "DELETE FROM plan WHERE block_id = ?",
		"DELETE FROM vine_state WHERE block_id = ?",
	} {
		if err := c.exec(sql, id); err != nil {
			return err
		}
	}
	rows, err := c.ids("SELECT id FROM vine_row WHERE block_id = ?", id)
	if err == nil {
		err = each(rows, func(row vine.ID) error { return t.clearWhole(c, row, id) })
	}
	if err != nil {
		return err
	}
	t.touched[id].planted, t.touched[id].written = 0, 0
	delete(t.names.blocks, id)
	delete(t.dirty, id)
	for _, sql := range []string{
		"DELETE FROM block_copy WHERE block_id = ?", "DELETE FROM standards WHERE block_id = ?", "DELETE FROM paper WHERE block_id = ?",
		"DELETE FROM old_label WHERE of_id = ?", "DELETE FROM rtree_block_geom WHERE id = ?",
	} {
		if err := c.exec(sql, id); err != nil {
			return err
		}
	}
	return nil
}

// DropSeason takes a season off the list. Who holds blocks reads the list anew
// where a plan changed.
func (t *tx) DropSeason(season int) error {
	return t.run(t.ctx, fmt.Sprintf("drop season %d", season), func(c *conn) error {
		for _, b := range t.touched {
			b.plan = true
		}
		return c.exec("DELETE FROM season WHERE season = ?", season)
	})
}
