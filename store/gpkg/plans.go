package gpkg

import (
	"fmt"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

const planColumns = "id, block_id, made, by_whom, source, inputs, kind, season"

func readPlans(c *conn, kind store.PlanKind, season int, block vine.ID) ([]store.Plan, error) {
	return plansBy(c, `kind = ? AND season = ? AND (? = 0 OR block_id = ?) ORDER BY id DESC`, string(kind), season, block, block)
}

func plansBy(c *conn, which string, args ...any) (out []store.Plan, err error) {
	err = c.each("SELECT "+planColumns+" FROM plan WHERE "+which, func(s *sqlite3.Stmt) error {
		p := store.Plan{
			ID: s.ColumnInt64(0), Block: s.ColumnInt64(1), Made: moment(s.ColumnInt64(2)), By: s.ColumnText(3), Source: s.ColumnText(4),
			Kind: store.PlanKind(s.ColumnText(6)), Season: s.ColumnInt(7),
		}
		p.Inputs, err = readExtra(s.ColumnRawText(5))
		if err != nil {
			return fmt.Errorf("inputs of plan %d: %w", p.ID, err)
		}
		out = append(out, p)
		return nil
	}, args...)
	return out, err
}

func readPlanEntries(c *conn, kind store.PlanKind, season int, block vine.ID) ([]store.PlanEntry, error) {
	return entriesBy(c, `(SELECT max(id) FROM plan WHERE kind = ? AND season = ? AND block_id = ?)`, string(kind), season, block)
}

func entriesBy(c *conn, plan string, args ...any) (out []store.PlanEntry, err error) {
	err = c.each(`SELECT vine_id, nodes, canes, spurs, reason, detail FROM plan_entry WHERE plan_id = `+plan, func(s *sqlite3.Stmt) error {
		e := store.PlanEntry{Vine: s.ColumnInt64(0), Nodes: said(s, 1), Canes: said(s, 2), Spurs: said(s, 3), Reason: s.ColumnText(4)}
		if detail := s.ColumnRawText(5); len(detail) > 0 {
			e.Detail = slices.Clone(detail)
		}
		out = append(out, e)
		return nil
	}, args...)
	return out, err
}

func readPlanVersion(c *conn, id int64) (store.Plan, []store.PlanEntry, error) {
	plans, err := plansBy(c, "id = ?", id)
	if err != nil || len(plans) == 0 {
		return store.Plan{}, nil, orMissing(err, "plan %d", id)
	}
	entries, err := entriesBy(c, "?", id)
	return plans[0], entries, err
}

// said reads a number of a plan; NULL is "not said", -1.
func said(s *sqlite3.Stmt, col int) int {
	if s.ColumnType(col) == sqlite3.NULL {
		return -1
	}
	return s.ColumnInt(col)
}

// orNull gives NULL for an empty text.
func orNull(text []byte) any {
	if len(text) == 0 {
		return nil
	}
	return text
}

func say(n int) any {
	if n < 0 {
		return nil
	}
	return n
}

// SavePlan writes a new version for one block.
func (t *tx) SavePlan(p store.Plan, entries []store.PlanEntry) (int64, error) {
	what := fmt.Sprintf("save %s plan of block %d for %d", p.Kind, p.Block, p.Season)
	var id int64
	err := t.run(t.ctx, what, func(c *conn) (err error) {
		id, err = t.savePlan(c, p, entries)
		return err
	})
	return id, err
}

func (t *tx) savePlan(c *conn, p store.Plan, entries []store.PlanEntry) (int64, error) {
	if err := t.checkPlan(c, p, entries); err != nil {
		return 0, err
	}
	if p.Made.IsZero() {
		p.Made = t.store.now()
	}
	inputs, err := writeExtra(p.Inputs)
	if err != nil {
		return 0, fmt.Errorf("inputs: %w", err)
	}
	id, err := c.number(`INSERT INTO plan (kind, season, block_id, made, by_whom, source, inputs)
		VALUES (?, ?, ?, ?, ?, ?, CAST(? AS TEXT)) RETURNING id`,
		string(p.Kind), p.Season, p.Block, micros(p.Made.Truncate(time.Microsecond)), p.By, p.Source, inputs)
	if err != nil {
		return 0, err
	}
	for _, e := range entries {
		err := c.exec("INSERT INTO plan_entry VALUES (?, ?, ?, ?, ?, ?, CAST(? AS TEXT))",
			id, e.Vine, say(e.Nodes), say(e.Canes), say(e.Spurs), e.Reason, orNull(e.Detail))
		if err != nil {
			return 0, fmt.Errorf("vine %d: %w", e.Vine, err)
		}
	}
	if err := c.exec("INSERT OR IGNORE INTO season VALUES (?)", p.Season); err != nil {
		return 0, err
	}
	b, err := t.touch(c, p.Block)
	if err != nil {
		return 0, err
	}
	b.seasons[p.Season] = true
	if b.plan {
		return id, nil
	}
	b.plan = true
	return id, c.exec("UPDATE block_revision SET plan_rev = revision WHERE block_id = ?", p.Block)
}

// checkPlan sees to it that a plan speaks of vines of its block, once each.
func (t *tx) checkPlan(c *conn, p store.Plan, entries []store.PlanEntry) error {
	if _, found, err := readBlock(c, p.Block); err != nil || !found {
		return orMissing(err, "block %d", p.Block)
	}
	for _, text := range []string{string(p.Kind), p.By, p.Source} {
		if err := logbook.CheckText("kind, by or source", text); err != nil {
			return err
		}
	}
	ids := make([]vine.ID, len(entries))
	once := make(map[vine.ID]bool, len(entries))
	for i, e := range entries {
		if once[e.Vine] {
			return fmt.Errorf("vine %d stands twice in the plan: %w", e.Vine, store.ErrConflict)
		}
		if err := logbook.CheckEntry(e); err != nil {
			return err
		}
		once[e.Vine], ids[i] = true, e.Vine
	}
	places, err := placesOf(c, ids)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if p0, ok := places[id]; !ok || p0.Block != p.Block {
			return fmt.Errorf("there is no vine %d in block %d: %w", id, p.Block, store.ErrNotFound)
		}
	}
	return nil
}

// orMissing gives the error, or where there is none says that the thing is not
// there.
func orMissing(err error, what string, args ...any) error {
	if err != nil {
		return err
	}
	return fmt.Errorf("there is no "+what+": %w", append(args, store.ErrNotFound)...)
}
