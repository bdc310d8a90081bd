package gpkg

import (
	"fmt"
	"reflect"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// SaveEstate writes the estate's own record; its id is not read.
func (t *tx) SaveEstate(e store.Estate) error {
	return t.run(t.ctx, "save the estate", func(c *conn) error {
		for _, text := range []string{e.Name, e.Zone, e.ScoreScale} {
			if err := logbook.CheckText("estate", text); err != nil {
				return err
			}
		}
		return c.exec("INSERT OR REPLACE INTO estate VALUES (?, ?, ?, ?, ?, ?)",
			estateID, e.Name, e.South, e.Zone, e.USUnits, e.ScoreScale)
	})
}

// newID gives n ids that were never given before, and returns the first.
func newIDs(c *conn, n int) (vine.ID, error) {
	last, err := c.number("UPDATE counter SET value = value + ? WHERE name = 'last_id' RETURNING value", n)
	return last - int64(n) + 1, err
}

// SaveBlocks writes blocks by id.
func (t *tx) SaveBlocks(blocks []store.Block) error {
	for i := range blocks {
		what := fmt.Sprintf("save block %q", blocks[i].Code)
		if err := t.run(t.ctx, what, func(c *conn) error { return t.saveBlock(c, &blocks[i]) }); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) saveBlock(c *conn, b *store.Block) error {
	if err := logbook.CheckBlock(*b); err != nil {
		return err
	}
	if b.ID == 0 {
		return t.addBlock(c, b)
	}
	old, found, err := readBlock(c, b.ID)
	if err != nil || !found {
		return orMissing(err, "block %d", b.ID)
	}
	args, same, err := blockArgs(*b, old)
	if err != nil || same {
		return err
	}
	if old.Code != b.Code {
		t.names.block(b.ID, old.Code)
		t.blocks = true
	}
	if old.Planted != b.Planted {
		t.dirtyIn(b.ID).all = true
	}
	err = c.exec(`UPDATE block SET geom = ?, code = ?, name = ?, variety = ?, clone = ?, rootstock = ?, planted = ?,
		row_spacing_m = ?, vine_spacing_m = ?, system = ?, numbering_end = ?, extra = CAST(? AS TEXT) WHERE id = ?`,
		append(args, b.ID)...)
	if err == nil {
		err = indexShape(c, "block", b.ID, args[0])
	}
	if err != nil {
		return err
	}
	return t.touchGround(c, b.ID)
}

func (t *tx) addBlock(c *conn, b *store.Block) error {
	args, _, err := blockArgs(*b, store.Block{})
	if err != nil {
		return err
	}
	id, err := newIDs(c, 1)
	if err != nil {
		return err
	}
	t.blocks = true
	err = c.exec(`INSERT INTO block (geom, code, name, variety, clone, rootstock, planted, row_spacing_m,
		vine_spacing_m, system, numbering_end, extra, id) VALUES (?,?,?,?,?,?,?,?,?,?,?,CAST(? AS TEXT),?)`, append(args, id)...)
	if err == nil {
		err = c.exec("INSERT INTO block_revision (block_id) VALUES (?)", id)
	}
	if err == nil {
		err = indexShape(c, "block", id, args[0])
	}
	if err != nil {
		return err
	}
	b.ID = id
	return t.touchGround(c, id)
}

// blockArgs gives the columns of a block and tells whether they are those of
// the old one.
func blockArgs(b, old store.Block) (args []any, same bool, err error) {
	columns := func(b store.Block) ([]any, error) {
		geom, err := shape(b.Outline)
		if err != nil {
			return nil, err
		}
		extra, err := writeExtra(b.Extra)
		return []any{geom, b.Code, b.Name, b.Variety, b.Clone, b.Rootstock, b.Planted, b.RowSpacingM,
			b.VineSpacingM, b.System, b.NumberingEnd, extra}, err
	}
	if args, err = columns(b); err != nil {
		return nil, false, err
	}
	was, err := columns(old)
	return args, reflect.DeepEqual(args, was), err
}

// SaveRows writes rows by id.
func (t *tx) SaveRows(rows []store.Row) error {
	for i := range rows {
		what := fmt.Sprintf("save row %q of block %d", rows[i].Label, rows[i].Block)
		if err := t.run(t.ctx, what, func(c *conn) error { return t.saveRow(c, &rows[i]) }); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) saveRow(c *conn, r *store.Row) error {
	if err := logbook.CheckRow(*r); err != nil {
		return err
	}
	var old store.Row
	if r.ID != 0 {
		var found bool
		var err error
		if old, found, err = readRow(c, r.ID); err != nil || !found {
			return orMissing(err, "row %d", r.ID)
		}
		if old.Block != r.Block {
			return fmt.Errorf("row %d stands in block %d and cannot leave it: %w", r.ID, old.Block, store.ErrConflict)
		}
	} else if n, err := c.number("SELECT count(*) FROM block WHERE id = ?", r.Block); err != nil || n == 0 {
		return orMissing(err, "block %d", r.Block)
	}
	args, same, err := rowArgs(*r, old)
	if err != nil || same && r.ID != 0 {
		return err
	}
	if r.ID == 0 {
		return t.addRow(c, r, args)
	}
	t.giveUp(r.Block)
	if old.Label != r.Label {
		t.names.row(r.ID, old.Label)
		t.rows[r.Block] = true
	}
	err = c.exec(`UPDATE vine_row SET geom = ?, block_id = ?, label = ?, ord = ?, length_m = ?, spacing_m = ?,
		extra = CAST(? AS TEXT) WHERE id = ?`, append(args, r.ID)...)
	if err == nil {
		err = indexShape(c, "vine_row", r.ID, args[0])
	}
	if err != nil {
		return err
	}
	return t.touchGround(c, r.Block)
}

func (t *tx) addRow(c *conn, r *store.Row, args []any) error {
	id, err := newIDs(c, 1)
	if err != nil {
		return err
	}
	t.rows[r.Block] = true
	err = c.exec(`INSERT INTO vine_row (geom, block_id, label, ord, length_m, spacing_m, extra, id)
		VALUES (?, ?, ?, ?, ?, ?, CAST(? AS TEXT), ?)`, append(args, id)...)
	if err == nil {
		err = indexShape(c, "vine_row", id, args[0])
	}
	if err != nil {
		return err
	}
	r.ID = id
	t.rowOf[id] = r.Block
	return t.touchGround(c, r.Block)
}

func rowArgs(r, old store.Row) (args []any, same bool, err error) {
	columns := func(r store.Row) ([]any, error) {
		geom, err := shape(r.Line)
		if err != nil {
			return nil, err
		}
		extra, err := writeExtra(r.Extra)
		return []any{geom, r.Block, r.Label, r.Ord, r.LengthM, r.SpacingM, extra}, err
	}
	if args, err = columns(r); err != nil {
		return nil, false, err
	}
	was, err := columns(old)
	return args, reflect.DeepEqual(args, was), err
}

// blockOfRow tells in which block a row stands, 0 if there is no such row.
func (t *tx) blockOfRow(c *conn, row vine.ID) (vine.ID, error) {
	if b, ok := t.rowOf[row]; ok {
		return b, nil
	}
	var block vine.ID
	_, err := c.one("SELECT block_id FROM vine_row WHERE id = ?", func(s *sqlite3.Stmt) error {
		block = s.ColumnInt64(0)
		return nil
	}, row)
	if err == nil && block != 0 {
		t.rowOf[row] = block
	}
	return block, err
}
