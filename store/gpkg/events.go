package gpkg

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

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
