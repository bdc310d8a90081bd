package postgis

import (
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// SaveVines writes vines by id. New ones go straight into the table by COPY;
// known ones are compared first, and only what differs is written.
func (t *tx) SaveVines(vines []store.Vine) error {
	for len(vines) > 0 {
		n := min(len(vines), chunk)
		if err := t.saveVines(vines[:n]); err != nil {
			return fail("save vines", err)
		}
		vines = vines[n:]
	}
	return nil
}

func (t *tx) saveVines(vines []store.Vine) error {
	places, err := t.checkRows(vines)
	if err != nil {
		return err
	}
	old, err := t.knownVines(vines)
	if err != nil {
		return err
	}
	write, err := t.sortVines(vines, old, places)
	if err != nil || len(write) == 0 {
		return err
	}
	_, err = t.pg.CopyFrom(t.ctx, pgx.Identifier{"vine"},
		[]string{"estate_id", "vine_id", "block_id", "row_id", "number", "part", "planted", "chainage_m", "geom", "tag", "tag_key"},
		&vineSource{estate: t.estate, vines: vines, write: write, values: make([]any, 11)})
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
// row or block may have events already), and those with another row or planting.
func (t *tx) markMoved(vines []store.Vine, write []int, old map[vine.ID]store.Vine) {
	for _, i := range write {
		v := vines[i]
		if was, known := old[v.ID]; known && was.Row == v.Row && was.Planted == v.Planted {
			continue
		}
		if !t.touched[v.Block].logged {
			continue // no events, no states
		}
		d := &t.touched[v.Block].dirty
		if d.vines == nil {
			d.vines = map[vine.ID]bool{}
		}
		d.vines[v.ID] = true
	}
}

// vineSource feeds COPY without a slice per vine.
type vineSource struct {
	estate int64
	vines  []store.Vine
	write  []int
	next   int
	values []any
}

// Next moves on.
func (s *vineSource) Next() bool {
	s.next++
	return s.next <= len(s.write)
}

// Values gives one vine's columns.
func (s *vineSource) Values() ([]any, error) {
	v := &s.vines[s.write[s.next-1]]
	row := s.values
	row[0], row[1], row[2], row[3], row[4], row[5] = s.estate, v.ID, v.Block, v.Row, int32(v.Number), int32(v.Part)
	row[6], row[7], row[8], row[9], row[10] = int32(v.Planted), v.ChainageM, v.Point, nil, nil
	if v.Tag != "" {
		row[9], row[10] = v.Tag, logbook.Key(v.Tag)
	}
	return row, nil
}

// Err is never set.
func (s *vineSource) Err() error { return nil }

// rowPlace is what a vine's row and block are called.
type rowPlace struct {
	block     vine.ID
	code, row string
}

// checkRows checks the vines and that the rows they name exist in the blocks
// they name, and gives these rows.
func (t *tx) checkRows(vines []store.Vine) (map[vine.ID]rowPlace, error) {
	places := map[vine.ID]rowPlace{}
	var ids []vine.ID
	for i := range vines {
		if err := logbook.CheckVine(vines[i]); err != nil {
			return nil, err
		}
		if _, seen := places[vines[i].Row]; !seen {
			places[vines[i].Row] = rowPlace{}
			ids = append(ids, vines[i].Row)
		}
	}
	rows, err := t.pg.Query(t.ctx, `
		SELECT r.row_id, r.block_id, b.code, r.label
		FROM vine_row r JOIN block b ON b.estate_id = r.estate_id AND b.block_id = r.block_id
		WHERE r.estate_id = $1 AND r.row_id = ANY($2)`, t.estate, ids)
	if err != nil {
		return nil, err
	}
	var id vine.ID
	var p rowPlace
	if _, err := pgx.ForEachRow(rows, []any{&id, &p.block, &p.code, &p.row}, func() error {
		places[id] = p
		return nil
	}); err != nil {
		return nil, err
	}
	for i := range vines {
		if v := &vines[i]; places[v.Row].block != v.Block || v.Block == 0 {
			return nil, fmt.Errorf("vine %d: row %d in block %d: %w", v.Number, v.Row, v.Block, store.ErrNotFound)
		}
	}
	return places, nil
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
	rows, err := t.pg.Query(t.ctx, `SELECT `+vineColumns+` FROM vine v WHERE v.estate_id = $1 AND v.vine_id = ANY($2)`, t.estate, ids)
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

// sortVines gives new vines their ids, keeps old labels and drops the stored
// form of changed vines, and gives the indexes of all that must be written.
func (t *tx) sortVines(vines []store.Vine, old map[vine.ID]store.Vine, places map[vine.ID]rowPlace) ([]int, error) {
	var write []int
	var drop []vine.ID
	var relabelled []store.Vine
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
		if was.Block != v.Block {
			return nil, fmt.Errorf("%w: vine %d stands in block %d and cannot move to block %d", store.ErrConflict, v.ID, was.Block, v.Block)
		}
		if was.Number != v.Number || was.Row != v.Row || was.Tag != v.Tag {
			relabelled = append(relabelled, v)
		}
		write, drop = append(write, i), append(drop, v.ID)
	}
	if err := t.keepVineLabels(relabelled, old, places); err != nil {
		return nil, err
	}
	if len(drop) > 0 {
		if _, err := t.pg.Exec(t.ctx, `DELETE FROM vine WHERE estate_id = $1 AND vine_id = ANY($2)`, t.estate, drop); err != nil {
			return nil, err
		}
	}
	if fresh == 0 {
		return write, nil
	}
	next, err := t.newIDs(t.ctx, fresh)
	for _, i := range write {
		if vines[i].ID == 0 {
			vines[i].ID, next = next, next+1
		}
	}
	return write, err
}

// keepVineLabels writes down what relabelled vines were called before this
// transaction.
func (t *tx) keepVineLabels(vines []store.Vine, old map[vine.ID]store.Vine, places map[vine.ID]rowPlace) error {
	if len(vines) == 0 {
		return nil
	}
	if err := t.addPlaces(vines, old, places); err != nil {
		return err
	}
	var batch pgx.Batch
	for _, v := range vines {
		was := old[v.ID]
		p := places[was.Row]
		code, row := p.code, p.row
		if c, ok := t.oldCode[v.Block]; ok {
			code = c
		}
		if l, ok := t.oldRows[was.Row]; ok {
			row = l
		}
		moved := was.Number != v.Number || was.Row != v.Row
		for _, label := range logbook.OldVineLabels(code, row, was.Number, moved, was.Tag, v.Tag) {
			t.queueOldLabel(&batch, v.ID, label)
		}
	}
	return t.pg.SendBatch(t.ctx, &batch).Close()
}

// addPlaces adds the rows in which the vines stood before.
func (t *tx) addPlaces(vines []store.Vine, old map[vine.ID]store.Vine, places map[vine.ID]rowPlace) error {
	var ids []vine.ID
	for _, v := range vines {
		if was := old[v.ID].Row; places[was].block == 0 {
			ids = append(ids, was)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	rows, err := t.pg.Query(t.ctx, `
		SELECT r.row_id, r.block_id, b.code, r.label
		FROM vine_row r JOIN block b ON b.estate_id = r.estate_id AND b.block_id = r.block_id
		WHERE r.estate_id = $1 AND r.row_id = ANY($2)`, t.estate, ids)
	if err != nil {
		return err
	}
	var id vine.ID
	var p rowPlace
	_, err = pgx.ForEachRow(rows, []any{&id, &p.block, &p.code, &p.row}, func() error {
		places[id] = p
		return nil
	})
	return err
}
