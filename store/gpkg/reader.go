package gpkg

import (
	"context"
	"fmt"
	"iter"

	"courson/geo/vine"
	"courson/store"
)

// reader is everything that only reads. The store and a transaction differ in
// the connection they read through: with lends it to f for one snapshot.
type reader struct {
	with func(ctx context.Context, f func(*conn) error) error
	keep func(blockCopy) // takes what was made of rows just read; nil: it is not kept
}

// get reads one thing through the reader's connection.
func get[T any](ctx context.Context, r reader, what string, read func(*conn) (T, error)) (T, error) {
	var out T
	err := r.with(ctx, func(c *conn) (err error) {
		out, err = read(c)
		return err
	})
	if err != nil {
		var none T
		return none, fmt.Errorf("%s: %w", what, err)
	}
	return out, nil
}

func (r reader) Estate(ctx context.Context) (store.Estate, error) {
	return get(ctx, r, "estate", readEstate)
}

func (r reader) Blocks(ctx context.Context) ([]store.Block, error) {
	return get(ctx, r, "blocks", readBlocks)
}

func (r reader) Rows(ctx context.Context, block vine.ID) ([]store.Row, error) {
	return get(ctx, r, fmt.Sprintf("rows of block %d", block), func(c *conn) ([]store.Row, error) {
		return readRows(c, block)
	})
}

// Vines reads the block whole before it hands over the first vine.
func (r reader) Vines(ctx context.Context, block vine.ID) iter.Seq2[store.Vine, error] {
	return func(yield func(store.Vine, error) bool) {
		var rows *mark
		vines, err := get(ctx, r, fmt.Sprintf("vines of block %d", block), func(c *conn) (vines []store.Vine, err error) {
			vines, rows, err = vinesOf(c, block)
			return vines, err
		})
		if err != nil {
			yield(store.Vine{}, err)
			return
		}
		if rows != nil && r.keep != nil {
			r.keep(blockCopy{block: block, shows: *rows, vines: len(vines), data: packVines(vines)})
		}
		for _, v := range vines {
			if !yield(v, nil) {
				return
			}
		}
	}
}

func (r reader) Vine(ctx context.Context, id vine.ID) (store.Vine, error) {
	return get(ctx, r, fmt.Sprintf("vine %d", id), func(c *conn) (store.Vine, error) {
		v, found, err := readVine(c, id)
		if err == nil && !found {
			err = store.ErrNotFound
		}
		return v, err
	})
}

func (r reader) OldLabels(ctx context.Context, id vine.ID) ([]store.OldLabel, error) {
	return get(ctx, r, fmt.Sprintf("old labels of %d", id), func(c *conn) ([]store.OldLabel, error) {
		return readOldLabels(c, id)
	})
}

func (r reader) FindLabel(ctx context.Context, text string) ([]store.Vine, error) {
	return get(ctx, r, fmt.Sprintf("find %q", text), func(c *conn) ([]store.Vine, error) {
		return findLabel(c, text)
	})
}

func (r reader) Events(ctx context.Context, q store.EventQuery) ([]store.LoggedEvent, error) {
	return get(ctx, r, "events", func(c *conn) ([]store.LoggedEvent, error) { return readEvents(c, q) })
}

// States reads the block whole, in compact form, before it hands over the first
// state.
func (r reader) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return func(yield func(store.VineState, error) bool) {
		what := fmt.Sprintf("states of block %d in %d", block, season)
		var rows *mark
		held, err := get(ctx, r, what, func(c *conn) (held *heldStates, err error) {
			if after > 0 {
				return readStates(c, block, season, after)
			}
			held, rows, err = statesOf(c, block, season)
			return held, err
		})
		if err != nil {
			yield(store.VineState{}, err)
			return
		}
		if rows != nil && r.keep != nil {
			r.keep(held.copy(block, *rows))
		}
		for s, err := range held.all() {
			if err != nil {
				err = fmt.Errorf("%s: %w", what, err)
			}
			if !yield(s, err) || err != nil {
				return
			}
		}
	}
}

func (r reader) Seasons(ctx context.Context) ([]int, error) {
	return get(ctx, r, "seasons", readSeasons)
}

func (r reader) PlanList(ctx context.Context, kind store.PlanKind, season int, block vine.ID) ([]store.Plan, error) {
	return get(ctx, r, fmt.Sprintf("%s plans of %d", kind, season), func(c *conn) ([]store.Plan, error) {
		return readPlans(c, kind, season, block)
	})
}

func (r reader) PlanEntries(ctx context.Context, kind store.PlanKind, season int, block vine.ID) ([]store.PlanEntry, error) {
	return get(ctx, r, fmt.Sprintf("%s plan of block %d for %d", kind, block, season), func(c *conn) ([]store.PlanEntry, error) {
		return readPlanEntries(c, kind, season, block)
	})
}

func (r reader) PlanVersion(ctx context.Context, id int64) (store.Plan, []store.PlanEntry, error) {
	var plan store.Plan
	entries, err := get(ctx, r, fmt.Sprintf("plan %d", id), func(c *conn) (entries []store.PlanEntry, err error) {
		plan, entries, err = readPlanVersion(c, id)
		return entries, err
	})
	return plan, entries, err
}

func (r reader) Standards(ctx context.Context) ([]store.Standards, error) {
	return get(ctx, r, "standards", readStandards)
}
