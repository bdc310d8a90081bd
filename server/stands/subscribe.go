package stands

import (
	"context"
	"slices"
	"sync"

	"courson/geo/vine"
	"courson/store"
)

// feed hands every change to every subscriber. A subscriber who is slow gets
// the changes of one block joined into one; nobody waits for him.
type feed struct {
	mu   sync.Mutex
	subs map[*subscriber]struct{}
}

type subscriber struct {
	mu      sync.Mutex
	pending map[vine.ID]store.Change
	order   []vine.ID
	ready   chan struct{} // holds one token while something is pending
}

// publish never blocks.
func (f *feed) publish(ch store.Change) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for s := range f.subs {
		s.add(ch)
	}
}

func (s *subscriber) add(ch store.Change) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if old, ok := s.pending[ch.Block]; ok {
		ch = Join(old, ch)
	} else {
		s.order = append(s.order, ch.Block)
	}
	s.pending[ch.Block] = ch
	select {
	case s.ready <- struct{}{}:
	default:
	}
}

// take removes the oldest pending change.
func (s *subscriber) take() (ch store.Change, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.order) == 0 {
		return ch, false
	}
	id := s.order[0]
	s.order = s.order[1:]
	ch = s.pending[id]
	delete(s.pending, id)
	return ch, true
}

// subscribe gives the changes from now on until ctx ends; then the channel is
// closed.
func (f *feed) subscribe(ctx context.Context) <-chan store.Change {
	s := &subscriber{pending: make(map[vine.ID]store.Change), ready: make(chan struct{}, 1)}
	f.mu.Lock()
	if f.subs == nil {
		f.subs = make(map[*subscriber]struct{})
	}
	f.subs[s] = struct{}{}
	f.mu.Unlock()

	out := make(chan store.Change)
	go func() {
		defer close(out)
		defer f.drop(s)
		for {
			select {
			case <-ctx.Done():
				return
			case <-s.ready:
			}
			for ch, ok := s.take(); ok; ch, ok = s.take() {
				select {
				case <-ctx.Done():
					return
				case out <- ch:
				}
			}
		}
	}()
	return out
}

func (f *feed) drop(s *subscriber) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.subs, s)
}

// count is the number of subscribers.
func (f *feed) count() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return len(f.subs)
}

// Join makes one notice of two about the same block: the higher revision, what
// either says changed, and all seasons where either does not name its seasons.
func Join(a, b store.Change) store.Change {
	out := store.Change{
		Block:    a.Block,
		Revision: max(a.Revision, b.Revision),
		Ground:   a.Ground || b.Ground,
		Plan:     a.Plan || b.Plan,
	}
	if len(a.Seasons) > 0 && len(b.Seasons) > 0 {
		out.Seasons = append(slices.Clone(a.Seasons), b.Seasons...)
		slices.Sort(out.Seasons)
		out.Seasons = slices.Compact(out.Seasons)
	}
	return out
}
