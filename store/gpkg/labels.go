package gpkg

import (
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// mostFound is how many vines a search gives at most.
const mostFound = 50

func readOldLabels(c *conn, id vine.ID) (out []store.OldLabel, err error) {
	err = c.each("SELECT label, until FROM old_label WHERE of_id = ? ORDER BY id DESC", func(s *sqlite3.Stmt) error {
		out = append(out, store.OldLabel{Label: s.ColumnText(0), Until: moment(s.ColumnInt64(1))})
		return nil
	}, id)
	return out, err
}

// moment reads a time kept as microseconds since 1970, and micros writes it.
// The zero time is kept as itself: it is a moment like any other.
func moment(us int64) time.Time {
	if us == zeroMicros {
		return time.Time{}
	}
	return time.UnixMicro(us).UTC()
}

// zeroMicros is time.Time{} in microseconds since 1970.
const zeroMicros = -62135596800 * 1_000_000

func micros(t time.Time) int64 { return t.UnixMicro() }

// findLabel looks the text up as a tag, as an old label, and as an address made
// of labels old or new.
func findLabel(c *conn, text string) ([]store.Vine, error) {
	key := logbook.Key(text)
	if key == "" {
		return nil, nil
	}
	ids, err := c.ids("SELECT id FROM vine WHERE tag_key = ? ORDER BY id LIMIT ?", key, mostFound)
	if err != nil {
		return nil, err
	}
	old, err := c.ids(`SELECT v.id FROM old_label o JOIN vine v ON v.id = o.of_id
		WHERE o.label_key = ? ORDER BY v.id LIMIT ?`, key, mostFound)
	if err != nil {
		return nil, err
	}
	at, err := findAddress(c, text)
	if err != nil {
		return nil, err
	}
	ids = append(append(ids, old...), at...)
	slices.Sort(ids)
	ids = slices.Compact(ids)
	out := make([]store.Vine, 0, min(len(ids), mostFound))
	for _, id := range ids[:min(len(ids), mostFound)] {
		v, _, err := readVine(c, id)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// findAddress resolves block/row/vine. Codes and labels are compared in Go,
// where letter case means the same in every store; there are few of them.
func findAddress(c *conn, text string) ([]vine.ID, error) {
	block, row, number, ok := logbook.SplitAddress(text)
	if !ok {
		return nil, nil
	}
	blocks, err := called(c, block, "SELECT id, code FROM block")
	if err != nil {
		return nil, err
	}
	var out []vine.ID
	for _, b := range blocks {
		rows, err := called(c, row, "SELECT id, label FROM vine_row WHERE block_id = ?", b)
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			ids, err := c.ids("SELECT id FROM vine WHERE row_id = ? AND number = ?", r, number)
			if err != nil {
				return nil, err
			}
			out = append(out, ids...)
		}
	}
	return out, nil
}

// called gives the things among the query's (id, label) that have the label or
// had it before.
func called(c *conn, key, query string, args ...any) ([]vine.ID, error) {
	had, err := c.ids("SELECT of_id FROM old_label WHERE label_key = ?", key)
	if err != nil {
		return nil, err
	}
	var out []vine.ID
	err = c.each(query, func(s *sqlite3.Stmt) error {
		id := s.ColumnInt64(0)
		if logbook.Key(s.ColumnText(1)) == key || slices.Contains(had, id) {
			out = append(out, id)
		}
		return nil
	}, args...)
	return out, err
}

// ids runs a query that gives ids.
func (c *conn) ids(query string, args ...any) (out []vine.ID, err error) {
	err = c.each(query, func(s *sqlite3.Stmt) error {
		out = append(out, s.ColumnInt64(0))
		return nil
	}, args...)
	return out, err
}
