package postgis

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
)

// Rebuild folds the whole log anew, block by block, each in a transaction of its
// own, and mends what differs; with write false it only counts.
func (s *Store) Rebuild(ctx context.Context, write bool, progress func(done, total int)) (store.Rebuilt, error) {
	var out store.Rebuilt
	var total int
	if err := s.pool.QueryRow(ctx, `SELECT count(*) FROM vine WHERE estate_id = $1`, s.estate).Scan(&total); err != nil {
		return out, fail("rebuild", err)
	}
	blocks, err := s.Blocks(ctx)
	if err != nil {
		return out, err
	}
	done := func(n int) {
		out.Vines += n
		if progress != nil {
			progress(out.Vines, total)
		}
	}
	for _, b := range blocks {
		wrong, err := s.rebuildBlock(ctx, b.ID, write, done)
		out.Wrong += wrong
		if err != nil {
			return out, fail("rebuild block "+b.Code, err)
		}
	}
	return out, nil
}

func (s *Store) rebuildBlock(ctx context.Context, block vine.ID, write bool, done func(int)) (int, error) {
	if write {
		wrong := 0
		err := s.inTx(ctx, updatePatience, `SELECT pg_advisory_xact_lock_shared($1, $2)`, func(t *tx) error {
			var err error
			wrong, err = t.rebuildBlock(ctx, block, true, done)
			return err
		})
		return wrong, err
	}
	pg, err := s.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return 0, err
	}
	defer pg.Rollback(context.WithoutCancel(ctx))
	t := &tx{reader: reader{pg, s.estate}, ctx: ctx, pg: pg, touched: map[vine.ID]*touched{}}
	if t.moved, err = t.anyMoved(ctx); err != nil {
		return 0, err
	}
	return t.rebuildBlock(ctx, block, false, done)
}

// rebuildBlock folds all vines of a block. Where it mends, the block is told to
// have changed as a whole, so that whoever holds it loads it anew.
func (t *tx) rebuildBlock(ctx context.Context, block vine.ID, write bool, done func(int)) (int, error) {
	f := folder{tx: t, block: block, write: write}
	sql := `SELECT revision + 1 FROM block_revision WHERE estate_id = $1 AND block_id = $2`
	if write {
		sql += ` FOR NO KEY UPDATE`
	}
	if err := t.q.QueryRow(ctx, sql, t.estate, block).Scan(&f.revision); err != nil {
		return 0, err
	}
	places, err := t.dirtyPlaces(ctx, block, dirty{all: true})
	if err != nil {
		return 0, err
	}
	if err := f.run(ctx, places, done); err != nil {
		return f.wrong, err
	}
	strays, err := t.strays(ctx, block, write)
	if err != nil {
		return f.wrong, fmt.Errorf("states of vines that do not exist: %w", err)
	}
	// A record that strayed is missed at the vine it left: that is one vine wrong.
	f.wrong = max(f.wrong, strays)
	if !write || f.wrong == 0 {
		return f.wrong, nil
	}
	if err := t.touchGround(ctx, map[vine.ID]bool{block: true}); err != nil {
		return f.wrong, err
	}
	t.touched[block].whole = true
	return f.wrong, t.announce(ctx)
}

// strays counts vines that do not stand in the block although it holds states of
// them, and takes these away.
func (t *tx) strays(ctx context.Context, block vine.ID, write bool) (int, error) {
	const where = ` vine_state s WHERE s.estate_id = $1 AND s.block_id = $2 AND NOT EXISTS (
		SELECT FROM vine v WHERE v.estate_id = $1 AND v.vine_id = s.vine_id AND v.block_id = $2)`
	sql := `SELECT count(DISTINCT s.vine_id) FROM` + where
	if write {
		sql = `WITH gone AS (DELETE FROM` + where + ` RETURNING s.vine_id) SELECT count(DISTINCT vine_id) FROM gone`
	}
	var n int
	err := t.q.QueryRow(ctx, sql, t.estate, block).Scan(&n)
	return n, err
}
