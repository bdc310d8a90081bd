package postgis

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
)

// manyVines is how many new vines in one call look like the import of an estate.
const manyVines = 2_000

// bulk is the filling of an empty table of vines. The first estate of a database
// comes in without the two indexes that are dear to keep up vine by vine; they
// are built at the end, in the same transaction. With other vines there it is
// never done: their readers would wait for the whole import.
type bulk struct {
	asked   bool
	indexes []string // what must be built at the end
}

// begin takes the indexes away if the table is empty and ours to change.
func (b *bulk) begin(ctx context.Context, t *tx, fresh int) error {
	if b.asked || fresh < manyVines {
		return nil
	}
	b.asked = true
	inner, err := t.pg.Begin(ctx) // a savepoint: without success, go on as usual
	if err != nil {
		return err
	}
	if err := b.takeAway(ctx, inner); err != nil {
		b.indexes = nil
		if _, family := familyOf(err); family == nil && !errors.Is(err, errInUse) {
			return err
		}
		return inner.Rollback(ctx)
	}
	return inner.Commit(ctx)
}

var errInUse = errors.New("the table of vines is in use")

func (b *bulk) takeAway(ctx context.Context, tx pgx.Tx) error {
	var used bool
	const inUse = `SELECT EXISTS (SELECT FROM vine)`
	if err := tx.QueryRow(ctx, inUse).Scan(&used); err != nil || used {
		return errors.Join(err, errInUse)
	}
	// Whoever reads the empty table now, a backup perhaps, is not waited for long.
	_, err := tx.Exec(ctx, `SET LOCAL lock_timeout = '1s'; LOCK TABLE vine IN ACCESS EXCLUSIVE MODE; SET LOCAL lock_timeout = '`+updatePatience+`'`)
	if err != nil {
		return err
	}
	if err := tx.QueryRow(ctx, inUse).Scan(&used); err != nil || used {
		return errors.Join(err, errInUse)
	}
	rows, err := tx.Query(ctx, `SELECT pg_get_indexdef(i) FROM unnest(ARRAY['vine_geom'::regclass, 'vine_tag'::regclass]) i`)
	if err != nil {
		return err
	}
	if b.indexes, err = pgx.CollectRows(rows, pgx.RowTo[string]); err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `DROP INDEX vine_geom, vine_tag`)
	return err
}

// finish builds what was taken away.
func (b *bulk) finish(ctx context.Context, t *tx) error {
	if len(b.indexes) == 0 {
		return nil
	}
	if _, err := t.pg.Exec(ctx, `SET LOCAL maintenance_work_mem = '256MB'`); err != nil {
		return err
	}
	for _, sql := range b.indexes {
		if _, err := t.pg.Exec(ctx, sql); err != nil {
			return err
		}
	}
	return nil
}
