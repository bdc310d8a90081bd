// Package stands holds the vineyard in memory: the ground of every block that
// was asked for, and its stands, one per season. Tiles, pages and analyses read
// from here and never from the store.
//
// A block is loaded when it is first asked for, by one goroutine however many
// ask. Recording something marks its block; the next reader then fetches just
// the vines that changed and gets a new stand, while those who read the old one
// keep it: a Stand that was given out is never changed. Several seasons share
// one ground. What has not been read for the longest is let go when the memory
// budget is used up; the block's head and its totals stay.
package stands

import (
	"container/list"
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// DefaultBudget is the memory for grounds and stands where none is set: enough
// for 1 million vines in six seasons.
const DefaultBudget = 1 << 30

// Options of a cache.
type Options struct {
	Budget int64        // bytes for grounds and stands; 0: DefaultBudget
	Logger *slog.Logger // nil: silent
}

// Cache holds grounds and stands. All methods may be called from several
// goroutines at once.
type Cache struct {
	store  store.Store
	log    *slog.Logger
	budget int64
	feed   feed

	headFlight  flight[struct{}, *headSet]
	siteFlight  flight[vine.ID, *site]
	standFlight flight[key, *entry]

	mu        sync.Mutex
	set       *headSet // nil until first read
	haveHeads uint64   // the heads show everything up to this call for news …
	wantHeads uint64   // … of so many
	sites     map[vine.ID]*site
	stands    map[key]*entry
	wholes    map[key]*whole
	found     map[key]joined
	recent    *list.List // of *entry, newest in front
	stats     Stats

	stop context.CancelFunc
	done chan struct{}
}

// key names a stand.
type key struct {
	block  vine.ID
	season int
}

// Stats are the cache's own numbers.
type Stats struct {
	Bytes   int64 // held by grounds and stands
	Stands  int   // held
	Loads   int64 // stands read whole
	Folds   int64 // stands brought up to date
	Evicted int64 // stands let go
}

// New makes an empty cache over a store. Call Start before use and Close after.
func New(st store.Store, o Options) *Cache {
	if o.Budget <= 0 {
		o.Budget = DefaultBudget
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return &Cache{
		store: st, log: o.Logger, budget: o.Budget, wantHeads: 1,
		sites: make(map[vine.ID]*site), stands: make(map[key]*entry),
		wholes: make(map[key]*whole), found: make(map[key]joined), recent: list.New(),
	}
}

// Start listens for changes until Close. No change is missed from the moment it
// returns.
func (c *Cache) Start(ctx context.Context) error {
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	changes, err := c.store.Changes(ctx)
	if err != nil {
		stop()
		return err
	}
	c.stop, c.done = stop, make(chan struct{})
	go func() {
		defer close(c.done)
		c.listen(ctx, changes)
	}()
	return nil
}

// Close stops listening and waits for it to end.
func (c *Cache) Close() {
	if c.stop != nil {
		c.stop()
		<-c.done
	}
}

// listenAgain is the pause before listening anew where the store stopped
// telling.
const listenAgain = time.Second

// listen takes notices until ctx ends. Should the store stop sending them, it
// asks again, and takes everything held for old meanwhile.
func (c *Cache) listen(ctx context.Context, changes <-chan store.Change) {
	for {
		for ch := range changes {
			c.take(ch)
		}
		for changes = nil; changes == nil; {
			if ctx.Err() != nil {
				return
			}
			c.log.Warn("change notices ended; listening again")
			select {
			case <-ctx.Done():
				return
			case <-time.After(listenAgain):
			}
			var err error
			if changes, err = c.store.Changes(ctx); err != nil && !errors.Is(err, context.Canceled) {
				c.log.Warn("listen for changes", "error", err)
			}
		}
		c.Touched()
	}
}

// take notes a change notice and passes it on.
func (c *Cache) take(ch store.Change) {
	c.mu.Lock()
	c.note(ch)
	c.mu.Unlock()
	c.feed.publish(ch)
}

// note raises the revision of a head, or asks for the heads to be read anew
// where the notice does not say enough. c.mu is held.
func (c *Cache) note(ch store.Change) {
	if c.set == nil {
		c.wantHeads++
		return
	}
	h, ok := c.set.byID[ch.Block]
	switch {
	case !ok || ch.Ground || newSeason(c.set.seasons, ch):
		c.wantHeads++
	case ch.Revision > h.Revision:
		next := *h
		next.Revision = ch.Revision
		c.replaceHead(&next)
	}
}

// newSeason tells whether the notice may bring a season not known before.
func newSeason(known []int, ch store.Change) bool {
	if ch.Plan || len(ch.Seasons) == 0 {
		return true
	}
	for _, s := range ch.Seasons {
		found := false
		for _, k := range known {
			found = found || k == s
		}
		if !found {
			return true
		}
	}
	return false
}

// Touched says that this process has just changed something: whatever is read
// from now on shows it, without waiting for the store's notice.
func (c *Cache) Touched() {
	c.mu.Lock()
	c.wantHeads++
	c.mu.Unlock()
}

// Subscribe gives notice of every change from now on until ctx ends; then the
// channel is closed. Changes of one block that a slow reader has not taken yet
// are joined into one.
func (c *Cache) Subscribe(ctx context.Context) <-chan store.Change { return c.feed.subscribe(ctx) }

// Stats gives the cache's numbers as they are now.
func (c *Cache) Stats() Stats {
	c.mu.Lock()
	defer c.mu.Unlock()
	s := c.stats
	s.Stands = len(c.stands)
	return s
}
