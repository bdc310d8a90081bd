package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// Limits of one batch of events.
const (
	maxBatch      = 500
	maxBatchBytes = 2 << 20
)

// skewAllowed is the clock difference up to which a device's clock is taken as
// it stands (chosen by us; hand-set clocks are rarely better).
const skewAllowed = 2 * time.Minute

type batch struct {
	SentAt *time.Time        `json:"sent_at"`
	Events []json.RawMessage `json:"events"`
}

type batchAnswer struct {
	ReceivedAt time.Time     `json:"received_at"`
	SkewMS     int64         `json:"skew_ms"`
	Results    []eventAnswer `json:"results"`
}

type eventAnswer struct {
	ID     string       `json:"id"` // as sent; "" where it could not be read
	Result store.Result `json:"result"`
	Reason string       `json:"reason,omitempty"`
}

// postEvents takes a batch. What is wrong with one event keeps no other out.
func (s *Server) postEvents(w http.ResponseWriter, r *http.Request) error {
	received := s.cfg.Now().UTC()
	b, err := readBatch(w, r)
	if err != nil {
		return err
	}
	skew := time.Duration(0)
	if b.SentAt != nil {
		skew = received.Sub(*b.SentAt)
	}
	calendar, err := s.calendar(r.Context())
	if err != nil {
		return err
	}
	ans := batchAnswer{ReceivedAt: received, SkewMS: skew.Milliseconds(), Results: make([]eventAnswer, len(b.Events))}
	var good []vine.Event
	var at []int // place of good[k] in the batch
	may := s.eventRule(r.Context())
	for i, raw := range b.Events {
		e, err := readEvent(raw, received, skew, calendar)
		if err != nil {
			ans.Results[i] = eventAnswer{ID: idOf(raw), Result: store.Refused, Reason: reasonOf(err)}
			continue
		}
		if reason, err := may.admit(r.Context(), &e); err != nil {
			return err
		} else if reason != "" {
			ans.Results[i] = eventAnswer{ID: idOf(raw), Result: store.Refused, Reason: reason}
			continue
		}
		good, at = append(good, e), append(at, i)
	}
	if len(good) > 0 {
		answers, err := s.cfg.Store.Append(r.Context(), good)
		if err != nil {
			return fmt.Errorf("append %d events: %w", len(good), err)
		}
		if len(answers) != len(good) {
			return fmt.Errorf("append %d events: the store gave %d answers", len(good), len(answers))
		}
		s.stands.Touched()
		for k, a := range answers {
			ans.Results[at[k]] = eventAnswer{ID: idOf(b.Events[at[k]]), Result: a.Result, Reason: a.Reason}
		}
	}
	for _, a := range ans.Results {
		s.metrics.events.WithLabelValues(string(a.Result)).Inc()
	}
	return s.sendJSON(w, r, ans)
}

// readBatch reads the outer object. Errors here refuse the whole request.
func readBatch(w http.ResponseWriter, r *http.Request) (batch, error) {
	var b batch
	if err := wantJSON(r); err != nil {
		return b, err
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBatchBytes))
	if err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) || r.Context().Err() != nil {
			return b, err
		}
		return b, refuse(http.StatusBadRequest, "", "the request ended early: %v", err)
	}
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&b); err != nil {
		return b, refuse(http.StatusBadRequest, fieldOf(err), "the request is not a batch of events: %v", err)
	}
	if dec.More() {
		return b, refuse(http.StatusBadRequest, "", "something follows the batch of events at byte %d", dec.InputOffset())
	}
	switch {
	case b.Events == nil:
		return b, refuse(http.StatusBadRequest, "events", "the request has no events")
	case len(b.Events) > maxBatch:
		return b, refuse(http.StatusRequestEntityTooLarge, "events",
			"%d events are too many for one request; send at most %d", len(b.Events), maxBatch)
	}
	return b, nil
}

// wantJSON refuses bodies that are not plain JSON.
func wantJSON(r *http.Request) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return refuse(http.StatusUnsupportedMediaType, "", "send Content-Type: application/json, not %q", r.Header.Get("Content-Type"))
	}
	if enc := r.Header.Get("Content-Encoding"); enc != "" && enc != "identity" {
		return refuse(http.StatusUnsupportedMediaType, "", "send the body uncompressed, not as %q", enc)
	}
	return nil
}

// readEvent reads one event strictly, stamps it and checks what can be checked
// without the store.
func readEvent(raw json.RawMessage, received time.Time, skew time.Duration, cal vine.Calendar) (vine.Event, error) {
	var e vine.Event
	if err := onlyKnownFields(raw); err != nil {
		return e, err
	}
	if err := json.Unmarshal(raw, &e); err != nil {
		return e, err
	}
	e.Received = received
	e.When = rightTime(e.At, received, skew)
	if err := e.Check(); err != nil {
		return e, err
	}
	if next := cal.Season(received) + 1; e.Season > next {
		return e, fmt.Errorf("%w: season %d has not begun; the latest that can be recorded is %d", vine.ErrBadEvent, e.Season, next)
	}
	return e, nil
}

// rightTime puts a device's time right by the clock difference seen, where that
// is more than skewAllowed. Nothing was made after it was received.
func rightTime(at, received time.Time, skew time.Duration) time.Time {
	if skew.Abs() > skewAllowed {
		at = at.Add(skew)
	}
	if at.After(received) {
		return received
	}
	return at
}

// onlyKnownFields refuses an event with a field that would be lost.
func onlyKnownFields(raw json.RawMessage) error {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil || fields == nil {
		return fmt.Errorf("%w: an event is a JSON object", vine.ErrBadEvent)
	}
	for name := range fields {
		switch name {
		case "id", "device", "seq", "at", "by", "season", "block", "row", "vines", "kind", "value":
		default:
			return fmt.Errorf("%w: field %q is not known", vine.ErrBadEvent, name)
		}
	}
	return nil
}

// idOf gives the event's id as sent, "" where none can be read.
func idOf(raw json.RawMessage) string {
	var e struct {
		ID uuid.UUID `json:"id"`
	}
	var text struct {
		ID string `json:"id"`
	}
	if json.Unmarshal(raw, &e) != nil || json.Unmarshal(raw, &text) != nil {
		return ""
	}
	return text.ID
}

// reasonOf is the error for a person's eyes, without the word that marks it.
func reasonOf(err error) string {
	return strings.ReplaceAll(err.Error(), vine.ErrBadEvent.Error()+": ", "")
}

// fieldOf names the field a JSON error is about, "" where it is about none.
func fieldOf(err error) string {
	var wrong *json.UnmarshalTypeError
	if errors.As(err, &wrong) {
		return wrong.Field
	}
	return ""
}
