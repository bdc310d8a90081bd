package gpkg

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
)

// estateID is the number of the one estate in a file.
const estateID = 1

func readEstate(c *conn) (store.Estate, error) {
	e := store.Estate{ID: estateID}
	_, err := c.one("SELECT name, south, zone, us_units, score_scale FROM estate", func(s *sqlite3.Stmt) error {
		e.Name, e.South, e.Zone = s.ColumnText(0), s.ColumnBool(1), s.ColumnText(2)
		e.USUnits, e.ScoreScale = s.ColumnBool(3), s.ColumnText(4)
		return nil
	})
	return e, err
}

const selectBlocks = `SELECT id, geom, code, name, variety, clone, rootstock, planted, row_spacing_m,
	vine_spacing_m, system, numbering_end, extra, revision, ground_rev
	FROM block JOIN block_revision ON block_id = id `

func scanBlock(s *sqlite3.Stmt) (b store.Block, err error) {
	b = store.Block{
		ID: s.ColumnInt64(0), Code: s.ColumnText(2), Name: s.ColumnText(3), Variety: s.ColumnText(4),
		Clone: s.ColumnText(5), Rootstock: s.ColumnText(6), Planted: s.ColumnInt(7),
		RowSpacingM: s.ColumnFloat(8), VineSpacingM: s.ColumnFloat(9), System: s.ColumnText(10),
		NumberingEnd: s.ColumnText(11), Revision: s.ColumnInt64(13), GroundRev: s.ColumnInt64(14),
	}
	if b.Outline, err = readOutline(s.ColumnRawBlob(1)); err != nil {
		return b, fmt.Errorf("outline of block %d: %w", b.ID, err)
	}
	if b.Extra, err = readExtra(s.ColumnRawText(12)); err != nil {
		return b, fmt.Errorf("properties of block %d: %w", b.ID, err)
	}
	return b, nil
}

func readBlocks(c *conn) (out []store.Block, err error) {
	err = c.each(selectBlocks+"ORDER BY code, id", func(s *sqlite3.Stmt) error {
		b, err := scanBlock(s)
		out = append(out, b)
		return err
	})
	return out, err
}

func readBlock(c *conn, id vine.ID) (b store.Block, found bool, err error) {
	found, err = c.one(selectBlocks+"WHERE id = ?", func(s *sqlite3.Stmt) (err error) {
		b, err = scanBlock(s)
		return err
	}, id)
	return b, found, err
}

const rowColumns = "id, geom, block_id, label, ord, length_m, spacing_m, extra"

func scanRow(s *sqlite3.Stmt) (r store.Row, err error) {
	r = store.Row{
		ID: s.ColumnInt64(0), Block: s.ColumnInt64(2), Label: s.ColumnText(3), Ord: s.ColumnInt(4),
		LengthM: s.ColumnFloat(5), SpacingM: s.ColumnFloat(6),
	}
	if r.Line, err = readLines(s.ColumnRawBlob(1)); err != nil {
		return r, fmt.Errorf("line of row %d: %w", r.ID, err)
	}
	if r.Extra, err = readExtra(s.ColumnRawText(7)); err != nil {
		return r, fmt.Errorf("properties of row %d: %w", r.ID, err)
	}
	return r, nil
}

func readRows(c *conn, block vine.ID) (out []store.Row, err error) {
	err = c.each("SELECT "+rowColumns+" FROM vine_row WHERE block_id = ? ORDER BY ord, id", func(s *sqlite3.Stmt) error {
		r, err := scanRow(s)
		out = append(out, r)
		return err
	}, block)
	return out, err
}

func readRow(c *conn, id vine.ID) (r store.Row, found bool, err error) {
	found, err = c.one("SELECT "+rowColumns+" FROM vine_row WHERE id = ?", func(s *sqlite3.Stmt) (err error) {
		r, err = scanRow(s)
		return err
	}, id)
	return r, found, err
}

const vineColumns = "v.id, v.geom, v.block_id, v.row_id, v.number, v.chainage_m, v.part, v.planted, v.tag"

func scanVine(s *sqlite3.Stmt) (v store.Vine, err error) {
	v = store.Vine{
		ID: s.ColumnInt64(0), Block: s.ColumnInt64(2), Row: s.ColumnInt64(3), Number: s.ColumnInt(4),
		ChainageM: s.ColumnFloat(5), Part: s.ColumnInt(6), Planted: s.ColumnInt(7), Tag: s.ColumnText(8),
	}
	if v.Point, err = readPoint(s.ColumnRawBlob(1)); err != nil {
		return v, fmt.Errorf("point of vine %d: %w", v.ID, err)
	}
	return v, nil
}

// readVines goes through the rows in their order, so that nothing is sorted.
func readVines(c *conn, block vine.ID) (out []store.Vine, err error) {
	n, err := c.number(countInBlock, block)
	if err != nil {
		return nil, err
	}
	out = make([]store.Vine, 0, n)
	err = c.each("SELECT "+vineColumns+` FROM vine_row r CROSS JOIN vine v ON v.row_id = r.id
		WHERE r.block_id = ? ORDER BY r.ord, r.id, v.number, v.id`, func(s *sqlite3.Stmt) error {
		v, err := scanVine(s)
		out = append(out, v)
		return err
	}, block)
	return out, err
}

func readVine(c *conn, id vine.ID) (v store.Vine, found bool, err error) {
	found, err = c.one("SELECT "+vineColumns+" FROM vine v WHERE v.id = ?", func(s *sqlite3.Stmt) (err error) {
		v, err = scanVine(s)
		return err
	}, id)
	return v, found, err
}

// writeExtra gives properties as JSON, nil where there are none.
func writeExtra(extra map[string]any) ([]byte, error) {
	if len(extra) == 0 {
		return nil, nil
	}
	return json.Marshal(extra)
}

func readExtra(text []byte) (map[string]any, error) {
	if len(text) == 0 {
		return nil, nil
	}
	dec := json.NewDecoder(strings.NewReader(string(text)))
	dec.UseNumber()
	var out map[string]any
	if err := dec.Decode(&out); err != nil {
		return nil, err
	}
	plainNumbers(out)
	return out, nil
}

// plainNumbers turns numbers into float64 where that loses nothing; a long
// integer, such as an id of the source, stays as it was written.
func plainNumbers(v any) any {
	switch x := v.(type) {
	case map[string]any:
		for k, e := range x {
			x[k] = plainNumbers(e)
		}
	case []any:
		for i, e := range x {
			x[i] = plainNumbers(e)
		}
	case json.Number:
		f, err := x.Float64()
		if err != nil {
			return x
		}
		if n, err := strconv.ParseInt(string(x), 10, 64); err == nil && (n > 1<<53 || n < -1<<53) {
			return x
		}
		return f
	}
	return v
}
