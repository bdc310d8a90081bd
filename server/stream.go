package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"courson/geo/vine"
	"courson/server/findings"
	"courson/store"
)

// streamPatience is how long one write to an event stream may take before the
// client is let go.
const streamPatience = 10 * time.Second

type changeMessage struct {
	Block    vine.ID `json:"block"`
	Revision int64   `json:"revision"`
	Ground   bool    `json:"ground"`
	Plan     bool    `json:"plan"`
	Seasons  []int   `json:"seasons"` // empty: any
}

// foundMessage says that findings are ready, or that the work on them ended.
type foundMessage struct {
	Block  vine.ID        `json:"block"`
	Season int            `json:"season"`
	Found  string         `json:"found"`
	State  findings.State `json:"state"`
}

// getStream tells of changes as they happen, until the client leaves or the
// server stops. A client that was away fetches afresh: nothing is replayed.
func (s *Server) getStream(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	changes, found := s.stands.Subscribe(ctx), s.desk.Subscribe(ctx)
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // asks proxies not to hold messages back
	if r.Method == http.MethodHead {
		return nil
	}
	s.metrics.streams.Inc()
	defer s.metrics.streams.Dec()

	out := eventStream{w: w, rc: http.NewResponseController(w)}
	if err := out.send("hello", map[string]string{"version": s.cfg.Version}); err != nil {
		return gone(err)
	}
	beat := time.NewTicker(s.heartbeat)
	defer beat.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return nil
		case <-s.stopping:
			return nil
		case <-beat.C:
			err = out.write([]byte(": still here\n\n"))
		case ch, ok := <-changes:
			if !ok {
				return nil
			}
			err = out.send("change", messageOf(ch))
		case n, ok := <-found:
			if !ok {
				return nil
			}
			err = out.send("found", foundMessage{n.Block, n.Season, n.Stamp, n.State})
		}
		if err != nil {
			return gone(err)
		}
	}
}

func messageOf(ch store.Change) changeMessage {
	m := changeMessage{Block: ch.Block, Revision: ch.Revision, Ground: ch.Ground, Plan: ch.Plan, Seasons: ch.Seasons}
	if m.Seasons == nil {
		m.Seasons = []int{}
	}
	return m
}

// gone ends a stream whose client does not read any more. It is no fault, save
// where streaming is not possible at all.
func gone(err error) error {
	if errors.Is(err, http.ErrNotSupported) {
		return fmt.Errorf("event stream: %w", err)
	}
	return nil
}

// eventStream writes server-sent events and pushes each one out at once.
type eventStream struct {
	w  http.ResponseWriter
	rc *http.ResponseController
}

func (o eventStream) send(event string, data any) error {
	body, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("encode %s message: %w", event, err)
	}
	return o.write(fmt.Appendf(nil, "event: %s\ndata: %s\n\n", event, body))
}

func (o eventStream) write(p []byte) error {
	if err := o.rc.SetWriteDeadline(time.Now().Add(streamPatience)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	if _, err := o.w.Write(p); err != nil {
		return err
	}
	return o.rc.Flush()
}
