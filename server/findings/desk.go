// Package findings works out what a block's measures say: vigour of every
// vine, patches, change since an earlier season. It does so in the background,
// one block after the other, again whenever measures or conditions change, and
// joins what it found to the stands that maps are drawn from. Nobody who wants
// a map waits for it.
package findings

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"courson/geo/vine"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// Key names a block in a season.
type Key struct {
	Block  vine.ID
	Season int
}

// State is how far the work on a block is.
type State string

// The states.
const (
	Waiting   State = "waiting"
	Running   State = "running"
	Ready     State = "ready"
	Failed    State = "failed"
	Cancelled State = "cancelled"
)

// Status tells how far the work on a block is.
type Status struct {
	State    State
	Progress float64 // 0 to 1
	Stamp    string  // of the findings that are shown; empty: none yet
	Detail   string  // why it failed
}

// Notice tells that findings are ready, or that the work ended without.
type Notice struct {
	Key
	Status
}

// quiet is how long a block must have been left alone by default.
const quiet = 300 * time.Millisecond

// Desk does the work. All methods may be called from several goroutines.
type Desk struct {
	store  store.Store
	stands *stands.Cache
	log    *slog.Logger
	quiet  time.Duration

	giveWay func()

	mu      sync.Mutex
	queue   []Key
	due     map[Key]time.Time // of what is queued
	jobs    map[Key]*job
	asked   map[int]bool // seasons that somebody looks at
	fresh   []int        // of these, not queued yet
	readers map[chan Notice]struct{}

	wake chan struct{} // holds one token while something is queued
	stop context.CancelFunc
	wg   sync.WaitGroup
}

// job is one block's work and what came of it.
type job struct {
	status   Status
	findings *work.Findings
	cancel   context.CancelFunc // of the running work
}

// New makes a desk that is idle until Start.
// after is how long a block must have been left alone before work on it begins;
// 0: a third of a second, since measures come in bursts.
// giveWay is called now and then by work that runs, and may take its time while
// somebody waits for a map; nil: never.
func New(st store.Store, cache *stands.Cache, log *slog.Logger, after time.Duration, giveWay func()) *Desk {
	if giveWay == nil {
		giveWay = func() {}
	}
	if after == 0 {
		after = quiet
	}
	return &Desk{store: st, stands: cache, log: log, quiet: after, giveWay: giveWay, due: map[Key]time.Time{}, jobs: map[Key]*job{},
		asked: map[int]bool{}, readers: map[chan Notice]struct{}{}, wake: make(chan struct{}, 1)}
}

// Start begins to work and to follow changes, until Close.
func (d *Desk) Start(ctx context.Context) {
	ctx, d.stop = context.WithCancel(context.WithoutCancel(ctx))
	changes := d.stands.Subscribe(ctx)
	d.wg.Go(func() { d.follow(changes) })
	d.wg.Go(func() { d.work(ctx) })
}

// Close ends the work and waits for it.
func (d *Desk) Close() {
	if d.stop != nil {
		d.stop()
		d.wg.Wait()
	}
}

// follow queues the blocks of which something changed, in that season and in
// later ones that somebody looks at, since those are compared with it.
func (d *Desk) follow(changes <-chan store.Change) {
	for ch := range changes {
		first := 0
		if len(ch.Seasons) > 0 && !ch.Ground {
			first = slices.Min(ch.Seasons)
		}
		d.mu.Lock()
		for season := range d.asked {
			if season >= first {
				d.put(Key{ch.Block, season}, d.quiet)
			}
		}
		d.mu.Unlock()
	}
}

// Look says that somebody looks at a season: from the first time on, its blocks
// are worked on. It does not wait.
func (d *Desk) Look(season int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.asked[season] {
		return
	}
	d.asked[season] = true
	d.fresh = append(d.fresh, season)
	d.rouse()
}

// rouse wakes the worker. d.mu is held.
func (d *Desk) rouse() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

// queueFresh queues the seasons that somebody has begun to look at.
func (d *Desk) queueFresh(ctx context.Context) {
	d.mu.Lock()
	fresh := d.fresh
	d.fresh = nil
	d.mu.Unlock()
	for _, season := range fresh {
		d.queueSeason(ctx, season)
	}
}

// queueSeason queues all blocks of a season.
func (d *Desk) queueSeason(ctx context.Context, season int) {
	heads, err := d.stands.Heads(ctx)
	if err != nil {
		d.mu.Lock()
		delete(d.asked, season) // the next look tries again
		d.mu.Unlock()
		if ctx.Err() == nil {
			d.log.WarnContext(ctx, "findings: read the blocks", "error", err)
		}
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, h := range heads {
		d.put(Key{h.ID, season}, d.quiet)
	}
}

// put queues a block; one that is queued already waits anew, but keeps its
// place. d.mu is held.
func (d *Desk) put(k Key, after time.Duration) {
	if _, ok := d.due[k]; !ok {
		d.queue = append(d.queue, k)
	}
	d.due[k] = time.Now().Add(after)
	j := d.jobOf(k)
	if j.status.State != Running {
		j.status.State, j.status.Progress = Waiting, 0
	}
	d.rouse()
}

// jobOf gives the job of a key. d.mu is held.
func (d *Desk) jobOf(k Key) *job {
	j, ok := d.jobs[k]
	if !ok {
		j = &job{}
		d.jobs[k] = j
	}
	return j
}

// take gives the block whose turn it is, or how long to wait for one; 0 and
// false where nothing is queued.
func (d *Desk) take() (k Key, wait time.Duration, ok bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := time.Now()
	for i, q := range d.queue {
		left := d.due[q].Sub(now)
		if left <= 0 {
			d.queue = slices.Delete(d.queue, i, i+1)
			delete(d.due, q)
			return q, 0, true
		}
		if wait == 0 || left < wait {
			wait = left
		}
	}
	return k, wait, false
}

// work does one block after the other.
func (d *Desk) work(ctx context.Context) {
	for ctx.Err() == nil {
		d.queueFresh(ctx)
		k, wait, ok := d.take()
		if ok {
			d.do(ctx, k)
			continue
		}
		var timer <-chan time.Time
		if wait > 0 {
			timer = time.After(wait)
		}
		select {
		case <-ctx.Done():
		case <-d.wake:
		case <-timer:
		}
	}
}

// do works on one block and says what came of it.
func (d *Desk) do(ctx context.Context, k Key) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	d.mu.Lock()
	j := d.jobOf(k)
	j.status.State, j.status.Progress, j.status.Detail, j.cancel = Running, 0, "", cancel
	old := j.findings
	d.mu.Unlock()

	f, err := d.find(ctx, k, old)

	d.mu.Lock()
	j.cancel = nil
	switch {
	case err == nil:
		j.findings, j.status = f, Status{State: Ready, Progress: 1, Stamp: f.Found.Stamp}
	case errors.Is(err, store.ErrNotFound):
		delete(d.jobs, k)
	case ctx.Err() != nil:
		j.status.State = Cancelled
	default:
		j.status.State, j.status.Detail = Failed, err.Error()
		d.log.Warn("findings", "block", k.Block, "season", k.Season, "error", err)
	}
	n := Notice{k, j.status}
	d.mu.Unlock()
	d.tell(n)
}

// find works out a block, unless nothing changed that counts.
func (d *Desk) find(ctx context.Context, k Key, old *work.Findings) (f *work.Findings, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("findings of block %d, season %d: fault: %v", k.Block, k.Season, p)
		}
	}()
	j, err := d.jobFor(ctx, k)
	if err != nil {
		return nil, err
	}
	if f = old; f == nil || f.Base != work.Stamp(j) {
		if f, err = work.Find(j); err != nil {
			return nil, err
		}
	}
	if f, err = d.withReplants(ctx, k, f); err != nil {
		return nil, err
	}
	kept, err := work.NewestZones(ctx, d.store, k.Block, k.Season)
	if err != nil {
		return nil, err
	}
	f = f.WithZones(kept)
	d.stands.Join(k.Block, k.Season, f.Stand.Ground.Revision, f.Found, f.Drawn)
	return f, nil
}

// withReplants adds what maps show of gaps and their replacement.
func (d *Desk) withReplants(ctx context.Context, k Key, f *work.Findings) (*work.Findings, error) {
	h, err := d.stands.Head(ctx, k.Block)
	if err != nil {
		return nil, err
	}
	settled, err := d.stands.Standards(ctx, h.Block)
	if err != nil {
		return nil, err
	}
	column, err := work.ReplantColumn(ctx, d.store, work.ShareBlock{Block: h.Block, Stand: f.Stand, Settled: settled})
	if err != nil {
		return nil, err
	}
	if next := f.WithReplants(column); next.Found.Stamp != f.Found.Stamp {
		return next, nil
	}
	return f, nil // the same as before: nobody reads anything anew
}
