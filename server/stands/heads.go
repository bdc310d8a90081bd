package stands

import (
	"context"
	"fmt"
	"hash/fnv"
	"maps"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// Head is what is held of a block whether its vines are in memory or not.
type Head struct {
	store.Block
	// Bounds holds outline, rows and vines as far as they are known, in degrees;
	// empty (Bounds.IsEmpty) for a block of which nothing is drawn.
	Bounds orb.Bound
	// Print tells blocks of different estates apart that happen to have the same
	// id and revision; part of every tag.
	Print uint64
}

// printOf is a hash of what makes a block this one.
func printOf(e store.Estate, b store.Block) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%d %q %q %q %q %v", e.ID, e.Name, b.Code, b.Name, b.Variety, b.Outline.Bound())
	return h.Sum64()
}

// headSet is one reading of the blocks. It is never changed; a new one takes
// its place.
type headSet struct {
	estate  store.Estate
	seasons []int // rising
	vines   int   // of the whole estate
	list    []*Head
	byID    map[vine.ID]*Head
	byCode  map[string]*Head // code in lower case
	book    work.Rulebook
}

// heads gives the blocks as they are now: read anew when something happened
// that a change notice did not spell out.
func (c *Cache) heads(ctx context.Context) (*headSet, error) {
	for {
		c.mu.Lock()
		set, current := c.set, c.set != nil && c.haveHeads >= c.wantHeads
		c.mu.Unlock()
		if current {
			return set, nil
		}
		if _, err := c.headFlight.do(ctx, struct{}{}, c.readHeads); err != nil {
			return nil, fmt.Errorf("read blocks: %w", err)
		}
	}
}

// readHeads reads estate, seasons and blocks from the store.
func (c *Cache) readHeads(ctx context.Context) (*headSet, error) {
	c.mu.Lock()
	asked := c.wantHeads
	old := c.set
	c.mu.Unlock()

	var set headSet
	var err error
	if set.estate, err = c.store.Estate(ctx); err != nil {
		return nil, fmt.Errorf("estate: %w", err)
	}
	if set.seasons, err = c.store.Seasons(ctx); err != nil {
		return nil, fmt.Errorf("seasons: %w", err)
	}
	if set.book, err = work.ReadRulebook(ctx, c.store); err != nil {
		return nil, err
	}
	blocks, err := c.store.Blocks(ctx)
	if err != nil {
		return nil, fmt.Errorf("blocks: %w", err)
	}
	for _, b := range blocks {
		h := &Head{Block: b, Print: printOf(set.estate, b)}
		if h.Bounds, err = c.boundsOf(ctx, b, old); err != nil {
			return nil, fmt.Errorf("bounds of block %s: %w", b.Code, err)
		}
		set.list = append(set.list, h)
	}
	set.index()
	if set.vines, err = c.countVines(ctx, &set, old); err != nil {
		return nil, err
	}
	return c.keepHeads(&set, asked), nil
}

// countVines counts anew only when the ground of a block changed.
func (c *Cache) countVines(ctx context.Context, set, old *headSet) (int, error) {
	if old != nil && slices.EqualFunc(set.list, old.list, func(a, b *Head) bool { return a.ID == b.ID && a.GroundRev == b.GroundRev }) {
		return old.vines, nil
	}
	return c.store.CountVines(ctx)
}

func (s *headSet) index() {
	s.byID = make(map[vine.ID]*Head, len(s.list))
	s.byCode = make(map[string]*Head, len(s.list))
	for _, h := range s.list {
		s.byID[h.ID] = h
		s.byCode[strings.ToLower(h.Code)] = h
	}
}

// keepHeads puts a reading in place. A notice may have told of a higher
// revision while the reading was under way.
func (c *Cache) keepHeads(set *headSet, asked uint64) *headSet {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.set != nil {
		for _, h := range set.list {
			old, ok := c.set.byID[h.ID]
			if !ok {
				continue
			}
			if old.GroundRev == h.GroundRev && !old.Bounds.IsEmpty() {
				h.Bounds = h.Bounds.Union(old.Bounds)
			}
			h.Revision = max(h.Revision, old.Revision)
			h.GroundRev = max(h.GroundRev, old.GroundRev)
		}
	}
	c.set = set
	c.haveHeads = max(c.haveHeads, asked)
	for id := range c.sites { // blocks that are no more
		if _, ok := set.byID[id]; !ok {
			c.dropSite(id)
		}
	}
	maps.DeleteFunc(c.wholes, func(k key, _ *whole) bool { return set.byID[k.block] == nil })
	return set
}

// boundsOf gives the outline's bounds, else those of the rows, else those of
// the vines; and never less than what an earlier look at the same ground knew.
func (c *Cache) boundsOf(ctx context.Context, b store.Block, old *headSet) (orb.Bound, error) {
	if old != nil {
		if h, ok := old.byID[b.ID]; ok && h.GroundRev == b.GroundRev {
			return h.Bounds, nil
		}
	}
	if len(b.Outline) > 0 {
		return b.Outline.Bound(), nil
	}
	var bounds orb.Bound
	first := true
	add := func(o orb.Bound) {
		if first {
			bounds, first = o, false
		} else {
			bounds = bounds.Union(o)
		}
	}
	rows, err := c.store.Rows(ctx, b.ID)
	if err != nil {
		return bounds, err
	}
	for _, r := range rows {
		if len(r.Line) > 0 {
			add(r.Line.Bound())
		}
	}
	if first {
		for v, err := range c.store.Vines(ctx, b.ID) {
			if err != nil {
				return bounds, err
			}
			add(v.Point.Bound())
		}
	}
	if first {
		return emptyBound(), nil
	}
	return bounds, nil
}

// widen lets a head's bounds hold what its loaded ground shows.
func (c *Cache) widen(id vine.ID, ground int64, b orb.Bound) {
	c.mu.Lock()
	defer c.mu.Unlock()
	h, ok := c.set.byID[id]
	if !ok || h.GroundRev != ground || (h.Bounds.Contains(b.Min) && h.Bounds.Contains(b.Max)) {
		return
	}
	next := *h
	if h.Bounds.IsEmpty() {
		next.Bounds = b
	} else {
		next.Bounds = h.Bounds.Union(b)
	}
	c.replaceHead(&next)
}

// replaceHead puts a new head in the place of the one with its id, in a new
// set. c.mu is held.
func (c *Cache) replaceHead(h *Head) {
	set := *c.set
	set.list = slices.Clone(set.list)
	for i, old := range set.list {
		if old.ID == h.ID {
			set.list[i] = h
		}
	}
	set.index()
	c.set = &set
}
