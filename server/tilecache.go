package server

import (
	"container/list"
	"sync"
)

// tileCache keeps finished tiles by their tag, as many as fit into a budget of
// bytes; the one not asked for the longest goes first.
type tileCache struct {
	mu     sync.Mutex
	budget int64
	bytes  int64
	order  *list.List // of *keptTile, newest in front
	byTag  map[string]*list.Element
}

type keptTile struct {
	tag   string
	tile  reply
	empty bool // nothing to draw
}

// keptOverhead is about what one kept tile costs beside its bytes.
const keptOverhead = 200

func newTileCache(budget int64) *tileCache {
	return &tileCache{budget: budget, order: list.New(), byTag: make(map[string]*list.Element)}
}

func (k *keptTile) cost() int64 {
	return int64(len(k.tile.plain) + len(k.tile.zipped) + keptOverhead)
}

func (c *tileCache) get(tag string) (*keptTile, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	el, ok := c.byTag[tag]
	if !ok {
		return nil, false
	}
	c.order.MoveToFront(el)
	return el.Value.(*keptTile), true
}

func (c *tileCache) put(k *keptTile) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, ok := c.byTag[k.tag]; ok || k.cost() > c.budget {
		return
	}
	c.byTag[k.tag] = c.order.PushFront(k)
	c.bytes += k.cost()
	for c.bytes > c.budget {
		old := c.order.Remove(c.order.Back()).(*keptTile)
		delete(c.byTag, old.tag)
		c.bytes -= old.cost()
	}
}

func (c *tileCache) size() int64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.bytes
}
