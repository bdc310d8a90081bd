package gpkg

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

const eventColumns = `e.cursor, e.uuid, e.device, e.seq, e.at, e.happened, e.received, e.by_whom,
	e.season, e.block_id, e.row_id, e.vines, e.kind, e.value`

func scanEvent(s *sqlite3.Stmt) (store.LoggedEvent, error) {
	e := store.LoggedEvent{Cursor: s.ColumnInt64(0), Event: vine.Event{
		Device: s.ColumnText(2), Seq: uint64(s.ColumnInt64(3)),
		At: moment(s.ColumnInt64(4)), When: moment(s.ColumnInt64(5)), Received: moment(s.ColumnInt64(6)),
		By: s.ColumnText(7), Season: s.ColumnInt(8),
		Target: vine.Target{Block: s.ColumnInt64(9), Row: s.ColumnInt64(10)},
		Kind:   vine.Kind(s.ColumnText(12)),
	}}
	var err error
	if e.ID, err = uuid.FromBytes(s.ColumnRawBlob(1)); err != nil {
		return e, fmt.Errorf("event %d: %w", e.Cursor, err)
	}
	if e.Target.Vines, err = readIDs(s.ColumnRawBlob(11)); err != nil {
		return e, fmt.Errorf("event %d: %w", e.Cursor, err)
	}
	if e.Body, err = vine.DecodeBody(e.Kind, slices.Clone(s.ColumnRawText(13))); err != nil {
		return e, fmt.Errorf("event %d: %w", e.Cursor, err)
	}
	return e, nil
}

// insertEvent writes one event and gives its cursor.
func insertEvent(c *conn, a logbook.Accepted) (int64, error) {
	var row any
	if a.Target.Row != 0 {
		row = a.Target.Row
	}
	return c.number(`INSERT INTO event (uuid, device, seq, at, happened, received, by_whom, season,
		block_id, row_id, vines, kind, value) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?) RETURNING cursor`,
		a.ID[:], a.Device, int64(a.Seq), micros(a.At), micros(a.When), micros(a.Received), a.By, a.Season,
		a.Target.Block, row, appendIDs(nil, a.Target.Vines), string(a.Kind), string(a.Value))
}

// appendIDs writes ids as differences, zigzag varints: neighbours in a row take
// one byte each. No ids give no blob.
func appendIDs(dst []byte, ids []vine.ID) []byte {
	var last vine.ID
	for _, id := range ids {
		dst = binary.AppendVarint(dst, id-last)
		last = id
	}
	return dst
}

func readIDs(blob []byte) ([]vine.ID, error) {
	if len(blob) == 0 {
		return nil, nil
	}
	out := make([]vine.ID, 0, len(blob))
	var last vine.ID
	for len(blob) > 0 {
		d, n := binary.Varint(blob)
		if n <= 0 {
			return nil, errors.New("its list of vines is damaged")
		}
		last += d
		out = append(out, last)
		blob = blob[n:]
	}
	return out, nil
}

func readSeasons(c *conn) (out []int, err error) {
	err = c.each("SELECT season FROM season ORDER BY season", func(s *sqlite3.Stmt) error {
		out = append(out, s.ColumnInt(0))
		return nil
	})
	return out, err
}

// readEvents answers a query. The tables lead to candidates; what an event
// covers is told by its own list of vines.
func readEvents(c *conn, q store.EventQuery) (out []store.LoggedEvent, err error) {
	where, args, covers, err := narrowQuery(c, q)
	if err != nil || where == "" {
		return nil, err
	}
	limit := q.Limit
	if limit <= 0 {
		limit = math.MaxInt
	}
	err = c.each("SELECT "+eventColumns+" FROM event e WHERE "+where+" ORDER BY e.cursor", func(s *sqlite3.Stmt) error {
		e, err := scanEvent(s)
		if err == nil && covers(e.Target) {
			out = append(out, e)
		}
		if err == nil && len(out) >= limit {
			err = errEnough
		}
		return err
	}, args...)
	if errors.Is(err, errEnough) {
		err = nil
	}
	return out, err
}

var errEnough = errors.New("enough")

// narrowQuery gives the condition for the table and the test for what it cannot
// tell. An empty condition means that nothing fits.
func narrowQuery(c *conn, q store.EventQuery) (string, []any, func(vine.Target) bool, error) {
	conds, args := []string{"e.cursor > ?"}, []any{q.After}
	add := func(cond string, values ...any) {
		conds, args = append(conds, cond), append(args, values...)
	}
	if q.Block != 0 {
		add("e.block_id = ?", q.Block)
	}
	if q.Season != 0 {
		add("e.season = ?", q.Season)
	}
	if q.Device != "" {
		add("e.device = ?", q.Device)
	}
	covers := func(vine.Target) bool { return true }
	if q.Row != 0 {
		r, found, err := readRow(c, q.Row)
		if err != nil || !found {
			return "", nil, nil, err
		}
		add(`e.cursor IN (SELECT cursor FROM event_about WHERE about IN (?, ?)
			UNION SELECT a.cursor FROM vine v JOIN event_about a ON a.about = v.id WHERE v.row_id = ?)`, r.ID, r.Block, r.ID)
	}
	if q.Vine != 0 {
		v, found, err := readVine(c, q.Vine)
		if err != nil || !found {
			return "", nil, nil, err
		}
		add("e.cursor IN (SELECT cursor FROM event_about WHERE about IN (?, ?, ?))", v.ID, v.Row, v.Block)
		place := vine.Place{ID: v.ID, Row: v.Row, Block: v.Block}
		covers = func(t vine.Target) bool { return t.Covers(place) }
	}
	return strings.Join(conds, " AND "), args, covers, nil
}
