package stands

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"golang.org/x/sync/errgroup"

	"courson/geo/tile"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// Estate gives the estate's own record.
func (c *Cache) Estate(ctx context.Context) (store.Estate, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return store.Estate{}, err
	}
	return set.estate, nil
}

// Seasons gives the seasons in which anything is recorded or planned, rising.
func (c *Cache) Seasons(ctx context.Context) ([]int, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return nil, err
	}
	return set.seasons, nil
}

// CountVines gives the number of vines of the whole estate.
func (c *Cache) CountVines(ctx context.Context) (int, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return 0, err
	}
	return set.vines, nil
}

// Heads gives all blocks in order of code, without loading a vine.
func (c *Cache) Heads(ctx context.Context) ([]*Head, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return nil, err
	}
	return set.list, nil
}

// Head gives one block, wrapped store.ErrNotFound if there is none.
func (c *Cache) Head(ctx context.Context, id vine.ID) (*Head, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return nil, err
	}
	if h, ok := set.byID[id]; ok {
		return h, nil
	}
	return nil, fmt.Errorf("block %d: %w", id, store.ErrNotFound)
}

// HeadByCode gives the block of a code; letter case counts not.
func (c *Cache) HeadByCode(ctx context.Context, code string) (*Head, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return nil, err
	}
	if h, ok := set.byCode[strings.ToLower(code)]; ok {
		return h, nil
	}
	return nil, fmt.Errorf("block %q: %w", code, store.ErrNotFound)
}

// TouchingHeads gives the blocks whose bounds meet a rectangle in degrees, in
// order of code, without loading a vine. The bounds lie in one slice, so that
// going through thousands of blocks takes microseconds.
func (c *Cache) TouchingHeads(ctx context.Context, within orb.Bound) ([]*Head, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return nil, err
	}
	var out []*Head
	for _, h := range set.list {
		if !h.Bounds.IsEmpty() && h.Bounds.Intersects(within) {
			out = append(out, h)
		}
	}
	return out, nil
}

// Stand gives a block in one season, loaded or brought up to date as needed:
// it shows everything that was recorded before the call.
func (c *Cache) Stand(ctx context.Context, block vine.ID, season int) (*View, error) {
	k := key{block, season}
	h, err := c.Head(ctx, block)
	if err != nil {
		return nil, err
	}
	if e, ok := c.held(k); ok && e.shows(h) && c.fresh(e) {
		return e.view(h), nil
	}
	for {
		e, err := c.standFlight.do(ctx, k, func(ctx context.Context) (*entry, error) { return c.load(ctx, k) })
		if err != nil {
			return nil, fmt.Errorf("load block %s season %d: %w", h.Code, season, err)
		}
		if e.shows(h) && c.fresh(e) { // else the flight had begun before the call
			return e.view(h), nil
		}
	}
}

// held gives the stand in memory and notes that it was asked for.
func (c *Cache) held(k key) (*entry, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	e, ok := c.stands[k]
	if ok {
		c.recent.MoveToFront(e.place)
	}
	return e, ok
}

// Totals gives the sums over a block in one season. They are kept when the
// stand itself has been let go.
func (c *Cache) Totals(ctx context.Context, block vine.ID, season int) (Totals, error) {
	h, err := c.Head(ctx, block)
	if err != nil {
		return Totals{}, err
	}
	if w, ok := c.wholeOf(key{block, season}); ok && w.shows(h) && c.current(key{block, season}, w) {
		return w.totals, nil
	}
	v, err := c.Stand(ctx, block, season)
	if err != nil {
		return Totals{}, err
	}
	return v.Totals, nil
}

func (c *Cache) wholeOf(k key) (*whole, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	w, ok := c.wholes[k]
	return w, ok
}

// Drawing is a block in one season, ready to be drawn, and the head that says
// which revision it shows.
type Drawing struct {
	Head
	tile.BlockView
	Found string // stamp of the findings shown
}

// Drawings gives the blocks to draw at a zoom, in their order. Far off, where
// no vine shows, blocks whose totals are known are not loaded again.
func (c *Cache) Drawings(ctx context.Context, heads []*Head, season int, zoom uint8) ([]Drawing, error) {
	return each(ctx, heads, func(ctx context.Context, h *Head) (Drawing, error) {
		if tile.FarOff(zoom) {
			if w, ok := c.wholeOf(key{h.ID, season}); ok && w.drawn && w.shows(h) && c.current(key{h.ID, season}, w) {
				d := Drawing{Head: *h, BlockView: w.far, Found: w.found}
				d.Revision, d.GroundRev = w.totals.Revision, w.ground
				return d, nil
			}
		}
		v, err := c.Stand(ctx, h.ID, season)
		if err != nil {
			return Drawing{}, err
		}
		return Drawing{Head: v.Head, BlockView: v.Drawing, Found: v.Stand.Stamp()}, nil
	})
}

// AllTotals gives the sums of the blocks, in their order.
func (c *Cache) AllTotals(ctx context.Context, heads []*Head, season int) ([]Totals, error) {
	return each(ctx, heads, func(ctx context.Context, h *Head) (Totals, error) {
		return c.Totals(ctx, h.ID, season)
	})
}

// Views gives the stands of the blocks, in their order, loading what is not
// held on all processors.
func (c *Cache) Views(ctx context.Context, heads []*Head, season int) ([]*View, error) {
	return each(ctx, heads, func(ctx context.Context, h *Head) (*View, error) {
		return c.Stand(ctx, h.ID, season)
	})
}

// Touching gives the stands of the blocks whose bounds meet a rectangle in
// degrees, in order of code.
func (c *Cache) Touching(ctx context.Context, within orb.Bound, season int) ([]*View, error) {
	heads, err := c.TouchingHeads(ctx, within)
	if err != nil {
		return nil, err
	}
	return c.Views(ctx, heads, season)
}

// Warm loads the blocks of a season until the budget is used up or ctx ends,
// leaving half the processors to those who wait for an answer.
func (c *Cache) Warm(ctx context.Context, season int) error {
	heads, err := c.Heads(ctx)
	if err != nil {
		return err
	}
	var g errgroup.Group
	g.SetLimit(max(1, runtime.GOMAXPROCS(0)/2))
	for _, h := range heads {
		if ctx.Err() != nil || c.Stats().Bytes > c.budget*9/10 {
			break
		}
		g.Go(func() error {
			_, err := c.Stand(ctx, h.ID, season)
			return err
		})
	}
	return g.Wait()
}

// each does f for every head, on all processors, and gives the results in
// order. Panics stay within flight.do, which every f goes through for its work.
func each[T any](ctx context.Context, heads []*Head, f func(context.Context, *Head) (T, error)) ([]T, error) {
	out := make([]T, len(heads))
	if len(heads) == 1 {
		var err error
		out[0], err = f(ctx, heads[0])
		return out, err
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(max(2, runtime.GOMAXPROCS(0)))
	for i, h := range heads {
		g.Go(func() (err error) {
			out[i], err = f(ctx, h)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	return slices.Clip(out), nil
}

// Standards gives what counts for a block.
func (c *Cache) Standards(ctx context.Context, b store.Block) (work.Settled, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return work.Settled{}, err
	}
	return set.book.For(b)
}
