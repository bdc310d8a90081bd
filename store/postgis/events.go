package postgis

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"courson/geo/vine"
	"courson/store"
)

const selectEvents = `
	SELECT e.cursor, e.event_id, e.device, e.seq, e.made_at, e.happened, e.received, e.by_whom, e.season,
	       e.block_id, e.row_id, e.vines, e.kind, e.value`

func scanEvent(row pgx.CollectableRow) (store.LoggedEvent, error) {
	var e store.LoggedEvent
	var seq int64
	var inRow pgtype.Int8
	var value []byte
	err := row.Scan(&e.Cursor, &e.ID, &e.Device, &seq, &e.At, &e.When, &e.Received, &e.By, &e.Season,
		&e.Target.Block, &inRow, &e.Target.Vines, &e.Kind, &value)
	if err != nil {
		return e, err
	}
	e.Seq, e.Target.Row = uint64(seq), inRow.Int64
	e.At, e.When, e.Received = e.At.UTC(), e.When.UTC(), e.Received.UTC()
	if e.Body, err = vine.DecodeBody(e.Kind, value); err != nil {
		return e, fmt.Errorf("event %s: %w", e.ID, err)
	}
	return e, nil
}

// Seasons gives the seasons in which anything is recorded or planned, rising.
func (r reader) Seasons(ctx context.Context) ([]int, error) {
	rows, err := r.q.Query(ctx, `SELECT season FROM estate_season WHERE estate_id = $1 ORDER BY season`, r.estate)
	if err != nil {
		return nil, fail("seasons", err)
	}
	seasons, err := pgx.CollectRows(rows, pgx.RowTo[int])
	return seasons, fail("seasons", err)
}
