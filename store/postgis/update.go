package postgis

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// How long a writer waits for others before it says that the store is busy.
const (
	appendPatience = "20s"
	updatePatience = "10min" // an import may take minutes; the caller's context ends it sooner
)

// tx is one writing transaction: an Update, or one Append.
type tx struct {
	reader
	ctx context.Context // of the Update: the saving methods have none of their own
	pg  pgx.Tx
	now time.Time
	xid string // for finding out what became of a commit

	touched map[vine.ID]*touched
	pending []logbook.Accepted     // judged, not yet in the table
	places  map[vine.ID]vine.Place // looked up already; in an Append only
	moved   bool                   // vines were moved to other rows or blocks at some time
	names   oldNames
	made    spans     // vines that the transaction made
	bulk    bulk      // the filling of an empty table of vines
	states  bulk      // … and of states
	filling bool      // the table of vines is ours alone
	logs    freshLogs // of blocks that it made
	fresh   vine.ID   // the first id that the transaction gave; 0: none yet
	wrote   int       // records of the ground

	logFrom, logTo int64 // the estate's newest event before and after; both 0: none added
}

// touched is what the transaction did to one block.
type touched struct {
	revision int64 // the new one
	ground   bool
	plan     bool
	whole    bool // seasons are not known: any
	seasons  map[int]bool
	dirty    dirty
	logged   bool // it has events, or may have
	folded   bool // its states were written
}

// Update runs f in one transaction, alone in its estate.
func (s *Store) Update(ctx context.Context, f func(store.Tx) error) error {
	if err := take(ctx, s.update); err != nil {
		return fail("update", err)
	}
	defer func() { <-s.update }()
	var t *tx
	err := s.inTx(ctx, updatePatience, `SELECT pg_advisory_xact_lock($1, $2)`, func(made *tx) error {
		t = made
		if err := f(t); err != nil {
			return err
		}
		return t.finish(ctx)
	})
	if err == nil {
		s.analyzeAfter(ctx, t, false)
	}
	return err
}

// take waits for a token.
func take(ctx context.Context, tokens chan struct{}) error {
	select {
	case tokens <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// lockClass sets our advisory locks apart from those of other programs.
const lockClass = 0x43525331 // "CRS1"

// inTx runs f in a transaction that holds the estate's lock, and commits.
func (s *Store) inTx(ctx context.Context, patience, lock string, f func(*tx) error) error {
	pg, err := s.pool.BeginTx(ctx, pgx.TxOptions{AccessMode: pgx.ReadWrite})
	if err != nil {
		var pg *pgconn.PgError
		if errors.As(err, &pg) && pg.Code == "0A000" { // the one thing about BEGIN that a standby does not support
			err = fmt.Errorf("%w: the database is a standby", store.ErrReadOnly)
		}
		return fail("begin", err)
	}
	// After a commit this does nothing. It must run although ctx has ended.
	defer pg.Rollback(context.WithoutCancel(ctx))
	t := &tx{ctx: ctx, pg: pg, now: logbook.Instant(s.now()), touched: map[vine.ID]*touched{}}
	t.reader = reader{guarded{pg, t}, s.estate}
	var b pgx.Batch
	b.Queue(`SELECT set_config('lock_timeout', $1, true), pg_current_xact_id()::text`, patience)
	b.Queue(lock, int32(lockClass), int32(s.estate))
	b.Queue(hasStays, s.estate).QueryRow(func(row pgx.Row) error { return row.Scan(&t.moved) })
	results := pg.SendBatch(ctx, &b)
	var set string
	err = results.QueryRow().Scan(&set, &t.xid)
	if closed := results.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return fail("lock the estate", err)
	}
	if err := f(t); err != nil {
		return err
	}
	if err := s.commit(ctx, t); err != nil {
		return err
	}
	for id, b := range t.touched {
		s.spare.hear(id, b.revision)
	}
	return nil
}

// commit ends the transaction. Once asked for, it is not abandoned when ctx
// ends: only the database knows whether it was kept. Where the connection breaks
// meanwhile, the database is asked anew.
func (s *Store) commit(ctx context.Context, t *tx) error {
	if err := ctx.Err(); err != nil {
		return fail("commit", err)
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Minute)
	defer cancel()
	err := t.pg.Commit(ctx)
	if err == nil {
		return nil
	}
	if !lost(err) {
		return fail("commit", err)
	}
	for range 10 {
		var status *string
		if s.pool.QueryRow(ctx, `SELECT pg_xact_status($1::text::xid8)`, t.xid).Scan(&status) == nil && status != nil {
			switch *status {
			case "committed":
				return nil
			case "aborted":
				return fail("commit", err)
			}
		}
		time.Sleep(200 * time.Millisecond)
	}
	return fmt.Errorf("commit: the connection broke and the database cannot be asked whether it was kept; sending the same again is safe: %w", fail("ask", err))
}

// finish does what is left to do before the commit: labels that clash, states,
// revisions, notices.
func (t *tx) finish(ctx context.Context) error {
	if err := t.bulk.finish(ctx, t); err != nil {
		return err
	}
	if err := t.checkLabels(ctx); err != nil {
		return err
	}
	if err := t.saveOldNames(ctx); err != nil {
		return fail("old labels", err)
	}
	if err := t.fold(ctx); err != nil {
		return err
	}
	if err := t.states.finish(ctx, t); err != nil {
		return err
	}
	return t.announce(ctx)
}

// touch raises the revisions of blocks, once in the transaction.
func (t *tx) touch(ctx context.Context, blocks []vine.ID) error {
	fresh := slices.DeleteFunc(slices.Clone(blocks), func(id vine.ID) bool { return t.touched[id] != nil })
	if len(fresh) == 0 {
		return nil
	}
	slices.Sort(fresh)
	rows, err := t.pg.Query(ctx, `
		UPDATE block_revision SET revision = revision + 1
		WHERE estate_id = $1 AND block_id = ANY($2) RETURNING block_id, revision`, t.estate, fresh)
	if err != nil {
		return err
	}
	var id, revision int64
	_, err = pgx.ForEachRow(rows, []any{&id, &revision}, func() error {
		t.touched[id] = &touched{revision: revision, seasons: map[int]bool{}}
		return nil
	})
	return err
}

// lookForEvents notes which blocks have events already.
func (t *tx) lookForEvents(ctx context.Context, blocks []vine.ID) error {
	rows, err := t.pg.Query(ctx, `
		SELECT b FROM unnest($2::bigint[]) b
		WHERE EXISTS (SELECT FROM event e WHERE e.estate_id = $1 AND e.block_id = b)`, t.estate, blocks)
	if err != nil {
		return err
	}
	var id vine.ID
	_, err = pgx.ForEachRow(rows, []any{&id}, func() error {
		t.touched[id].logged = true
		return nil
	})
	if t.moved { // records may be about its vines that name another block
		for _, id := range blocks {
			t.touched[id].logged = true
		}
	}
	return err
}

// touchGround raises the revisions of blocks whose ground changes.
func (t *tx) touchGround(ctx context.Context, blocks map[vine.ID]bool) error {
	if err := t.touch(ctx, slices.Collect(maps.Keys(blocks))); err != nil {
		return err
	}
	var fresh []vine.ID
	for id := range blocks {
		if b := t.touched[id]; b != nil && !b.ground {
			b.ground = true
			fresh = append(fresh, id)
		}
	}
	if len(fresh) == 0 {
		return nil
	}
	if err := t.lookForEvents(ctx, fresh); err != nil {
		return err
	}
	_, err := t.pg.Exec(ctx, `
		UPDATE block_revision SET ground_rev = revision WHERE estate_id = $1 AND block_id = ANY($2)`, t.estate, fresh)
	return err
}

// dirty names vines of one block that must be folded before the commit.
type dirty struct {
	all   bool
	rows  map[vine.ID]bool
	vines map[vine.ID]bool
}

func (d *dirty) any() bool { return d.all || len(d.rows) > 0 || len(d.vines) > 0 }

// add notes what events touch.
func (d *dirty) add(what logbook.Touched) {
	d.all = d.all || what.All
	for _, id := range what.Rows {
		if d.rows == nil {
			d.rows = map[vine.ID]bool{}
		}
		d.rows[id] = true
	}
	for _, id := range what.Vines {
		if d.vines == nil {
			d.vines = map[vine.ID]bool{}
		}
		d.vines[id] = true
	}
}

// newIDs sets n fresh ids aside and gives the first.
func (t *tx) newIDs(ctx context.Context, n int) (vine.ID, error) {
	var first vine.ID
	err := t.pg.QueryRow(ctx, `
		UPDATE estate SET next_id = next_id + $2 WHERE estate_id = $1 RETURNING next_id - $2`, t.estate, int64(n)).Scan(&first)
	if err == nil && t.fresh == 0 {
		t.fresh = first
	}
	return first, err
}

// isNew tells whether the transaction itself made the thing.
func (t *tx) isNew(id vine.ID) bool { return t.fresh != 0 && id >= t.fresh }

// States folds what is to be folded before it reads.
func (t *tx) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return func(yield func(store.VineState, error) bool) {
		if err := t.fold(ctx); err != nil {
			yield(store.VineState{}, err)
			return
		}
		t.reader.States(ctx, block, season, after)(yield)
	}
}

var _ store.Tx = (*tx)(nil)
