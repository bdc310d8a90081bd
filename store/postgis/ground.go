package postgis

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// querier is a pool or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
	CopyFrom(ctx context.Context, table pgx.Identifier, columns []string, src pgx.CopyFromSource) (int64, error)
}

// reader reads one estate, through a pool or inside a transaction.
type reader struct {
	q      querier
	estate int64
}

// Estate gives the estate's own record.
func (r reader) Estate(ctx context.Context) (store.Estate, error) {
	e := store.Estate{ID: r.estate}
	err := r.q.QueryRow(ctx, `
		SELECT name, south, zone, us_units, score_scale FROM estate WHERE estate_id = $1`, r.estate).
		Scan(&e.Name, &e.South, &e.Zone, &e.USUnits, &e.ScoreScale)
	return e, fail("estate", err)
}

const selectBlocks = `
	SELECT b.block_id, b.code, b.name, b.variety, b.clone, b.rootstock, b.planted, b.row_spacing_m,
	       b.vine_spacing_m, b.system, b.numbering_end, b.geom, b.extra, v.revision, v.ground_rev
	FROM block b JOIN block_revision v USING (estate_id, block_id)
	WHERE b.estate_id = $1`

func scanBlock(rows pgx.CollectableRow) (store.Block, error) {
	var b store.Block
	var extra []byte
	err := rows.Scan(&b.ID, &b.Code, &b.Name, &b.Variety, &b.Clone, &b.Rootstock, &b.Planted, &b.RowSpacingM,
		&b.VineSpacingM, &b.System, &b.NumberingEnd, &b.Outline, &extra, &b.Revision, &b.GroundRev)
	if err == nil {
		b.Extra, err = extraFrom(extra)
	}
	return b, err
}

// Blocks gives the blocks in order of code.
func (r reader) Blocks(ctx context.Context) ([]store.Block, error) {
	rows, err := r.q.Query(ctx, selectBlocks+` ORDER BY b.code COLLATE "C"`, r.estate)
	if err != nil {
		return nil, fail("blocks", err)
	}
	blocks, err := pgx.CollectRows(rows, scanBlock)
	return blocks, fail("blocks", err)
}

const selectRows = `SELECT r.row_id, r.block_id, r.label, r.ord, r.geom, r.length_m, r.spacing_m, r.extra`

func scanRow(rows pgx.CollectableRow) (store.Row, error) {
	var r store.Row
	var extra []byte
	err := rows.Scan(&r.ID, &r.Block, &r.Label, &r.Ord, &r.Line, &r.LengthM, &r.SpacingM, &extra)
	if err == nil {
		r.Extra, err = extraFrom(extra)
	}
	return r, err
}

// Rows gives the rows of a block in their order.
func (r reader) Rows(ctx context.Context, block vine.ID) ([]store.Row, error) {
	rows, err := r.q.Query(ctx, selectRows+` FROM vine_row r WHERE r.estate_id = $1 AND r.block_id = $2 ORDER BY r.ord, r.row_id`, r.estate, block)
	if err != nil {
		return nil, fail("rows", err)
	}
	list, err := pgx.CollectRows(rows, scanRow)
	return list, fail(fmt.Sprintf("rows of block %d", block), err)
}

const vineColumns = `v.vine_id, v.block_id, v.row_id, v.number, v.geom, v.chainage_m, v.part, v.planted, coalesce(v.tag, '')`

func vineInto(v *store.Vine) []any {
	return []any{&v.ID, &v.Block, &v.Row, &v.Number, &v.Point, &v.ChainageM, &v.Part, &v.Planted, &v.Tag}
}

func scanVine(rows pgx.CollectableRow) (store.Vine, error) {
	var v store.Vine
	err := rows.Scan(vineInto(&v)...)
	return v, err
}

// Vines gives the vines of a block in row order and by number. The block is read
// whole before the first vine is handed over.
func (r reader) Vines(ctx context.Context, block vine.ID) iter.Seq2[store.Vine, error] {
	return handOut(fmt.Sprintf("vines of block %d", block), func() (iter.Seq[store.Vine], error) { return r.vines(ctx, block) })
}

// vinesOfBlock goes through the block's rows.
const (
	vinesOfBlock = `SELECT ` + vineColumns + fromBlock
	fromBlock    = `
	FROM vine_row r CROSS JOIN LATERAL (
	    SELECT * FROM vine WHERE estate_id = $1 AND row_id = r.row_id OFFSET 0) v
	WHERE r.estate_id = $1 AND r.block_id = $2
	ORDER BY r.ord, r.row_id, v.number`
)

func (r reader) vines(ctx context.Context, block vine.ID) (iter.Seq[store.Vine], error) {
	rows, err := r.q.Query(ctx, vinesOfBlock, r.estate, block)
	if err != nil {
		return nil, err
	}
	var out pile[store.Vine]
	var v store.Vine
	_, err = pgx.ForEachRow(rows, vineInto(&v), func() error {
		out.add(v)
		return nil
	})
	return out.all(), err
}

// Vine gives one vine.
func (r reader) Vine(ctx context.Context, id vine.ID) (store.Vine, error) {
	var v store.Vine
	err := r.q.QueryRow(ctx, `SELECT `+vineColumns+` FROM vine v WHERE v.estate_id = $1 AND v.vine_id = $2`, r.estate, id).
		Scan(vineInto(&v)...)
	return v, fail(fmt.Sprintf("vine %d", id), err)
}

// extraFrom reads the properties kept as JSON; nil where there are none.
func extraFrom(text []byte) (map[string]any, error) {
	if len(text) == 0 {
		return nil, nil
	}
	var out map[string]any
	if err := json.Unmarshal(text, &out); err != nil {
		return nil, fmt.Errorf("extra properties: %w", err)
	}
	return out, nil
}

// extraTo writes the properties as JSON; NULL where there are none.
func extraTo(extra map[string]any) (any, error) {
	if len(extra) == 0 {
		return nil, nil
	}
	text, err := json.Marshal(extra)
	if err != nil {
		return nil, fmt.Errorf("extra properties: %w", err)
	}
	if err := logbook.CheckJSON("extra properties", text); err != nil {
		return nil, err
	}
	return text, nil
}

// placesOf gives where the vines stand, by id; vines that do not exist are left
// out.
func (r reader) placesOf(ctx context.Context, ids []vine.ID) (map[vine.ID]vine.Place, error) {
	rows, err := r.q.Query(ctx, selectPlaces+vinesIn+ofBlock, r.estate, ids)
	if err != nil {
		return nil, err
	}
	places, err := pgx.CollectRows(rows, scanPlace)
	out := make(map[vine.ID]vine.Place, len(places))
	for _, p := range places {
		out[p.ID] = p
	}
	return out, err
}

const selectPlaces = `SELECT v.vine_id, v.row_id, v.block_id, coalesce(nullif(v.planted, 0), b.planted)`

func scanPlace(rows pgx.CollectableRow) (vine.Place, error) {
	var p vine.Place
	err := rows.Scan(placeInto(&p)...)
	return p, err
}

func placeInto(p *vine.Place) []any { return []any{&p.ID, &p.Row, &p.Block, &p.Planted} }
