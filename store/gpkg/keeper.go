package gpkg

import (
	"context"
	"sync"
	"time"

	"courson/geo/vine"
)

const (
	keepAfter   = 2 * time.Second // how long copies wait: whoever asked for the block comes first
	keepPause   = 100 * time.Millisecond
	keepPortion = 4 << 20  // bytes written in one transaction
	keepMost    = 64 << 20 // bytes waiting; what comes beyond is made at the next look
	keepAtEnd   = 5 * time.Second
)

// keeper writes copies of blocks in the background. What it cannot write is no
// loss.
type keeper struct {
	store   *Store
	ended   chan struct{}
	running sync.WaitGroup

	mu      sync.Mutex
	waiting map[copyKey]blockCopy
	bytes   int
	busy    bool // a goroutine is at work
	closed  bool
}

type copyKey struct {
	block  vine.ID
	season int
}

func newKeeper(s *Store) *keeper {
	return &keeper{store: s, ended: make(chan struct{}), waiting: make(map[copyKey]blockCopy)}
}

// keep takes a copy, in place of one that waits already.
func (k *keeper) keep(b blockCopy) {
	k.mu.Lock()
	defer k.mu.Unlock()
	at := copyKey{b.block, b.season}
	bytes := k.bytes - len(k.waiting[at].data) + len(b.data)
	if k.closed || bytes > keepMost {
		return
	}
	k.waiting[at], k.bytes = b, bytes
	if !k.busy {
		k.busy = true
		k.running.Go(k.work)
	}
}

// work writes what waits, portion by portion, until nothing does.
func (k *keeper) work() {
	for pause := keepAfter; ; pause = keepPause {
		select {
		case <-time.After(pause):
		case <-k.ended:
			k.flush()
			return
		}
		some := k.take()
		if len(some) == 0 {
			return
		}
		k.write(context.Background(), some)
	}
}

// flush writes all that waits, at the end.
func (k *keeper) flush() {
	ctx, cancel := context.WithTimeout(context.Background(), keepAtEnd)
	defer cancel()
	for some := k.take(); len(some) > 0 && ctx.Err() == nil; some = k.take() {
		k.write(ctx, some)
	}
}

// take gives the next portion; with the last one the goroutine is done.
func (k *keeper) take() (some []blockCopy) {
	k.mu.Lock()
	defer k.mu.Unlock()
	bytes := 0
	for at, b := range k.waiting {
		if bytes > keepPortion {
			break
		}
		bytes += len(b.data)
		k.bytes -= len(b.data)
		some = append(some, b)
		delete(k.waiting, at)
	}
	k.busy = len(some) > 0
	return some
}

func (k *keeper) write(ctx context.Context, some []blockCopy) {
	err := k.store.write(ctx, func(t *tx) error {
		return t.run(ctx, "keep copies", func(c *conn) error {
			for _, b := range some {
				if err := saveCopy(c, b); err != nil {
					return err
				}
			}
			return nil
		})
	})
	if err != nil {
		k.store.log.Debug("keep copies of blocks", "file", k.store.path, "error", err)
	}
}

// close writes what waits and ends the work.
func (k *keeper) close() {
	k.mu.Lock()
	k.closed = true
	k.mu.Unlock()
	close(k.ended)
	k.running.Wait()
}
