package gpkg

import (
	"cmp"
	"fmt"
	"strings"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// SaveVines writes vines by id. When it returns an error, no id was given back.
func (t *tx) SaveVines(vines []store.Vine) error {
	return t.run(t.ctx, fmt.Sprintf("save %d vines", len(vines)), func(c *conn) error { return t.saveVines(c, vines) })
}

func (t *tx) saveVines(c *conn, vines []store.Vine) error {
	fresh := make([]int, 0, len(vines))
	for i, v := range vines {
		if err := t.checkVine(c, v); err != nil {
			return err
		}
		if v.ID == 0 {
			fresh = append(fresh, i)
		}
	}
	for _, v := range vines {
		if v.ID != 0 {
			if err := t.changeVine(c, v); err != nil {
				return fmt.Errorf("vine %d: %w", v.ID, err)
			}
		}
	}
	return t.addVines(c, vines, fresh)
}

func (t *tx) checkVine(c *conn, v store.Vine) error {
	if err := logbook.CheckVine(v); err != nil {
		return err
	}
	block, err := t.blockOfRow(c, v.Row)
	switch {
	case err != nil || block == 0:
		return orMissing(err, "row %d for vine %d", v.Row, v.Number)
	case block != v.Block:
		return fmt.Errorf("vine %d: row %d stands in block %d, not in block %d: %w", v.Number, v.Row, block, v.Block, store.ErrConflict)
	}
	return nil
}

// addVines writes the vines at the given places of the slice as new ones.
func (t *tx) addVines(c *conn, vines []store.Vine, at []int) error {
	if len(at) == 0 {
		return nil
	}
	id, err := newIDs(c, len(at))
	if err != nil {
		return err
	}
	next := id
	err = portions(at, [3]int{100, 10, 1}, func(part []int) error {
		next += int64(len(part))
		return insertVines(c, vines, part, next-int64(len(part)))
	})
	if err != nil {
		return err
	}
	var row vine.ID
	for k, i := range at {
		v := &vines[i]
		v.ID = id + int64(k)
		t.index.note(v.ID, v.Point)
		if v.Row != row { // else the same as before: nothing more to note
			row = v.Row
			if err := t.noteRow(c, v.Block, v.Row); err != nil {
				return err
			}
		}
		t.touched[v.Block].planted++
		t.lay(v)
	}
	return nil
}

// noteRow notes that a row has new vines: its numbers are looked through at the
// end, its block is changed, and events about the whole row or block hold for
// the new vines too.
func (t *tx) noteRow(c *conn, block, row vine.ID) error {
	if t.grown[row] {
		return nil
	}
	t.grown[row], t.numbers[row] = true, true
	if err := t.touchGround(c, block); err != nil {
		return err
	}
	n, err := c.number("SELECT EXISTS (SELECT 1 FROM event_about WHERE about IN (?, ?))", row, block)
	if err == nil && n != 0 {
		t.dirtyIn(block).rows[row] = true
	}
	return err
}

func insertVines(c *conn, vines []store.Vine, at []int, id vine.ID) error {
	const line = "(?,?,?,?,?,?,?,?,?,?)"
	s, done, err := c.prepare("INSERT INTO vine VALUES " + strings.Repeat(line+",", len(at)-1) + line)
	if err != nil {
		return err
	}
	b := binder{s: s, at: 1, err: s.ClearBindings()}
	geom := make([]byte, 0, pointSize)
	for k, i := range at {
		v := vines[i]
		b.int(id + int64(k))
		geom = appendPoint(geom[:0], v.Point)
		b.take(s.BindBlob(b.at, geom))
		b.int(v.Block)
		b.int(v.Row)
		b.int(int64(v.Number))
		b.take(s.BindFloat(b.at, v.ChainageM))
		b.int(int64(v.Part))
		b.int(int64(v.Planted))
		b.text(v.Tag)
		b.text(logbook.Key(v.Tag))
	}
	if b.err == nil {
		b.err = s.Exec()
	}
	return cmp.Or(b.err, done())
}

// changeVine writes over a vine that is there.
func (t *tx) changeVine(c *conn, v store.Vine) error {
	old, found, err := readVine(c, v.ID)
	switch {
	case err != nil || !found:
		return orMissing(err, "such vine")
	case old == v:
		return nil
	case old.Row != v.Row:
		return fmt.Errorf("it stands in row %d and cannot leave it: %w", old.Row, store.ErrConflict)
	}
	t.giveUp(v.Block)
	if old.Number != v.Number || old.Tag != v.Tag {
		t.names.vine(v.ID, old)
		t.numbers[v.Row] = true
	}
	if old.Planted != v.Planted {
		t.dirtyIn(v.Block).vines[v.ID] = v.Row
	}
	tag, key := any(v.Tag), any(logbook.Key(v.Tag))
	if v.Tag == "" {
		tag, key = nil, nil
	}
	err = c.exec("UPDATE vine SET number = ?, chainage_m = ?, part = ?, planted = ?, tag = ?, tag_key = ? WHERE id = ?",
		v.Number, v.ChainageM, v.Part, v.Planted, tag, key, v.ID)
	if err == nil && old.Point != v.Point {
		t.index.note(v.ID, v.Point)
		err = c.exec("UPDATE vine SET geom = ? WHERE id = ?", appendPoint(nil, v.Point), v.ID)
	}
	if err != nil {
		return err
	}
	return t.touchGround(c, v.Block)
}
