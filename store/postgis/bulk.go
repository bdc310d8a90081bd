package postgis

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// manyVines is how many new vines in one call look like the import of an estate.
const manyVines = 2_000

// bulk is the filling of an empty table. The first estate of a database comes in
// without indexes and keys, which are dear to keep up record by record; they are
// built at the end, in the same transaction, or as soon as something is asked
// that needs them. With other vines there it is never done: their readers would
// wait for the whole import.
type bulk struct {
	asked bool
	build []string // what must be built
}

// What is taken away: keys and indexes by name, as the migrations gave them.
var (
	vineKeys, vineIndexes   = []string{"vine_pkey", "vine_number"}, []string{"vine_geom", "vine_tag"}
	stateKeys, stateIndexes = []string{"vine_state_pkey"}, []string{"vine_state_changed"}
)

// beginVines takes keys and indexes of the vines away if there are none and the
// table is ours to change.
func (t *tx) beginVines(ctx context.Context, fresh int) error {
	if t.bulk.asked || fresh < manyVines {
		return nil
	}
	err := t.bulk.begin(ctx, t.pg, "vine", vineKeys, vineIndexes)
	t.filling = len(t.bulk.build) > 0
	return err
}

// beginStates does the same for states, once it was done for vines: then nobody
// else reads them.
func (t *tx) beginStates(ctx context.Context, fresh int) error {
	if t.states.asked || !t.filling || fresh < manyVines {
		return nil
	}
	return t.states.begin(ctx, t.pg, "vine_state", stateKeys, stateIndexes)
}

func (b *bulk) begin(ctx context.Context, pg pgx.Tx, table string, keys, indexes []string) error {
	b.asked = true
	inner, err := pg.Begin(ctx) // a savepoint: without success, go on as usual
	if err != nil {
		return err
	}
	if err := b.takeAway(ctx, inner, table, keys, indexes); err != nil {
		b.build = nil
		if _, family := familyOf(err); family == nil && !errors.Is(err, errInUse) {
			return err
		}
		return inner.Rollback(ctx)
	}
	return inner.Commit(ctx)
}

var errInUse = errors.New("the table is in use")

func (b *bulk) takeAway(ctx context.Context, tx pgx.Tx, table string, keys, indexes []string) error {
	var used bool
	inUse := `SELECT EXISTS (SELECT FROM ` + table + `) OR (SELECT relreplident <> 'd' FROM pg_class WHERE oid = '` + table + `'::regclass)`
	if err := tx.QueryRow(ctx, inUse).Scan(&used); err != nil || used {
		return errors.Join(err, errInUse)
	}
	// Whoever reads the empty table now, a backup perhaps, is not waited for long.
	_, err := tx.Exec(ctx, `SET LOCAL lock_timeout = '1s'; LOCK TABLE `+table+` IN ACCESS EXCLUSIVE MODE; SET LOCAL lock_timeout = '`+updatePatience+`'`)
	if err != nil {
		return err
	}
	if err := tx.QueryRow(ctx, inUse).Scan(&used); err != nil || used {
		return errors.Join(err, errInUse)
	}
	rows, err := tx.Query(ctx, `
		SELECT 'ALTER TABLE `+table+` DROP CONSTRAINT ' || quote_ident(conname),
		       'ALTER TABLE `+table+` ADD CONSTRAINT ' || quote_ident(conname) || ' ' || pg_get_constraintdef(oid)
		FROM pg_constraint WHERE conrelid = '`+table+`'::regclass AND conname = ANY($1)
		UNION ALL SELECT 'DROP INDEX ' || i, pg_get_indexdef(i) FROM unnest($2::regclass[]) i`, keys, indexes)
	if err != nil {
		return err
	}
	var drop, build string
	var drops []string
	if _, err := pgx.ForEachRow(rows, []any{&drop, &build}, func() error {
		drops, b.build = append(drops, drop), append(b.build, build)
		return nil
	}); err != nil {
		return err
	}
	for _, sql := range drops {
		if _, err := tx.Exec(ctx, sql); err != nil {
			return err
		}
	}
	return nil
}

// finish builds what was taken away. Two labels that clash come out here.
func (b *bulk) finish(ctx context.Context, t *tx) error {
	if len(b.build) == 0 {
		return nil
	}
	build := b.build
	b.build = nil
	inner, err := t.pg.Begin(ctx) // a savepoint: after a complaint we still want to ask
	if err == nil {
		_, err = inner.Exec(ctx, `SET LOCAL maintenance_work_mem = '256MB'`)
	}
	for _, sql := range build {
		if err == nil {
			_, err = inner.Exec(ctx, sql)
		}
	}
	if err == nil {
		return inner.Commit(ctx)
	}
	if inner == nil || inner.Rollback(ctx) != nil {
		return fail("build the indexes", err)
	}
	return t.describe(ctx, err)
}

// indexed makes the tables of vines and states fit to be asked.
func (t *tx) indexed(ctx context.Context) error {
	if err := t.bulk.finish(ctx, t); err != nil {
		return err
	}
	return t.states.finish(ctx, t)
}

// guarded asks through a transaction that may have taken indexes away.
type guarded struct {
	pgx.Tx
	t *tx
}

func (g guarded) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	if err := g.t.indexed(ctx); err != nil {
		return nil, err
	}
	return g.Tx.Query(ctx, sql, args...)
}

func (g guarded) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	if err := g.t.indexed(ctx); err != nil {
		return noRow{err}
	}
	return g.Tx.QueryRow(ctx, sql, args...)
}

func (g guarded) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	if err := g.t.indexed(ctx); err != nil {
		return pgconn.CommandTag{}, err
	}
	return g.Tx.Exec(ctx, sql, args...)
}

func (g guarded) SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults {
	if err := g.t.indexed(ctx); err != nil {
		return noResults{err: err}
	}
	return g.Tx.SendBatch(ctx, b)
}

type noRow struct{ err error }

func (r noRow) Scan(...any) error { return r.err }

type noResults struct {
	pgx.BatchResults
	err error
}

func (r noResults) Exec() (pgconn.CommandTag, error) { return pgconn.CommandTag{}, r.err }
func (r noResults) Query() (pgx.Rows, error)         { return nil, r.err }
func (r noResults) QueryRow() pgx.Row                { return noRow{r.err} }
func (r noResults) Close() error                     { return r.err }
