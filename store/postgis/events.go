package postgis

import (
	"context"
	"errors"
	"fmt"
	"strings"

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

// Events gives the log by query, in order of receipt.
func (r reader) Events(ctx context.Context, q store.EventQuery) ([]store.LoggedEvent, error) {
	sql, args, err := r.eventQuery(ctx, q)
	if err != nil || sql == "" {
		return nil, fail("events", err)
	}
	rows, err := r.q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fail("events", err)
	}
	events, err := pgx.CollectRows(rows, scanEvent)
	return events, fail("events", err)
}

// The places in the log of what may cover a vine ($2, in row $3 of block $4), and
// of what covers a row (of which row and block are filled in). What is kept under
// the vine's row may be about other vines of it: see eventQuery.
const (
	cursorsOfVine = `
		SELECT n.cursor FROM event_about n WHERE n.estate_id = $1 AND n.about_id = $2
		UNION SELECT n.cursor FROM event_about n WHERE n.estate_id = $1 AND n.about_id = $3
		UNION SELECT n.cursor FROM event_about n WHERE n.estate_id = $1 AND n.about_id = $4`
	cursorsOfRow = `
		SELECT n.cursor FROM (SELECT vine_id FROM vine WHERE estate_id = $1 AND row_id = %[1]d OFFSET 0) v
		CROSS JOIN LATERAL (SELECT cursor FROM event_about WHERE estate_id = $1 AND about_id = v.vine_id OFFSET 0) n
		UNION SELECT n.cursor FROM event_about n WHERE n.estate_id = $1 AND n.about_id = %[1]d
		UNION SELECT n.cursor FROM event_about n WHERE n.estate_id = $1 AND n.about_id = %[2]d`
)

// eventQuery writes the query; "" where a named row or vine does not exist.
func (r reader) eventQuery(ctx context.Context, q store.EventQuery) (string, []any, error) {
	cursors, args, err := r.covering(ctx, q)
	if err != nil || cursors == nil {
		return "", nil, err
	}
	sql := selectEvents + ` FROM event e WHERE e.estate_id = $1`
	if len(cursors) > 0 {
		sql = selectEvents + ` FROM (` + strings.Join(cursors, ` INTERSECT `) + `) c` + eventAt + ` WHERE true`
	}
	and := func(condition string, value any) {
		args = append(args, value)
		sql += fmt.Sprintf(" AND "+condition, len(args))
	}
	if q.Vine != 0 {
		and(`(e.vines IS NULL OR $%d = ANY (e.vines))`, q.Vine)
	}
	if q.Block != 0 {
		and(`e.block_id = $%d`, q.Block)
	}
	if q.Season != 0 {
		and(`e.season = $%d`, q.Season)
	}
	if q.After != 0 {
		and(`e.cursor > $%d`, q.After)
	}
	if q.Device != "" {
		and(`e.device = $%d`, q.Device)
	}
	sql += " ORDER BY e.cursor"
	if q.Limit > 0 {
		args = append(args, q.Limit)
		sql += fmt.Sprintf(" LIMIT $%d", len(args))
	}
	return sql, args, nil
}

// covering gives the queries for what covers the named vine and the named row;
// nil where one of them does not exist, empty where none is named.
func (r reader) covering(ctx context.Context, q store.EventQuery) (cursors []string, args []any, err error) {
	cursors, args = []string{}, []any{r.estate}
	if q.Vine != 0 {
		places, err := r.placesOf(ctx, []vine.ID{q.Vine})
		p, ok := places[q.Vine]
		if err != nil || !ok {
			return nil, nil, err
		}
		cursors, args = append(cursors, `(`+cursorsOfVine+`)`), append(args, p.ID, p.Row, p.Block)
	}
	if q.Row != 0 {
		var block vine.ID
		err := r.q.QueryRow(ctx, `SELECT block_id FROM vine_row WHERE estate_id = $1 AND row_id = $2`, r.estate, q.Row).Scan(&block)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil, nil, nil
		} else if err != nil {
			return nil, nil, err
		}
		cursors = append(cursors, `(`+fmt.Sprintf(cursorsOfRow, q.Row, block)+`)`)
	}
	return cursors, args, nil
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
