package stands

import (
	"context"
	"slices"
	"unsafe"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// site is the ground of one block, shared by its stands of all seasons. It is
// never changed.
type site struct {
	ground  *stand.Ground
	rows    []store.Row
	index   *tile.Index
	outline *tile.Outline
	areaM2  float64
	rowM    float64
	bytes   int64
}

// site gives the ground of a block at a revision or a later one, loaded if it
// is not held.
func (c *Cache) site(ctx context.Context, h *Head) (*site, error) {
	for {
		c.mu.Lock()
		s, ok := c.sites[h.ID]
		c.mu.Unlock()
		if ok && s.ground.Revision >= h.GroundRev {
			return s, nil
		}
		s, err := c.siteFlight.do(ctx, h.ID, func(ctx context.Context) (*site, error) { return c.loadSite(ctx, h) })
		if err != nil {
			return nil, err
		}
		if s.ground.Revision >= h.GroundRev {
			return s, nil
		}
	}
}

func (c *Cache) loadSite(ctx context.Context, h *Head) (*site, error) {
	g, rows, err := work.GroundOf(ctx, c.store, h.Block)
	if err != nil {
		return nil, err
	}
	s := &site{ground: g, rows: rows, index: tile.NewIndex(g)}
	// A part of an outline that cannot be drawn is left out; the rest is shown.
	if s.outline, err = tile.PrepareOutline(h.Outline); err != nil {
		c.log.WarnContext(ctx, "draw the outline", "block", h.Code, "error", err)
	}
	s.areaM2 = frame.WGS84.MultiPolygonArea(h.Outline)
	for _, r := range rows {
		s.rowM += r.LengthM
	}
	s.bytes = g.Bytes() + rowsBytes(rows) + indexBytes*int64(g.Len())
	c.widen(h.ID, g.Revision, vineBounds(g))
	return s, nil
}

// vineBounds holds all vines, in degrees; empty where there are none.
func vineBounds(g *stand.Ground) orb.Bound {
	if g.Len() == 0 {
		return emptyBound()
	}
	west, south := tile.FromWorld(slices.Min(g.WX), slices.Max(g.WY))
	east, north := tile.FromWorld(slices.Max(g.WX), slices.Min(g.WY))
	return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
}

// emptyBound holds nothing.
func emptyBound() orb.Bound { return orb.Bound{Min: orb.Point{1, 1}, Max: orb.Point{-1, -1}} }

// indexBytes is about what the drawing index takes per vine.
const indexBytes = 3

func rowsBytes(rows []store.Row) (n int64) {
	for _, r := range rows {
		n += int64(unsafe.Sizeof(r)) + int64(len(r.Label)) + 64*int64(len(r.Extra))
		for _, part := range r.Line {
			n += int64(unsafe.Sizeof(part)) + int64(len(part))*int64(unsafe.Sizeof(orb.Point{}))
		}
	}
	return n
}

// dropSite lets go of a block and its stands. c.mu is held.
func (c *Cache) dropSite(id vine.ID) {
	for k, e := range c.stands {
		if k.block == id {
			c.drop(e)
		}
	}
}

// drop lets go of one stand, and of the ground with the last one. c.mu is held.
func (c *Cache) drop(e *entry) {
	c.recent.Remove(e.place)
	delete(c.stands, e.key)
	delete(c.found, e.key)
	c.stats.Bytes -= e.bytes
	for k := range c.stands {
		if k.block == e.key.block {
			return
		}
	}
	if s, ok := c.sites[e.key.block]; ok {
		c.stats.Bytes -= s.bytes
		delete(c.sites, e.key.block)
	}
}

// keep puts a stand and its ground in place of what was held before, and lets
// go of what has not been read for the longest, never of the stand itself.
func (c *Cache) keep(e *entry) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.set == nil || c.set.byID[e.key.block] == nil {
		return // the block went meanwhile
	}
	if s, ok := c.sites[e.key.block]; ok && s.ground.Revision > e.site.ground.Revision {
		return // its ground is old already
	}
	if old, ok := c.stands[e.key]; ok {
		if old.newer(e) {
			return
		}
		c.recent.Remove(old.place)
		delete(c.stands, e.key)
		c.stats.Bytes -= old.bytes
	}
	if s, ok := c.sites[e.key.block]; ok && s != e.site {
		c.dropSite(e.key.block)
		if s, ok := c.sites[e.key.block]; ok { // no stand was left to take it along
			c.stats.Bytes -= s.bytes
			delete(c.sites, e.key.block)
		}
	}
	if _, ok := c.sites[e.key.block]; !ok {
		c.sites[e.key.block] = e.site
		c.stats.Bytes += e.site.bytes
	}
	e.place = c.recent.PushFront(e)
	c.stands[e.key] = e
	c.stats.Bytes += e.bytes
	c.wholes[e.key] = e.whole()
	for c.stats.Bytes > c.budget && c.recent.Len() > 1 {
		c.stats.Evicted++
		c.drop(c.recent.Back().Value.(*entry))
	}
}

// newer tells whether e already shows more than o.
func (e *entry) newer(o *entry) bool {
	if e.site.ground.Revision != o.site.ground.Revision {
		return e.site.ground.Revision > o.site.ground.Revision
	}
	return e.stand.Revision > o.stand.Revision
}
