package postgis

import (
	"fmt"
	"reflect"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// chunk is how many vines are looked at, compared and written at a time.
const chunk = 20_000

// SaveEstate writes the estate's own record.
func (t *tx) SaveEstate(e store.Estate) error {
	for _, f := range [][2]string{{"name", e.Name}, {"zone", e.Zone}, {"score scale", e.ScoreScale}} {
		if err := logbook.CheckText("estate: "+f[0], f[1]); err != nil {
			return err
		}
	}
	_, err := t.pg.Exec(t.ctx, `
		UPDATE estate SET name = $2, south = $3, zone = $4, us_units = $5, score_scale = $6
		WHERE estate_id = $1`, t.estate, e.Name, e.South, e.Zone, e.USUnits, e.ScoreScale)
	return fail("save estate", err)
}

// SaveBlocks writes blocks by id.
func (t *tx) SaveBlocks(blocks []store.Block) error {
	old, err := t.known(blocks)
	if err != nil {
		return fail("save blocks", err)
	}
	fresh := 0
	for _, b := range blocks {
		if b.ID == 0 {
			fresh++
		}
	}
	next, err := t.newIDs(t.ctx, fresh)
	if err != nil {
		return fail("save blocks", err)
	}
	for i := range blocks {
		b := &blocks[i]
		if b.ID == 0 {
			b.ID, next = next, next+1
			err = t.insertBlock(b)
		} else {
			err = t.changeBlock(old[b.ID], b)
		}
		if err != nil {
			return fail(fmt.Sprintf("save block %q", b.Code), err)
		}
	}
	return nil
}

// known gives the stored form of the blocks that have an id, and checks all.
func (t *tx) known(blocks []store.Block) (map[vine.ID]store.Block, error) {
	var ids []vine.ID
	for _, b := range blocks {
		if err := logbook.CheckBlock(b); err != nil {
			return nil, err
		}
		if b.ID != 0 {
			ids = append(ids, b.ID)
		}
	}
	old := make(map[vine.ID]store.Block, len(ids))
	if len(ids) == 0 {
		return old, nil
	}
	rows, err := t.pg.Query(t.ctx, selectBlocks+` AND b.block_id = ANY($2)`, t.estate, ids)
	if err != nil {
		return nil, err
	}
	found, err := pgx.CollectRows(rows, scanBlock)
	for _, b := range found {
		old[b.ID] = b
	}
	for _, id := range ids {
		if _, ok := old[id]; !ok && err == nil {
			err = fmt.Errorf("block %d: %w", id, store.ErrNotFound)
		}
	}
	return old, err
}

func (t *tx) insertBlock(b *store.Block) error {
	extra, err := extraTo(b.Extra)
	if err != nil {
		return err
	}
	var batch pgx.Batch
	batch.Queue(`
		INSERT INTO block (estate_id, block_id, code, name, variety, clone, rootstock, planted, row_spacing_m,
		                   vine_spacing_m, system, numbering_end, geom, extra)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`, blockArgs(t.estate, b, extra)...)
	batch.Queue(`INSERT INTO block_revision (estate_id, block_id) VALUES ($1, $2)`, t.estate, b.ID)
	if err := t.pg.SendBatch(t.ctx, &batch).Close(); err != nil {
		return err
	}
	t.wrote++
	return t.touchGround(t.ctx, map[vine.ID]bool{b.ID: true})
}

func blockArgs(estate int64, b *store.Block, extra any) []any {
	return []any{estate, b.ID, b.Code, b.Name, b.Variety, b.Clone, b.Rootstock, b.Planted, b.RowSpacingM,
		b.VineSpacingM, b.System, b.NumberingEnd, b.Outline, extra}
}

func (t *tx) changeBlock(old store.Block, b *store.Block) error {
	extra, err := extraTo(b.Extra)
	if err != nil {
		return err
	}
	same := *b
	same.Revision, same.GroundRev = old.Revision, old.GroundRev
	if same.Extra, err = extraAgain(extra); err != nil {
		return err
	}
	if len(same.Outline) == 0 {
		same.Outline = nil
	}
	if reflect.DeepEqual(old, same) {
		return nil
	}
	_, err = t.pg.Exec(t.ctx, `
		UPDATE block SET code = $3, name = $4, variety = $5, clone = $6, rootstock = $7, planted = $8,
		       row_spacing_m = $9, vine_spacing_m = $10, system = $11, numbering_end = $12, geom = $13, extra = $14
		WHERE estate_id = $1 AND block_id = $2`, blockArgs(t.estate, b, extra)...)
	if err != nil {
		return err
	}
	if old.Code != b.Code {
		t.names.block(b.ID, old.Code)
	}
	t.wrote++
	if err := t.touchGround(t.ctx, map[vine.ID]bool{b.ID: true}); err != nil {
		return err
	}
	if old.Planted != b.Planted {
		// Vines without a planting season of their own take the block's.
		t.touched[b.ID].dirty.all = true
	}
	return nil
}

// extraAgain gives properties as they will be read.
func extraAgain(extra any) (map[string]any, error) {
	text, _ := extra.([]byte)
	return extraFrom(text)
}

// SaveRows writes rows by id.
func (t *tx) SaveRows(rows []store.Row) error {
	for len(rows) > 0 {
		n := min(len(rows), chunk)
		if err := t.saveRows(rows[:n]); err != nil {
			return fail("save rows", err)
		}
		rows = rows[n:]
	}
	return nil
}

func (t *tx) saveRows(rows []store.Row) error {
	extras := make([]any, len(rows))
	blocks := map[vine.ID]bool{}
	for i, r := range rows {
		if err := logbook.CheckRow(r); err != nil {
			return err
		}
		var err error
		if extras[i], err = extraTo(r.Extra); err != nil {
			return fmt.Errorf("row %q: %w", r.Label, err)
		}
		blocks[r.Block] = true
	}
	if err := t.mustExist(`SELECT b.block_id`+blocksIn, "block", blocks); err != nil {
		return err
	}
	old, err := t.knownRows(rows)
	if err != nil {
		return err
	}
	write, err := t.sortRows(rows, extras, old)
	if err != nil || len(write) == 0 {
		return err
	}
	changed := map[vine.ID]bool{}
	for _, i := range write {
		changed[rows[i].Block] = true
	}
	_, err = t.pg.CopyFrom(t.ctx, pgx.Identifier{"vine_row"},
		[]string{"estate_id", "row_id", "block_id", "label", "ord", "geom", "length_m", "spacing_m", "extra"},
		pgx.CopyFromSlice(len(write), func(n int) ([]any, error) {
			r := &rows[write[n]]
			return []any{t.estate, r.ID, r.Block, r.Label, r.Ord, r.Line, r.LengthM, r.SpacingM, extras[write[n]]}, nil
		}))
	if err != nil {
		return err
	}
	t.wrote += len(write)
	return t.touchGround(t.ctx, changed)
}

// sortRows gives new rows their ids, drops the stored form of changed ones, and
// gives the indexes of all that must be written.
func (t *tx) sortRows(rows []store.Row, extras []any, old map[vine.ID]store.Row) ([]int, error) {
	var write []int
	var drop []vine.ID
	fresh := 0
	for i := range rows {
		r := rows[i]
		if r.ID == 0 {
			fresh++
			write = append(write, i)
			continue
		}
		was := old[r.ID]
		if was.Block != r.Block {
			return nil, fmt.Errorf("row %d stands in block %d and cannot leave it: %w", r.ID, was.Block, store.ErrConflict)
		}
		var err error
		if r.Extra, err = extraAgain(extras[i]); err != nil {
			return nil, err
		}
		if len(r.Line) == 0 {
			r.Line = nil
		}
		if reflect.DeepEqual(was, r) {
			continue
		}
		if was.Label != r.Label {
			t.names.row(r.ID, was.Label)
		}
		write, drop = append(write, i), append(drop, r.ID)
	}
	if len(drop) > 0 {
		if _, err := t.pg.Exec(t.ctx, `DELETE FROM vine_row WHERE ctid = ANY (ARRAY(SELECT r.ctid`+rowsIn+`))`, t.estate, drop); err != nil {
			return nil, err
		}
	}
	if fresh == 0 {
		return write, nil
	}
	next, err := t.newIDs(t.ctx, fresh)
	for _, i := range write {
		if rows[i].ID == 0 {
			rows[i].ID, next = next, next+1
		}
	}
	return write, err
}

// knownRows gives the stored form of the rows that have an id.
func (t *tx) knownRows(rows []store.Row) (map[vine.ID]store.Row, error) {
	var ids []vine.ID
	twice := map[vine.ID]bool{}
	for _, r := range rows {
		if r.ID == 0 {
			continue
		}
		if twice[r.ID] {
			return nil, fmt.Errorf("%w: row %d is given twice", store.ErrConflict, r.ID)
		}
		twice[r.ID] = true
		ids = append(ids, r.ID)
	}
	if len(ids) == 0 {
		return nil, nil
	}
	found, err := t.pg.Query(t.ctx, selectRows+rowsIn, t.estate, ids)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(found, scanRow)
	if err != nil {
		return nil, err
	}
	old := make(map[vine.ID]store.Row, len(list))
	for _, r := range list {
		old[r.ID] = r
	}
	for _, id := range ids {
		if _, ok := old[id]; !ok {
			return nil, fmt.Errorf("row %d: %w", id, store.ErrNotFound)
		}
	}
	return old, nil
}

// mustExist asks for the ids and refuses when one is not there.
func (t *tx) mustExist(sql, what string, ids map[vine.ID]bool) error {
	list := make([]vine.ID, 0, len(ids))
	for id := range ids {
		list = append(list, id)
	}
	rows, err := t.pg.Query(t.ctx, sql, t.estate, list)
	if err != nil {
		return err
	}
	found, err := pgx.CollectRows(rows, pgx.RowTo[vine.ID])
	if err != nil {
		return err
	}
	there := make(map[vine.ID]bool, len(found))
	for _, id := range found {
		there[id] = true
	}
	for _, id := range list {
		if !there[id] {
			return fmt.Errorf("%s %d: %w", what, id, store.ErrNotFound)
		}
	}
	return nil
}
