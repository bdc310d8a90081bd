package postgis

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// PlanList gives the heads of the plans of a kind and season, newest first.
func (r reader) PlanList(ctx context.Context, kind store.PlanKind, season int, block vine.ID) ([]store.Plan, error) {
	return r.plansBy(ctx, `kind = $2 AND season = $3 AND ($4 = 0 OR block_id = $4) ORDER BY plan_id DESC`, kind, season, block)
}

func (r reader) plansBy(ctx context.Context, which string, args ...any) ([]store.Plan, error) {
	rows, err := r.q.Query(ctx, `SELECT plan_id, kind, season, block_id, made, by_whom, source, inputs FROM plan
		WHERE estate_id = $1 AND `+which, append([]any{r.estate}, args...)...)
	if err != nil {
		return nil, fail("plans", err)
	}
	plans, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.Plan, error) {
		var p store.Plan
		var inputs []byte
		err := row.Scan(&p.ID, &p.Kind, &p.Season, &p.Block, &p.Made, &p.By, &p.Source, &inputs)
		if err == nil {
			p.Made = p.Made.UTC()
			p.Inputs, err = extraFrom(inputs)
		}
		return p, err
	})
	return plans, fail("plans", err)
}

// PlanEntries gives what the newest plan of the kind says for the vines of a
// block.
func (r reader) PlanEntries(ctx context.Context, kind store.PlanKind, season int, block vine.ID) ([]store.PlanEntry, error) {
	return r.entriesBy(ctx, `(SELECT max(plan_id) FROM plan WHERE estate_id = $1 AND kind = $2 AND season = $3 AND block_id = $4)`, kind, season, block)
}

func (r reader) entriesBy(ctx context.Context, plan string, args ...any) ([]store.PlanEntry, error) {
	rows, err := r.q.Query(ctx, `SELECT vine_id, nodes, canes, spurs, reason, detail FROM plan_entry
		WHERE estate_id = $1 AND plan_id = `+plan+` ORDER BY vine_id`, append([]any{r.estate}, args...)...)
	if err != nil {
		return nil, fail("plan entries", err)
	}
	entries, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.PlanEntry, error) {
		var e store.PlanEntry
		var detail []byte
		err := row.Scan(&e.Vine, &e.Nodes, &e.Canes, &e.Spurs, &e.Reason, &detail)
		e.Detail = detail
		return e, err
	})
	return entries, fail("plan entries", err)
}

// PlanVersion gives one version.
func (r reader) PlanVersion(ctx context.Context, id int64) (store.Plan, []store.PlanEntry, error) {
	plans, err := r.plansBy(ctx, `plan_id = $2`, id)
	if err != nil {
		return store.Plan{}, nil, err
	}
	if len(plans) == 0 {
		return store.Plan{}, nil, fail(fmt.Sprintf("plan %d", id), store.ErrNotFound)
	}
	entries, err := r.entriesBy(ctx, `$2`, id)
	return plans[0], entries, err
}

// SavePlan writes a new version of a plan for one block.
func (t *tx) SavePlan(p store.Plan, entries []store.PlanEntry) (int64, error) {
	what := fmt.Sprintf("save %s plan %d of block %d", p.Kind, p.Season, p.Block)
	if err := logbook.CheckPlan(p, entries); err != nil {
		return 0, fail(what, err)
	}
	if err := t.mustExist(`SELECT b.block_id`+blocksIn, "block", map[vine.ID]bool{p.Block: true}); err != nil {
		return 0, fail(what, err)
	}
	if err := t.checkPlanned(p.Block, entries); err != nil {
		return 0, fail(what, err)
	}
	id, err := t.writePlan(p, entries)
	return id, fail(what, err)
}

func (t *tx) writePlan(p store.Plan, entries []store.PlanEntry) (int64, error) {
	id, err := t.newIDs(t.ctx, 1)
	if err != nil {
		return 0, err
	}
	if p.Made.IsZero() {
		p.Made = t.now
	}
	var inputs any
	if len(p.Inputs) > 0 {
		text, err := json.Marshal(p.Inputs)
		if err != nil {
			return 0, fmt.Errorf("inputs: %w", err)
		}
		if err := logbook.CheckJSON("inputs", text); err != nil {
			return 0, err
		}
		inputs = text
	}
	if _, err := t.newCursors(t.ctx, map[int]bool{p.Season: true}, 0); err != nil {
		return 0, err
	}
	_, err = t.pg.Exec(t.ctx, `
		INSERT INTO plan (estate_id, plan_id, kind, season, block_id, made, by_whom, source, inputs)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		t.estate, id, p.Kind, p.Season, p.Block, logbook.Instant(p.Made), p.By, p.Source, inputs)
	if err != nil {
		return 0, err
	}
	_, err = t.pg.CopyFrom(t.ctx, pgx.Identifier{"plan_entry"},
		[]string{"estate_id", "plan_id", "vine_id", "nodes", "canes", "spurs", "reason", "detail"},
		pgx.CopyFromSlice(len(entries), func(i int) ([]any, error) {
			e := &entries[i]
			return []any{t.estate, id, e.Vine, said(e.Nodes), said(e.Canes), said(e.Spurs), e.Reason, orNull(e.Detail)}, nil
		}))
	if err != nil {
		return 0, err
	}
	if err := t.touch(t.ctx, []vine.ID{p.Block}); err != nil {
		return 0, err
	}
	b := t.touched[p.Block]
	b.plan = true
	b.seasons[p.Season] = true
	return id, nil
}

// orNull gives NULL for an empty text.
func orNull(text []byte) any {
	if len(text) == 0 {
		return nil
	}
	return text
}

// said is a plan's number; below 0, not said, is always -1.
func said(n int) int32 { return int32(max(n, -1)) }

// checkPlanned refuses entries for vines that do not stand in the block.
func (t *tx) checkPlanned(block vine.ID, entries []store.PlanEntry) error {
	ids := make([]vine.ID, len(entries))
	for i, e := range entries {
		ids[i] = e.Vine
	}
	places, err := t.placesOf(t.ctx, ids)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if p, ok := places[id]; !ok || p.Block != block {
			return fmt.Errorf("vine %d in block %d: %w", id, block, store.ErrNotFound)
		}
	}
	return nil
}
