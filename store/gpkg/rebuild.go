package gpkg

import (
	"context"
	"fmt"
	"slices"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

func union(a, b []int) []int {
	out := append(slices.Clone(a), b...)
	slices.Sort(out)
	return slices.Compact(out)
}

// Rebuild folds the log anew, block by block, each in a transaction of its own.
// A vine is wrong when any of its records differs from the fold, is missing or
// is one too many; records of vines that do not exist count as well, and vines
// about which a copy of the block says something else than its rows.
func (s *Store) Rebuild(ctx context.Context, write bool, progress func(done, total int)) (store.Rebuilt, error) {
	var sum store.Rebuilt
	if progress == nil {
		progress = func(int, int) {}
	}
	blocks, total, err := s.census(ctx)
	if err != nil {
		return sum, fmt.Errorf("rebuild: %w", err)
	}
	for _, block := range blocks {
		vines, wrong, err := s.rebuildBlock(ctx, block, write, func(done int) { progress(sum.Vines+done, total) })
		if err != nil {
			return sum, fmt.Errorf("rebuild block %d: %w", block, err)
		}
		sum.Vines += vines
		sum.Wrong += wrong
	}
	lost, err := s.mendLost(ctx, write)
	sum.Wrong += lost
	if err != nil {
		return sum, fmt.Errorf("rebuild: %w", err)
	}
	return sum, nil
}

func (s *Store) census(ctx context.Context) (blocks []vine.ID, vines int, err error) {
	err = s.read(ctx, func(c *conn) error {
		if blocks, err = c.ids("SELECT id FROM block ORDER BY id"); err != nil {
			return err
		}
		n, err := c.number("SELECT count(*) FROM vine")
		vines = int(n)
		return err
	})
	return blocks, vines, err
}

func (s *Store) rebuildBlock(ctx context.Context, block vine.ID, write bool, progress func(int)) (vines, wrong int, err error) {
	if !write {
		err = s.read(ctx, func(c *conn) error {
			vines, wrong, err = compareBlock(c, block, nil, progress)
			return err
		})
		return vines, wrong, err
	}
	err = s.write(ctx, func(t *tx) error {
		return t.run(ctx, "mend", func(c *conn) error {
			vines, wrong, err = compareBlock(c, block, t, progress)
			return err
		})
	})
	return vines, wrong, err
}

// compareBlock counts the vines of a block whose records, or whose copies of
// them, are wrong and, with a transaction to write in, mends them.
func compareBlock(c *conn, block vine.ID, t *tx, progress func(int)) (vines, wrong int, err error) {
	copies, wrong, err := wrongCopies(c, block)
	if err == nil && t != nil && len(copies) > 0 {
		err = t.dropCopies(c, block, copies)
	}
	if err != nil {
		return 0, 0, err
	}
	l, err := openLog(c, block)
	if err != nil {
		return 0, 0, err
	}
	var w *stateWriter
	err = l.rows(nil, func(places []vine.Place) error {
		err := l.shifts(places, func(p vine.Place, s logbook.Shift) error {
			if s.None() {
				return nil
			}
			wrong++
			if t == nil {
				return nil
			}
			if w == nil {
				if w, err = t.mender(c, block); err != nil {
					return err
				}
			}
			return w.put(p, s)
		})
		vines += len(places)
		progress(vines)
		return err
	})
	if err == nil && w != nil {
		err = w.flush()
	}
	return vines, wrong, err
}

// mender makes ready to write over states of a block. Whoever holds the block in
// memory must load it anew, for a record that goes leaves no trace to follow.
func (t *tx) mender(c *conn, block vine.ID) (*stateWriter, error) {
	if err := t.touchGround(c, block); err != nil {
		return nil, err
	}
	b := t.touched[block]
	return &stateWriter{c: c, revision: b.revision, touched: b}, nil
}

// mendLost counts vines that have records but do not exist, and with write
// takes the records away.
func (s *Store) mendLost(ctx context.Context, write bool) (n int, err error) {
	const lost = "FROM vine_state WHERE NOT EXISTS (SELECT 1 FROM vine v WHERE v.id = vine_state.id >> 9)"
	counting := func(c *conn) error {
		lost, err := c.number("SELECT count(DISTINCT id >> 9) " + lost)
		n = int(lost)
		return err
	}
	if err = s.read(ctx, counting); err != nil || n == 0 || !write {
		return n, err
	}
	return n, s.write(ctx, func(t *tx) error {
		return t.run(ctx, "mend", func(c *conn) error { return c.exec("DELETE " + lost) })
	})
}
