package postgis

import (
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// SaveVines writes vines by id. New ones go straight into the table by COPY;
// known ones are compared first, and only what differs is written. When it
// returns an error, no id was given back.
func (t *tx) SaveVines(vines []store.Vine) error {
	for from := 0; from < len(vines); from += chunk {
		if err := t.saveVines(vines[from:min(from+chunk, len(vines))]); err != nil {
			for i := range vines {
				if t.isNew(vines[i].ID) {
					vines[i].ID = 0
				}
			}
			return fail(fmt.Sprintf("save %d vines", len(vines)), err)
		}
	}
	return nil
}

func (t *tx) saveVines(vines []store.Vine) error {
	if err := t.checkVines(vines); err != nil {
		return err
	}
	old, err := t.knownVines(vines)
	if err != nil {
		return err
	}
	write, err := t.sortVines(vines, old)
	if err != nil || len(write) == 0 {
		return err
	}
	err = copyIn(t.ctx, t.pg, "vine", vineTable[:], len(write), func(w *copyRow, i int) { writeVine(w, t.estate, &vines[write[i]]) })
	if err != nil {
		return err
	}
	changed := map[vine.ID]bool{}
	for _, i := range write {
		changed[vines[i].Block] = true
	}
	t.wrote += len(write)
	if err := t.touchGround(t.ctx, changed); err != nil {
		return err
	}
	t.markMoved(vines, write, old)
	return nil
}

// markMoved marks vines whose states may come out otherwise now: new ones (their
// row or block may have events already), and those with another planting.
func (t *tx) markMoved(vines []store.Vine, write []int, old map[vine.ID]store.Vine) {
	for _, i := range write {
		v := vines[i]
		was, known := old[v.ID]
		if known && was.Planted == v.Planted {
			continue
		}
		if !t.touched[v.Block].logged {
			continue // no events, no states
		}
		d := &t.touched[v.Block].dirty
		if !known && t.isNew(v.Block) {
			d.all = true // its events are all at hand
			continue
		}
		if d.vines == nil {
			d.vines = map[vine.ID]bool{}
		}
		d.vines[v.ID] = true
	}
}

// vineTable are the columns of vine in the order of writeVine.
var vineTable = [...]string{"estate_id", "vine_id", "block_id", "row_id", "number", "part", "planted", "chainage_m", "geom", "tag", "tag_key"}

func writeVine(w *copyRow, estate int64, v *store.Vine) {
	w.int8(estate)
	w.int8(v.ID)
	w.int8(v.Block)
	w.int8(v.Row)
	w.int4(v.Number)
	w.int4(v.Part)
	w.int4(v.Planted)
	w.float8(v.ChainageM)
	w.point(v.Point)
	w.textOrNull(v.Tag)
	w.textOrNull(logbook.Key(v.Tag))
}

// checkVines checks the vines and that the rows they name exist in the blocks
// they name.
func (t *tx) checkVines(vines []store.Vine) error {
	blocks := map[vine.ID]vine.ID{}
	var ids []vine.ID
	for i := range vines {
		if err := logbook.CheckVine(vines[i]); err != nil {
			return err
		}
		if _, seen := blocks[vines[i].Row]; !seen {
			blocks[vines[i].Row] = 0
			ids = append(ids, vines[i].Row)
		}
	}
	rows, err := t.pg.Query(t.ctx, `SELECT r.row_id, r.block_id`+rowsIn, t.estate, ids)
	if err != nil {
		return err
	}
	var id, block vine.ID
	if _, err := pgx.ForEachRow(rows, []any{&id, &block}, func() error {
		blocks[id] = block
		return nil
	}); err != nil {
		return err
	}
	for i := range vines {
		switch v := &vines[i]; blocks[v.Row] {
		case v.Block:
		case 0:
			return fmt.Errorf("there is no row %d for vine %d: %w", v.Row, v.Number, store.ErrNotFound)
		default:
			return fmt.Errorf("vine %d: row %d stands in block %d, not in block %d: %w", v.Number, v.Row, blocks[v.Row], v.Block, store.ErrConflict)
		}
	}
	return nil
}

// knownVines gives the stored form of the vines that have an id.
func (t *tx) knownVines(vines []store.Vine) (map[vine.ID]store.Vine, error) {
	var ids []vine.ID
	for i := range vines {
		if vines[i].ID != 0 {
			ids = append(ids, vines[i].ID)
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	if err := t.indexed(t.ctx); err != nil {
		return nil, err
	}
	rows, err := t.pg.Query(t.ctx, `SELECT `+vineColumns+vinesIn, t.estate, ids)
	if err != nil {
		return nil, err
	}
	found, err := pgx.CollectRows(rows, scanVine)
	if err != nil {
		return nil, err
	}
	old := make(map[vine.ID]store.Vine, len(found))
	for _, v := range found {
		old[v.ID] = v
	}
	given := make(map[vine.ID]bool, len(ids))
	for _, id := range ids {
		if _, ok := old[id]; !ok {
			return nil, fmt.Errorf("vine %d: %w", id, store.ErrNotFound)
		}
		if given[id] {
			return nil, fmt.Errorf("%w: vine %d is given twice", store.ErrConflict, id)
		}
		given[id] = true
	}
	return old, nil
}

// sortVines gives new vines their ids, drops the stored form of changed ones, and
// gives the indexes of all that must be written.
func (t *tx) sortVines(vines []store.Vine, old map[vine.ID]store.Vine) ([]int, error) {
	var write []int
	var drop []vine.ID
	fresh := 0
	for i := range vines {
		v := vines[i]
		if v.ID == 0 {
			fresh++
			write = append(write, i)
			continue
		}
		was := old[v.ID]
		if was == v {
			continue
		}
		if was.Row != v.Row {
			return nil, fmt.Errorf("vine %d stands in row %d and cannot leave it: %w", v.ID, was.Row, store.ErrConflict)
		}
		if was.Number != v.Number || was.Tag != v.Tag {
			t.names.vine(v.ID, was)
		}
		write, drop = append(write, i), append(drop, v.ID)
		t.made.forget(v.ID)
	}
	if len(drop) > 0 {
		if _, err := t.pg.Exec(t.ctx, `DELETE FROM vine WHERE ctid = ANY (ARRAY(SELECT v.ctid`+vinesIn+`))`, t.estate, drop); err != nil {
			return nil, err
		}
	}
	if fresh == 0 {
		return write, nil
	}
	if err := t.beginVines(t.ctx, fresh); err != nil {
		return nil, err
	}
	first, err := t.newIDs(t.ctx, fresh)
	if err != nil {
		return nil, err
	}
	next := first
	for _, i := range write {
		if vines[i].ID == 0 {
			vines[i].ID, next = next, next+1
		}
	}
	t.made.add(first, vines, write)
	return write, nil
}
