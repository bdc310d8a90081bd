package stands

import (
	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
)

// joined is what was found of a block in a season: it is shown with every
// stand on the same ground, until something newer is joined.
type joined struct {
	found  *stand.Found
	areas  tile.Areas
	ground int64 // ground revision that the columns belong to
}

// Join shows findings with the stand of a block and season from now on. They
// stay until others are joined or the stand is let go.
func (c *Cache) Join(block vine.ID, season int, ground int64, f *stand.Found, areas tile.Areas) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.found[key{block, season}] = joined{f, areas, ground}
}

// Stamp names the findings that the next look at a block shows; empty where
// there are none.
func (c *Cache) Stamp(block vine.ID, season int) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if f := c.found[key{block, season}].found; f != nil {
		return f.Stamp
	}
	return ""
}

// joinedTo gives the findings for a ground.
func (c *Cache) joinedTo(k key, ground int64) joined {
	c.mu.Lock()
	defer c.mu.Unlock()
	if j := c.found[k]; j.ground == ground {
		return j
	}
	return joined{}
}

// fresh tells whether the entry shows the findings that are joined to its
// stand.
func (c *Cache) fresh(e *entry) bool {
	return c.joinedTo(e.key, e.site.ground.Revision).found == e.stand.Found
}

// join puts the newest findings into an entry that is being made.
func (c *Cache) join(e *entry) error {
	j := c.joinedTo(e.key, e.site.ground.Revision)
	e.areas = j.areas
	if e.stand.Found == j.found {
		return nil
	}
	s, err := e.stand.WithFound(j.found)
	if err != nil {
		return err
	}
	e.stand = s
	return nil
}

// current tells whether what stayed of a stand shows the findings joined since.
// Where none are joined any more, what it shows is still right.
func (c *Cache) current(k key, w *whole) bool {
	f := c.joinedTo(k, w.ground).found
	return f == nil || f.Stamp == w.found
}
