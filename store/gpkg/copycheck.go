package gpkg

import (
	"bytes"
	"reflect"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
)

// wrongCopies holds the copies of a block that count now against the rows they
// were made from. It gives the seasons of those that differ and the number of
// vines they are wrong about, at least one for each.
func wrongCopies(c *conn, block vine.ID) (seasons []int, wrong int, err error) {
	var all []int
	err = c.each("SELECT season FROM block_copy WHERE block_id = ? ORDER BY season", func(s *sqlite3.Stmt) error {
		all = append(all, s.ColumnInt(0))
		return nil
	}, block)
	for _, season := range all {
		var n int
		if err == nil {
			n, err = wrongCopy(c, block, season)
		}
		if n > 0 {
			seasons, wrong = append(seasons, season), wrong+n
		}
	}
	return seasons, wrong, err
}

func wrongCopy(c *conn, block vine.ID, season int) (int, error) {
	m, _, err := markOf(c, block, season)
	if err != nil {
		return 0, err
	}
	counts, err := c.number("SELECT count(*) FROM block_copy WHERE block_id = ? AND season = ? AND revision = ? AND edits = ?",
		block, season, m.revision, m.edits)
	if err != nil || counts == 0 {
		return 0, err
	}
	data, err := readCopy(c, block, season, m)
	if err != nil {
		return 0, err
	}
	if season == 0 {
		vines, err := readVines(c, block)
		if err != nil || bytes.Equal(data, packVines(vines)) {
			return 0, err
		}
		copied, err := unpackVines(data, block)
		return unlike(vines, copied, err), nil
	}
	held, err := readStates(c, block, season, 0)
	if err != nil || bytes.Equal(data, held.pack()) {
		return 0, err
	}
	states, err := held.list()
	if err != nil {
		return 0, err
	}
	var copied []store.VineState
	h, broken := unpackStates(data, season)
	if broken == nil {
		copied, broken = h.list()
	}
	return unlike(states, copied, broken), nil
}

// list gives all states at once.
func (h *heldStates) list() (out []store.VineState, err error) {
	for s, err := range h.all() {
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// unlike counts the entries in which a copy differs; at least one where it is
// broken.
func unlike[T any](rows, copied []T, broken error) int {
	if broken != nil {
		return max(len(rows), 1)
	}
	both := min(len(rows), len(copied))
	n := len(rows) + len(copied) - 2*both
	for i := range both {
		if !reflect.DeepEqual(rows[i], copied[i]) {
			n++
		}
	}
	return n
}

// dropCopies takes away copies that are wrong. Whoever holds the block in memory
// may have it from them and must load it anew.
func (t *tx) dropCopies(c *conn, block vine.ID, seasons []int) error {
	for _, season := range seasons {
		if err := c.exec("DELETE FROM block_copy WHERE block_id = ? AND season = ?", block, season); err != nil {
			return err
		}
	}
	return t.touchGround(c, block)
}
