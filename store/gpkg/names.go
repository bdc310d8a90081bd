package gpkg

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// oldNames keeps what blocks, rows and vines were called when the transaction
// began, as far as it changes that. What is new in the transaction had no name.
type oldNames struct {
	blocks map[vine.ID]string
	rows   map[vine.ID]string
	vines  map[vine.ID]oldVine
}

type oldVine struct {
	number  int
	tag     string
	address string // where it was moved: how it was called
}

func (n *oldNames) block(id vine.ID, code string) { keepFirst(&n.blocks, id, code) }
func (n *oldNames) row(id vine.ID, label string)  { keepFirst(&n.rows, id, label) }
func (n *oldNames) vine(id vine.ID, v store.Vine) {
	keepFirst(&n.vines, id, oldVine{number: v.Number, tag: v.Tag})
}

func keepFirst[T any](m *map[vine.ID]T, id vine.ID, v T) {
	if *m == nil {
		*m = make(map[vine.ID]T)
	}
	if _, ok := (*m)[id]; !ok {
		(*m)[id] = v
	}
}

// saveOldNames writes the names that are no longer borne. What the transaction
// itself made has none: it is only known since.
func (t *tx) saveOldNames(c *conn) error {
	until := micros(t.store.now())
	keep := func(id vine.ID, what, label string) error {
		return c.exec("INSERT INTO old_label (of_id, what, label, label_key, until) VALUES (?, ?, ?, ?, ?)",
			id, what, label, logbook.Key(label), until)
	}
	for _, id := range slices.Sorted(maps.Keys(t.names.blocks)) {
		b, _, err := readBlock(c, id)
		if err == nil && b.Code != t.names.blocks[id] && !t.isNew(id) {
			err = keep(id, "code", t.names.blocks[id])
		}
		if err != nil {
			return err
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.names.rows)) {
		r, _, err := readRow(c, id)
		if err == nil && r.Label != t.names.rows[id] && !t.isNew(id) {
			err = keep(id, "label", t.names.rows[id])
		}
		if err != nil {
			return err
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.names.vines)) {
		if t.isNew(id) {
			continue
		}
		if err := t.saveOldVine(c, id, t.names.vines[id], keep); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) isNew(id vine.ID) bool { return id > t.lastID }

func (t *tx) saveOldVine(c *conn, id vine.ID, was oldVine, keep func(id vine.ID, what, label string) error) error {
	v, _, err := readVine(c, id)
	if err != nil {
		return err
	}
	if v.Number != was.number || was.address != "" {
		address, err := t.oldAddress(c, v, was)
		if err == nil && address != pathOf(c, v.Row)+"/"+strconv.Itoa(v.Number) {
			err = keep(id, "address", address)
		}
		if err != nil {
			return err
		}
	}
	if was.tag != "" && v.Tag != was.tag {
		return keep(id, "tag", was.tag)
	}
	return nil
}

// oldAddress gives an address as it was when the transaction began.
func (t *tx) oldAddress(c *conn, v store.Vine, was oldVine) (string, error) {
	if was.address != "" {
		return was.address, nil
	}
	a := vine.Address{Block: t.names.blocks[v.Block], Row: t.names.rows[v.Row], Number: was.number}
	_, err := c.one("SELECT b.code, r.label FROM vine_row r JOIN block b ON b.id = r.block_id WHERE r.id = ?", func(s *sqlite3.Stmt) error {
		a.Block, a.Row = cmp.Or(a.Block, s.ColumnText(0)), cmp.Or(a.Row, s.ColumnText(1))
		return nil
	}, v.Row)
	return a.String(), err
}

// checkLabels refuses a transaction that would leave two blocks with one code,
// two rows of a block with one label or two vines of a row with one number.
func (t *tx) checkLabels(c *conn) error {
	if t.blocks {
		err := onlyOnce(c, "blocks", "code", "SELECT code, min(id), max(id) FROM block GROUP BY code HAVING count(*) > 1 LIMIT 1")
		if err != nil {
			return err
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.rows)) {
		err := onlyOnce(c, fmt.Sprintf("rows of block %s", codeOf(c, id)), "label",
			"SELECT label, min(id), max(id) FROM vine_row WHERE block_id = ? GROUP BY label HAVING count(*) > 1 LIMIT 1", id)
		if err != nil {
			return err
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.numbers)) {
		err := onlyOnce(c, fmt.Sprintf("vines of row %s", pathOf(c, id)), "number",
			"SELECT number, min(id), max(id) FROM vine WHERE row_id = ? GROUP BY number HAVING count(*) > 1 LIMIT 1", id)
		if err != nil {
			return err
		}
	}
	return nil
}

func onlyOnce(c *conn, things, what, query string, args ...any) error {
	var twice error
	err := c.each(query, func(s *sqlite3.Stmt) error {
		twice = fmt.Errorf("two %s have the %s %s (ids %d and %d): give one of them another: %w",
			things, what, s.ColumnText(0), s.ColumnInt64(1), s.ColumnInt64(2), store.ErrConflict)
		return nil
	}, args...)
	return cmp.Or(err, twice)
}

// codeOf and pathOf name a block and a row for a message; where that cannot be
// read, the message goes without.
func codeOf(c *conn, block vine.ID) (code string) {
	c.one("SELECT code FROM block WHERE id = ?", func(s *sqlite3.Stmt) error {
		code = s.ColumnText(0)
		return nil
	}, block)
	return code
}

func pathOf(c *conn, row vine.ID) (path string) {
	c.one("SELECT b.code || '/' || r.label FROM vine_row r JOIN block b ON b.id = r.block_id WHERE r.id = ?", func(s *sqlite3.Stmt) error {
		path = s.ColumnText(0)
		return nil
	}, row)
	return path
}
