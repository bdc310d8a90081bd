package postgis

import (
	"context"
	"maps"
	"slices"
	"sync"

	"courson/geo/vine"
	"courson/store"
)

// subscriber holds the changes that its reader has not taken yet, joined by
// block.
type subscriber struct {
	mu      sync.Mutex
	waiting map[vine.ID]store.Change
	wake    chan struct{}
}

// deliver hands changes over until ctx or the hub ends.
func (s *subscriber) deliver(ctx context.Context, done <-chan struct{}, out chan<- store.Change) {
	for {
		s.mu.Lock()
		taken := s.waiting
		s.waiting = map[vine.ID]store.Change{}
		s.mu.Unlock()
		for _, id := range slices.Sorted(maps.Keys(taken)) {
			select {
			case out <- s.newest(taken[id]):
			case <-ctx.Done():
				return
			case <-done:
				return
			}
		}
		select {
		case <-s.wake:
		case <-ctx.Done():
			return
		case <-done:
			return
		}
	}
}

// newest joins what came about the block while its notice waited.
func (s *subscriber) newest(c store.Change) store.Change {
	s.mu.Lock()
	defer s.mu.Unlock()
	if later, ok := s.waiting[c.Block]; ok {
		delete(s.waiting, c.Block)
		return join(c, later)
	}
	return c
}

func (s *subscriber) add(c store.Change) {
	s.mu.Lock()
	if before, ok := s.waiting[c.Block]; ok {
		c = join(before, c)
	}
	s.waiting[c.Block] = c
	s.mu.Unlock()
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// join makes one change of two about the same block.
func join(a, b store.Change) store.Change {
	out := store.Change{Block: a.Block, Revision: max(a.Revision, b.Revision), Ground: a.Ground || b.Ground, Plan: a.Plan || b.Plan}
	if len(a.Seasons) > 0 && len(b.Seasons) > 0 {
		out.Seasons = slices.Concat(a.Seasons, b.Seasons)
		slices.Sort(out.Seasons)
		out.Seasons = slices.Compact(out.Seasons)
	}
	return out
}
