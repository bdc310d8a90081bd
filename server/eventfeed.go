package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"

	"courson/store"
)

// Limits of one answer of the event feed.
const (
	feedLimit    = 500
	maxFeedLimit = 1000
	feedBytes    = 4 << 20 // after an event that passes it the answer ends
)

// eventFeed is what was recorded after a place in the log. Events are as they
// were sent, each with its place.
type eventFeed struct {
	Events []json.RawMessage `json:"events"`
	Next   int64             `json:"next"` // since of the next request
}

// getEvents answers /api/events?since=CURSOR&limit=: the log for other programs,
// in order of receipt. Who always asks on with the answer's next misses nothing and
// gets nothing twice; an answer without events means that there are no newer ones.
func (s *Server) getEvents(w http.ResponseWriter, r *http.Request) error {
	values, err := ogcParams(r, "since", "limit")
	if err != nil {
		return err
	}
	feed, limit := eventFeed{Events: []json.RawMessage{}}, feedLimit
	if values.Has("since") {
		if feed.Next, err = strconv.ParseInt(values.Get("since"), 10, 64); err != nil || feed.Next < 0 {
			return refuse(http.StatusBadRequest, "since", "since=%s: wanted is 0 or what an earlier answer gave as next", values.Get("since"))
		}
	}
	if values.Has("limit") {
		n, err := strconv.ParseUint(values.Get("limit"), 10, 31)
		if err != nil || n == 0 {
			return refuse(http.StatusBadRequest, "limit", "limit=%s: wanted is a whole number from 1 to %d", values.Get("limit"), maxFeedLimit)
		}
		limit = int(min(n, maxFeedLimit))
	}
	events, err := s.cfg.Store.Events(r.Context(), store.EventQuery{After: feed.Next, Limit: limit})
	if err != nil {
		return fmt.Errorf("events after %d: %w", feed.Next, err)
	}
	size := 0
	for _, e := range events {
		body, err := json.Marshal(e.Event)
		if err != nil {
			return fmt.Errorf("encode event %s: %w", e.ID, err)
		}
		body = fmt.Appendf(body[:len(body)-1], `,"cursor":%d}`, e.Cursor)
		feed.Events, feed.Next = append(feed.Events, body), e.Cursor
		if size += len(body); size > feedBytes {
			break
		}
	}
	return s.sendJSON(w, r, feed)
}
