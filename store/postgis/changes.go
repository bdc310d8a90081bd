package postgis

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
)

// notice is a change as it goes to the other nodes: ids and revisions only, as
// the database takes less than 8,000 bytes.
type notice struct {
	Block    vine.ID `json:"b"`
	Revision int64   `json:"r"`
	Ground   bool    `json:"g,omitempty"`
	Plan     bool    `json:"p,omitempty"`
	Seasons  []int   `json:"s,omitempty"`
}

// mostSeasons is how many seasons one notice names; more means any.
const mostSeasons = 200

func channel(estate int64) string { return fmt.Sprintf("courson_%d", estate) }

// announce sends a notice for every block touched; the database gives them out
// at the commit, or never.
func (t *tx) announce(ctx context.Context) error {
	if len(t.touched) == 0 {
		return nil
	}
	var b pgx.Batch
	for _, id := range slices.Sorted(maps.Keys(t.touched)) {
		c := t.touched[id]
		n := notice{Block: id, Revision: c.revision, Ground: c.ground, Plan: c.plan}
		if !c.whole && !c.ground && len(c.seasons) <= mostSeasons {
			n.Seasons = slices.Sorted(maps.Keys(c.seasons))
		}
		payload, err := json.Marshal(n)
		if err != nil {
			return fail("announce", err)
		}
		b.Queue(`SELECT pg_notify($1, $2)`, channel(t.estate), string(payload))
	}
	return fail("announce", t.pg.SendBatch(ctx, &b).Close())
}

// Changes gives notice of what changes in the estate from now on.
func (s *Store) Changes(ctx context.Context) (<-chan store.Change, error) {
	return s.hub.subscribe(ctx)
}

// hub listens on a connection of its own and hands notices to subscribers. When
// the connection breaks it comes back, compares the blocks' revisions with those
// it knows, and gives notice of what it missed.
type hub struct {
	config *pgx.ConnConfig
	estate int64
	spare  *spare // learns of every revision; nil: none
	log    *slog.Logger

	mu      sync.Mutex
	known   map[vine.ID]revisions // nil: not listening yet
	subs    map[*subscriber]bool
	started bool
	ready   chan struct{} // closed when listening for the first time, or given up
	failed  error         // why it was given up
	stop    context.CancelFunc
	done    chan struct{}
	closed  bool
}

type revisions struct{ revision, ground int64 }

func newHub(config *pgx.ConnConfig, estate int64, standby *spare, log *slog.Logger) *hub {
	return &hub{config: config, estate: estate, spare: standby, log: log, subs: map[*subscriber]bool{}}
}

// subscribe waits until the hub listens, so that no change after it is missed.
func (h *hub) subscribe(ctx context.Context) (<-chan store.Change, error) {
	s := &subscriber{waiting: map[vine.ID]store.Change{}, wake: make(chan struct{}, 1)}
	h.mu.Lock()
	if h.closed {
		h.mu.Unlock()
		return nil, fmt.Errorf("changes: the store is closed")
	}
	if !h.started {
		h.started = true
		h.failed = nil
		h.ready = make(chan struct{})
		h.done = make(chan struct{})
		var background context.Context
		background, h.stop = context.WithCancel(context.Background())
		go h.run(background, h.ready, h.done)
	}
	h.subs[s] = true
	ready, done := h.ready, h.done
	h.mu.Unlock()
	leave := func() {
		h.mu.Lock()
		delete(h.subs, s)
		h.mu.Unlock()
	}
	select {
	case <-ready:
	case <-ctx.Done():
		leave()
		return nil, fail("changes", ctx.Err())
	}
	h.mu.Lock()
	failed := h.failed
	h.mu.Unlock()
	if failed != nil {
		leave()
		return nil, fail("changes", failed)
	}
	out := make(chan store.Change)
	go func() {
		defer close(out)
		defer leave()
		s.deliver(ctx, done, out)
	}()
	return out, nil
}

// close ends the hub and waits for it.
func (h *hub) close() {
	h.mu.Lock()
	h.closed = true
	stop, done := h.stop, h.done
	h.mu.Unlock()
	if stop != nil {
		stop()
		<-done
	}
}

// How long to wait before the next try to connect, and how long a silent line is
// trusted before the revisions are compared again.
const (
	firstPause = 100 * time.Millisecond
	lastPause  = 5 * time.Second
	silence    = 20 * time.Second
)

// run listens until ctx ends. The first connection must come about, or the hub
// is given up and tried again by the next subscriber.
func (h *hub) run(ctx context.Context, ready, done chan struct{}) {
	defer close(done)
	pause := firstPause
	for first := true; ; {
		err := h.listen(ctx, func() {
			pause = firstPause
			if first {
				first = false
				close(ready)
			}
		})
		if ctx.Err() != nil {
			if first {
				h.giveUp(ctx.Err(), ready)
			}
			return
		}
		if first {
			h.giveUp(err, ready)
			return
		}
		h.log.WarnContext(ctx, "lost the line for change notices, connecting again", "err", err, "after", pause)
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return
		}
		pause = min(2*pause, lastPause)
	}
}

func (h *hub) giveUp(err error, ready chan struct{}) {
	h.mu.Lock()
	h.failed, h.started, h.stop = err, false, nil
	h.mu.Unlock()
	close(ready)
}

// listen connects, catches up, and passes notices on until something breaks.
func (h *hub) listen(ctx context.Context, listening func()) error {
	conn, err := pgx.ConnectConfig(ctx, h.config)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	if _, err := conn.Exec(ctx, `LISTEN `+pgx.Identifier{channel(h.estate)}.Sanitize()); err != nil {
		return err
	}
	if err := h.catchUp(ctx, conn); err != nil {
		return err
	}
	listening()
	for {
		waiting, cancel := context.WithTimeout(ctx, silence)
		n, err := conn.WaitForNotification(waiting)
		quiet := err != nil && waiting.Err() != nil && ctx.Err() == nil
		cancel()
		switch {
		case quiet:
			// A line that died without a word shows here, and so does anything missed.
			err = h.catchUp(ctx, conn)
		case err == nil:
			err = h.hear(n.Payload)
		}
		if err != nil {
			return err
		}
	}
}

// hear passes one notice on.
func (h *hub) hear(payload string) error {
	var n notice
	if err := json.Unmarshal([]byte(payload), &n); err != nil {
		h.log.Warn("a change notice cannot be read", "payload", payload, "err", err)
		return nil
	}
	h.mu.Lock()
	k := h.known[n.Block]
	k.revision = max(k.revision, n.Revision)
	if n.Ground {
		k.ground = max(k.ground, n.Revision)
	}
	h.known[n.Block] = k
	h.mu.Unlock()
	h.spare.hear(n.Block, n.Revision)
	h.give(store.Change{Block: n.Block, Revision: n.Revision, Ground: n.Ground, Plan: n.Plan, Seasons: n.Seasons})
	return nil
}

// catchUp compares the blocks' revisions with those known and gives notice of
// those that rose. Before the first time nothing is known and nothing is given.
func (h *hub) catchUp(ctx context.Context, conn *pgx.Conn) error {
	ctx, cancel := context.WithTimeout(ctx, silence)
	defer cancel()
	rows, err := conn.Query(ctx, `SELECT block_id, revision, ground_rev FROM block_revision WHERE estate_id = $1`, h.estate)
	if err != nil {
		return err
	}
	now := map[vine.ID]revisions{}
	var id vine.ID
	var r revisions
	if _, err := pgx.ForEachRow(rows, []any{&id, &r.revision, &r.ground}, func() error {
		now[id] = r
		h.spare.hear(id, r.revision)
		return nil
	}); err != nil {
		return err
	}
	h.mu.Lock()
	before := h.known
	h.known = now
	h.mu.Unlock()
	if before == nil {
		return nil
	}
	for id, r := range now {
		if was := before[id]; r.revision > was.revision {
			h.give(store.Change{Block: id, Revision: r.revision, Ground: r.ground > was.ground, Plan: true})
		}
	}
	return nil
}

// give hands a change to every subscriber.
func (h *hub) give(c store.Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for s := range h.subs {
		s.add(c)
	}
}
