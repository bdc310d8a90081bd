package postgis

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// foundAtMost is how many vines FindLabel gives.
const foundAtMost = 50

// OldLabels gives what a block, row or vine was called before, newest first.
func (r reader) OldLabels(ctx context.Context, id vine.ID) ([]store.OldLabel, error) {
	rows, err := r.q.Query(ctx, `
		SELECT label, until FROM label_history WHERE estate_id = $1 AND of_id = $2
		ORDER BY until DESC, n DESC`, r.estate, id)
	if err != nil {
		return nil, fail("old labels", err)
	}
	labels, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.OldLabel, error) {
		var l store.OldLabel
		err := row.Scan(&l.Label, &l.Until)
		l.Until = l.Until.UTC()
		return l, err
	})
	return labels, fail("old labels", err)
}

// FindLabel gives the vines whose address, tag or old label is the text. An
// address also finds by what its block or row was called before.
func (r reader) FindLabel(ctx context.Context, text string) ([]store.Vine, error) {
	what := fmt.Sprintf("find %q", text)
	key := logbook.Key(text)
	if key == "" {
		return nil, nil
	}
	ids, err := r.labelled(ctx, key)
	if err != nil {
		return nil, fail(what, err)
	}
	if block, row, number, ok := logbook.SplitAddress(text); ok {
		more, err := r.addressed(ctx, block, row, number)
		if err != nil {
			return nil, fail(what, err)
		}
		ids = append(ids, more...)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	if len(ids) == 0 {
		return nil, nil
	}
	rows, err := r.q.Query(ctx, `
		SELECT `+vineColumns+vinesIn+`
		ORDER BY v.vine_id LIMIT $3`, r.estate, ids, foundAtMost)
	if err != nil {
		return nil, fail(what, err)
	}
	vines, err := pgx.CollectRows(rows, scanVine)
	return vines, fail(what, err)
}

// labelled gives the vines that carry the tag, or carried the label before.
func (r reader) labelled(ctx context.Context, key string) ([]vine.ID, error) {
	rows, err := r.q.Query(ctx, `
		(SELECT vine_id FROM vine WHERE estate_id = $1 AND tag_key = $2 ORDER BY vine_id LIMIT $3)
		UNION
		(SELECT v.vine_id FROM label_history h JOIN vine v ON v.estate_id = h.estate_id AND v.vine_id = h.of_id
		 WHERE h.estate_id = $1 AND h.label_key = $2 ORDER BY v.vine_id LIMIT $3)`, r.estate, key, foundAtMost)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[vine.ID])
}

// addressed gives the vines with the number in rows and blocks that are or were
// called so. Blocks and their rows are few: Go compares the labels, as both
// stores must agree on letter case.
func (r reader) addressed(ctx context.Context, block, row string, number int) ([]vine.ID, error) {
	blocks, err := r.called(ctx, `SELECT block_id, code FROM block WHERE estate_id = $1 AND $2::bigint[] IS NULL`, nil, block)
	if err != nil || len(blocks) == 0 {
		return nil, err
	}
	rows, err := r.called(ctx, `SELECT row_id, label FROM vine_row WHERE estate_id = $1 AND block_id = ANY($2)`, blocks, row)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	found, err := r.q.Query(ctx, `
		SELECT v.vine_id`+vinesOfRows+` WHERE v.number = $3 LIMIT $4`,
		r.estate, rows, number, foundAtMost)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(found, pgx.RowTo[vine.ID])
}

// called gives which of the selected blocks or rows have or had the label.
func (r reader) called(ctx context.Context, sql string, within []vine.ID, key string) ([]vine.ID, error) {
	rows, err := r.q.Query(ctx, sql, r.estate, within)
	if err != nil {
		return nil, err
	}
	var all, out []vine.ID
	var id vine.ID
	var label string
	if _, err := pgx.ForEachRow(rows, []any{&id, &label}, func() error {
		all = append(all, id)
		if logbook.Key(label) == key {
			out = append(out, id)
		}
		return nil
	}); err != nil {
		return nil, err
	}
	before, err := r.q.Query(ctx, `
		SELECT of_id FROM label_history WHERE estate_id = $1 AND label_key = $2 AND of_id = ANY($3)`, r.estate, key, all)
	if err != nil {
		return nil, err
	}
	more, err := pgx.CollectRows(before, pgx.RowTo[vine.ID])
	return append(out, more...), err
}

// checkLabels refuses two labels that clash, before the commit would, and names
// them as people do.
func (t *tx) checkLabels(ctx context.Context) error {
	if t.wrote == 0 {
		return nil
	}
	inner, err := t.pg.Begin(ctx) // a savepoint: after a complaint we still want to ask
	if err != nil {
		return fail("check labels", err)
	}
	_, err = inner.Exec(ctx, `SET CONSTRAINTS ALL IMMEDIATE`)
	if err == nil {
		return fail("check labels", inner.Commit(ctx))
	}
	if rolled := inner.Rollback(ctx); rolled != nil {
		return fail("check labels", err)
	}
	return t.describe(ctx, err)
}

// describe turns the database's complaint about a label into ours.
func (t *tx) describe(ctx context.Context, err error) error {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) || pg.Code != "23505" {
		return fail("check labels", err)
	}
	var sql string
	switch pg.ConstraintName {
	case "block_code":
		sql = `SELECT 'two blocks with code ' || code FROM block WHERE estate_id = $1 GROUP BY code HAVING count(*) > 1`
	case "vine_row_label":
		sql = `SELECT 'two rows with label ' || r.label || ' in block ' || b.code FROM vine_row r JOIN block b USING (estate_id, block_id)
		       WHERE r.estate_id = $1 GROUP BY b.code, r.block_id, r.label HAVING count(*) > 1`
	case "vine_number":
		sql = `SELECT 'two vines with address ' || b.code || '/' || r.label || '/' || v.number
		       FROM (SELECT row_id, number FROM vine WHERE estate_id = $1 GROUP BY row_id, number HAVING count(*) > 1) v
		       JOIN vine_row r ON r.estate_id = $1 AND r.row_id = v.row_id JOIN block b ON b.estate_id = $1 AND b.block_id = r.block_id`
	default:
		return fail("check labels", err)
	}
	var text string
	if asked := t.pg.QueryRow(ctx, sql+` LIMIT 1`, t.estate).Scan(&text); asked != nil {
		return fail("check labels", err)
	}
	return fmt.Errorf("%w: %s", store.ErrConflict, text)
}
