package gpkg

import (
	"context"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
)

// lookEvery is how often the file is asked whether another process wrote it.
const lookEvery = 500 * time.Millisecond

// feed gives out notices of changes: at once for this process's own, and from
// a look at the file now and then for those of others.
type feed struct {
	store   *Store
	shared  bool // others may write to the file
	ended   context.Context
	end     context.CancelFunc
	running sync.WaitGroup

	mu        sync.Mutex
	last      map[vine.ID]int64 // revisions given out; nil while nobody listens
	listeners map[*listener]bool
	looking   context.CancelFunc
}

// listener is one reader of notices. What it has not taken yet is joined.
type listener struct {
	pending map[vine.ID]store.Change
	order   []vine.ID
	more    chan struct{} // filled when pending is not empty
}

func newFeed(s *Store, shared bool) *feed {
	f := &feed{store: s, shared: shared, listeners: make(map[*listener]bool)}
	f.ended, f.end = context.WithCancel(context.Background())
	return f
}

// Changes gives notices until ctx ends or the store is closed.
func (s *Store) Changes(ctx context.Context) (<-chan store.Change, error) { return s.feed.listen(ctx) }

func (f *feed) listen(ctx context.Context) (<-chan store.Change, error) {
	if f.ended.Err() != nil {
		return nil, errClosed
	}
	l := &listener{pending: make(map[vine.ID]store.Change), more: make(chan struct{}, 1)}
	if err := f.join(ctx, l); err != nil {
		return nil, err
	}
	out := make(chan store.Change)
	f.running.Go(func() {
		defer close(out)
		defer f.leave(l)
		f.deliver(ctx, l, out)
	})
	return out, nil
}

// join takes a listener in. The first one starts the look-out, which counts
// from the revisions of this moment.
func (f *feed) join(ctx context.Context, l *listener) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.looking == nil {
		c, err := f.store.pool.spare()
		if err != nil {
			return explain(ctx, f.store.path, err)
		}
		version, heads, err := lookAt(c)
		if err != nil {
			c.Close()
			return explain(ctx, f.store.path, err)
		}
		f.last = make(map[vine.ID]int64, len(heads))
		for _, h := range heads {
			f.last[h.block] = h.revision
		}
		looking, stop := context.WithCancel(f.ended)
		f.looking = stop
		f.running.Go(func() { f.lookOut(looking, c, version) })
	}
	f.listeners[l] = true
	return nil
}

func (f *feed) leave(l *listener) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.listeners, l)
	if len(f.listeners) == 0 && f.looking != nil {
		f.looking()
		f.looking, f.last = nil, nil
	}
}

func (f *feed) deliver(ctx context.Context, l *listener, out chan<- store.Change) {
	for {
		ch, ok := f.next(l)
		if ok {
			select {
			case out <- ch:
				continue
			case <-ctx.Done():
			case <-f.ended.Done():
			}
			return
		}
		select {
		case <-l.more:
		case <-ctx.Done():
			return
		case <-f.ended.Done():
			return
		}
	}
}

// next takes the notice that waits longest.
func (f *feed) next(l *listener) (store.Change, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(l.order) == 0 {
		return store.Change{}, false
	}
	ch := l.pending[l.order[0]]
	delete(l.pending, l.order[0])
	l.order = l.order[1:]
	return ch, true
}

// publish gives out notices that are newer than what was given out before: the
// look-out and the writer may both have seen a change.
func (f *feed) publish(changes []store.Change) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.last == nil {
		return
	}
	for _, ch := range changes {
		if ch.Revision <= f.last[ch.Block] {
			continue
		}
		f.last[ch.Block] = ch.Revision
		for l := range f.listeners {
			l.add(ch)
		}
	}
}

func (l *listener) add(ch store.Change) {
	if waiting, ok := l.pending[ch.Block]; ok {
		ch = joined(waiting, ch)
	} else {
		l.order = append(l.order, ch.Block)
	}
	l.pending[ch.Block] = ch
	select {
	case l.more <- struct{}{}:
	default:
	}
}

// joined makes one notice of two about the same block.
func joined(a, b store.Change) store.Change {
	out := store.Change{Block: a.Block, Revision: max(a.Revision, b.Revision), Ground: a.Ground || b.Ground, Plan: a.Plan || b.Plan}
	if len(a.Seasons) > 0 && len(b.Seasons) > 0 {
		out.Seasons = union(a.Seasons, b.Seasons)
	}
	return out
}

// lookOut asks the file again and again whether somebody else wrote it.
func (f *feed) lookOut(ctx context.Context, c *conn, version int64) {
	defer c.Close()
	if !f.shared {
		return
	}
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
		now, err := c.number("PRAGMA data_version")
		if err == nil && now == version {
			continue
		}
		var changes []store.Change
		if err == nil {
			now, changes, err = f.missed(c)
		}
		if err != nil {
			f.store.log.Warn("look for changes by others", "file", f.store.path, "error", err)
			continue
		}
		version = now
		f.publish(changes)
	}
}

// missed gives notices of blocks that are newer than what was given out.
func (f *feed) missed(c *conn) (version int64, out []store.Change, err error) {
	version, heads, err := lookAt(c)
	if err != nil {
		return 0, nil, err
	}
	f.mu.Lock()
	last := make(map[vine.ID]int64, len(f.last))
	for _, h := range heads {
		last[h.block] = f.last[h.block]
	}
	f.mu.Unlock()
	for _, h := range heads {
		since := last[h.block]
		if h.revision > since {
			out = append(out, store.Change{Block: h.block, Revision: h.revision, Ground: h.ground > since, Plan: h.plan > since})
		}
	}
	return version, out, nil
}

// head is what block_revision says of a block.
type head struct {
	block, revision, ground, plan int64
}

// lookAt reads the version of the file before the revisions: a commit between
// the two is seen again the next time, not missed.
func lookAt(c *conn) (version int64, heads []head, err error) {
	if version, err = c.number("PRAGMA data_version"); err != nil {
		return 0, nil, err
	}
	err = c.each("SELECT block_id, revision, ground_rev, plan_rev FROM block_revision", func(s *sqlite3.Stmt) error {
		heads = append(heads, head{s.ColumnInt64(0), s.ColumnInt64(1), s.ColumnInt64(2), s.ColumnInt64(3)})
		return nil
	})
	return version, heads, err
}

// close ends all notices and waits until nobody is left.
func (f *feed) close() {
	f.end()
	f.running.Wait()
}
