package postgis

import (
	"context"
	"fmt"
	"iter"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// spare is a hot standby from which blocks are read. It may lag behind: a block
// is read from it only when it has the newest revision of the block that this
// process has heard of, so nobody who was told of a change reads what was before.
type spare struct {
	pool   *pgxpool.Pool
	estate int64

	mu     sync.Mutex
	known  map[vine.ID]int64 // block → newest revision heard of
	asleep time.Time         // not asked until then
}

// restAfterFault is how long a standby that failed is left alone.
const restAfterFault = 10 * time.Second

// hear notes a revision.
func (s *spare) hear(block vine.ID, revision int64) {
	if s == nil {
		return
	}
	s.mu.Lock()
	s.known[block] = max(s.known[block], revision)
	s.mu.Unlock()
}

// read runs f on one snapshot of the standby; false means: ask the primary.
func (s *spare) read(ctx context.Context, block vine.ID, f func(reader) error) bool {
	if s == nil {
		return false
	}
	s.mu.Lock()
	want, asleep := s.known[block], time.Now().Before(s.asleep)
	s.mu.Unlock()
	if asleep {
		return false
	}
	fresh, err := s.try(ctx, block, want, f)
	if err != nil && ctx.Err() == nil {
		s.mu.Lock()
		s.asleep = time.Now().Add(restAfterFault)
		s.mu.Unlock()
	}
	return fresh && err == nil
}

func (s *spare) try(ctx context.Context, block vine.ID, want int64, f func(reader) error) (fresh bool, err error) {
	tx, err := s.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return false, err
	}
	defer tx.Rollback(context.WithoutCancel(ctx))
	var revision int64
	err = tx.QueryRow(ctx, `
		SELECT coalesce(max(revision), -1) FROM block_revision WHERE estate_id = $1 AND block_id = $2`, s.estate, block).Scan(&revision)
	if err != nil || revision < want || revision < 0 {
		return false, err
	}
	return true, f(reader{tx, s.estate})
}

// Rows gives the rows of a block in their order.
func (s *Store) Rows(ctx context.Context, block vine.ID) ([]store.Row, error) {
	var out []store.Row
	if s.spare.read(ctx, block, func(r reader) (err error) { out, err = r.Rows(ctx, block); return err }) {
		return out, nil
	}
	return s.reader.Rows(ctx, block)
}

// Vines gives the vines of a block in row order and by number. The block is read
// whole before the first vine is handed over.
func (s *Store) Vines(ctx context.Context, block vine.ID) iter.Seq2[store.Vine, error] {
	return handOut(fmt.Sprintf("vines of block %d", block), func() (out iter.Seq[store.Vine], err error) {
		if s.spare.read(ctx, block, func(r reader) error { out, err = r.vines(ctx, block); return err }) {
			return out, nil
		}
		return s.reader.vines(ctx, block)
	})
}

// States gives the states of a block's vines in a season, as they are or carried
// forward. The block is read whole before the first state is handed over.
func (s *Store) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return statesOf(block, season, func() (out iter.Seq[logbook.Record], err error) {
		if s.spare.read(ctx, block, func(r reader) error { out, err = r.records(ctx, block, season, after); return err }) {
			return out, nil
		}
		return s.reader.records(ctx, block, season, after)
	})
}

// PlanEntries gives what the newest plan of the kind says for the vines of a
// block.
func (s *Store) PlanEntries(ctx context.Context, kind store.PlanKind, season int, block vine.ID) ([]store.PlanEntry, error) {
	var out []store.PlanEntry
	if s.spare.read(ctx, block, func(r reader) (err error) { out, err = r.PlanEntries(ctx, kind, season, block); return err }) {
		return out, nil
	}
	return s.reader.PlanEntries(ctx, kind, season, block)
}
