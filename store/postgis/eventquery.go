package postgis

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
)

// Events gives the log by query, in order of receipt.
func (r reader) Events(ctx context.Context, q store.EventQuery) ([]store.LoggedEvent, error) {
	n, err := r.narrow(ctx, q)
	if err != nil || n == nil {
		return nil, fail("events", err)
	}
	rows, err := r.q.Query(ctx, n.sql(q), n.args...)
	if err != nil {
		return nil, fail("events", err)
	}
	defer rows.Close()
	var out []store.LoggedEvent
	for rows.Next() && (q.Limit <= 0 || len(out) < q.Limit) {
		e, err := scanEvent(rows)
		if err != nil {
			return nil, fail("events", err)
		}
		if n.keeps(&e.Event) {
			out = append(out, e)
		}
	}
	rows.Close()
	return out, fail("events", rows.Err())
}

// narrowed is a query: the places in the log to which it is bound, the conditions,
// and the tests for what neither can tell.
type narrowed struct {
	cursors []string // each a query for places in the log; all must hold
	conds   []string
	args    []any
	tests   []func(*vine.Event) bool
}

// arg gives the placeholder of an argument.
func (n *narrowed) arg(v any) string {
	n.args = append(n.args, v)
	return fmt.Sprintf("$%d", len(n.args))
}

func (n *narrowed) keeps(e *vine.Event) bool {
	return !slices.ContainsFunc(n.tests, func(test func(*vine.Event) bool) bool { return !test(e) })
}

func (n *narrowed) sql(q store.EventQuery) string {
	sql := selectEvents + ` FROM event e WHERE e.estate_id = $1`
	if len(n.cursors) > 0 {
		sql = selectEvents + ` FROM (` + strings.Join(n.cursors, ` INTERSECT `) + `) c` + eventAt + ` WHERE true`
	}
	for _, cond := range n.conds {
		sql += " AND " + cond
	}
	sql += " ORDER BY e.cursor"
	if q.Limit > 0 && len(n.tests) == 0 {
		sql += " LIMIT " + n.arg(q.Limit)
	}
	return sql
}

// narrow gives the query; nil means that nothing fits.
func (r reader) narrow(ctx context.Context, q store.EventQuery) (*narrowed, error) {
	n := &narrowed{args: []any{r.estate}}
	for _, part := range []struct {
		id  vine.ID
		add func(context.Context, *narrowed, vine.ID) (bool, error)
	}{{q.Row, r.ofRow}, {q.Vine, r.ofVine}, {q.Block, r.ofBlock}} { // the block last: it changes what is read
		if part.id == 0 {
			continue
		}
		if found, err := part.add(ctx, n, part.id); err != nil || !found {
			return nil, err
		}
	}
	if q.Season != 0 {
		n.conds = append(n.conds, `e.season = `+n.arg(q.Season))
	}
	if q.After != 0 {
		n.conds = append(n.conds, `e.cursor > `+n.arg(q.After))
	}
	if q.Device != "" {
		n.conds = append(n.conds, `e.device = `+n.arg(q.Device))
	}
	return n, nil
}

// ofBlock asks for what is about a block, also where it was said of another in which
// its vines stood then.
func (r reader) ofBlock(ctx context.Context, n *narrowed, id vine.ID) (bool, error) {
	view, places, err := r.viewOf(ctx, id)
	if err != nil {
		return false, err
	}
	block := n.arg(id)
	if view == nil {
		n.conds = append(n.conds, `e.block_id = `+block)
		return true, nil
	}
	about := wasIn(places...)
	for _, p := range places {
		if len(p.Was) > 0 {
			about = append(about, p.ID)
		}
	}
	n.cursors = append(n.cursors, `(SELECT cursor FROM event WHERE estate_id = $1 AND block_id = `+block+` UNION `+cursorsAbout(n.arg(about))+`)`)
	n.tests = append(n.tests, func(e *vine.Event) (ok bool) {
		*e, ok = view.Read(*e)
		return ok
	})
	return true, nil
}

// cursorsAbout gives the places in the log of what is kept under ids.
func cursorsAbout(ids string) string {
	return `SELECT DISTINCT n.cursor FROM unnest(` + ids + `::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT cursor FROM event_about WHERE estate_id = $1 AND about_id = w.id OFFSET 0) n`
}

// ofVine asks for what covers a vine. What is kept under its row may be about other
// vines of it.
func (r reader) ofVine(ctx context.Context, n *narrowed, id vine.ID) (bool, error) {
	found, err := r.placesOf(ctx, []vine.ID{id})
	place, ok := found[id]
	if err != nil || !ok {
		return false, err
	}
	one := []vine.Place{place}
	if err := r.addStays(ctx, one); err != nil {
		return false, err
	}
	n.cursors = append(n.cursors, `(`+cursorsAbout(n.arg(append(wasIn(one...), place.ID, place.Row, place.Block)))+`)`)
	n.conds = append(n.conds, `(e.vines IS NULL OR `+n.arg(id)+` = ANY (e.vines))`)
	if len(one[0].Was) > 0 {
		n.tests = append(n.tests, func(e *vine.Event) bool { return e.Covers(one[0]) })
	}
	return true, nil
}

// ofRow asks for what covers a row: what is kept under its vines, under itself and its
// block, and under those in which its vines stood.
func (r reader) ofRow(ctx context.Context, n *narrowed, id vine.ID) (bool, error) {
	var block vine.ID
	err := r.q.QueryRow(ctx, `SELECT block_id FROM vine_row WHERE estate_id = $1 AND row_id = $2`, r.estate, id).Scan(&block)
	if errors.Is(err, pgx.ErrNoRows) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	rows, err := r.q.Query(ctx, selectPlaces+vinesOfRows+ofBlock, r.estate, []vine.ID{id})
	if err != nil {
		return false, err
	}
	places, err := pgx.CollectRows(rows, scanPlace)
	if err == nil {
		err = r.addStays(ctx, places)
	}
	about := append(wasIn(places...), id, block)
	moved := len(about) > 2
	for _, p := range places {
		about = append(about, p.ID)
	}
	n.cursors = append(n.cursors, `(`+cursorsAbout(n.arg(about))+`)`)
	if moved {
		n.tests = append(n.tests, func(e *vine.Event) bool { return slices.ContainsFunc(places, e.Covers) })
	}
	return true, err
}
