package vine

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
)

// Kind names what an event records.
type Kind string

// The kinds of record. Their words are the words on the wire and in the store.
const (
	KindCondition Kind = "condition" // how the vine stands
	KindMeasure   Kind = "measure"   // something weighed, counted or scored
	KindPruned    Kind = "pruned"    // what was left at pruning
	KindWork      Kind = "work"      // an operation started, done, skipped, to be redone
	KindNote      Kind = "note"      // words
	KindVoid      Kind = "void"      // takes another event back
)

// Target says what an event is about: listed vines of a block, one whole row,
// or the whole block. Vines are named by their lasting ids, so that later
// renumbering, or a move to another block, moves no record.
type Target struct {
	Block ID   `json:"block"`           // always set
	Row   ID   `json:"row,omitempty"`   // set with Vines where all stand in one row; alone it means the whole row
	Vines []ID `json:"vines,omitempty"` // the vines; empty means the whole row or block
}

// Covers tells whether the target includes the vine at the place p, as it stands now.
func (t Target) Covers(p Place) bool {
	p.Was = nil
	_, ok := t.position(p, time.Time{})
	return ok
}

// Place is where a vine stands and since when the first plant stood there.
type Place struct {
	ID, Row, Block ID
	Planted        int    // season of the first plant's first leaf; 0 unknown
	Was            []Stay // where it stood before, the earliest first; mostly empty
}

// Event is one record. It is made once, where it happened, and never changed.
type Event struct {
	ID       uuid.UUID // UUIDv7, made on the device
	Device   string    // which device made it; never empty
	Seq      uint64    // that device's own counter: order within a device
	At       time.Time // the device's clock, as it stood
	When     time.Time // At, put right by the clock difference seen at receipt; order between devices
	Received time.Time // the server's clock at receipt
	By       string    // who
	Season   int
	Target   Target
	Kind     Kind
	Body     Body
}

// Body is the value of an event: one of Condition…, Measure, Pruned, Work, Note, Void.
type Body interface {
	// Kind names the kind of event the body belongs to.
	Kind() Kind
	// Check says what is impossible about the value, for a target of n vines
	// (n is 0 where the event is about a whole row or block).
	Check(n int) error
}

// ErrBadEvent is at the root of everything Check and decoding complain about.
var ErrBadEvent = errors.New("bad event")

// wireEvent is the JSON form of an Event.
type wireEvent struct {
	ID       uuid.UUID       `json:"id"`
	Device   string          `json:"device"`
	Seq      uint64          `json:"seq"`
	At       time.Time       `json:"at"`
	When     *time.Time      `json:"when,omitempty"`
	Received *time.Time      `json:"received,omitempty"`
	By       string          `json:"by,omitempty"`
	Season   int             `json:"season"`
	Kind     Kind            `json:"kind"`
	Value    json.RawMessage `json:"value"`
	Target
}

// MarshalJSON writes the event as a flat object: id, device, seq, at, when,
// received, by, season, block, row, vines, kind, value.
func (e Event) MarshalJSON() ([]byte, error) {
	value, err := json.Marshal(e.Body)
	if err != nil {
		return nil, fmt.Errorf("event %s: %w", e.ID, err)
	}
	w := wireEvent{ID: e.ID, Device: e.Device, Seq: e.Seq, At: e.At, By: e.By, Season: e.Season,
		Kind: e.Kind, Value: value, Target: e.Target}
	if !e.When.IsZero() {
		w.When = &e.When
	}
	if !e.Received.IsZero() {
		w.Received = &e.Received
	}
	return json.Marshal(w)
}

// UnmarshalJSON reads what MarshalJSON writes. It does not check the value:
// call Check.
func (e *Event) UnmarshalJSON(data []byte) error {
	var w wireEvent
	if err := json.Unmarshal(data, &w); err != nil {
		return fmt.Errorf("%w: %w", ErrBadEvent, err)
	}
	body, err := DecodeBody(w.Kind, w.Value)
	if err != nil {
		return fmt.Errorf("event %s: %w", w.ID, err)
	}
	*e = Event{ID: w.ID, Device: w.Device, Seq: w.Seq, At: w.At, By: w.By, Season: w.Season,
		Target: w.Target, Kind: w.Kind, Body: body}
	if w.When != nil {
		e.When = *w.When
	}
	if w.Received != nil {
		e.Received = *w.Received
	}
	return nil
}

// Check says what is wrong with an event whatever the state of the store:
// missing id, device, season or block, a season out of reach, an impossible
// value. The error wraps ErrBadEvent and names the field.
func (e Event) Check() error {
	switch {
	case e.ID == uuid.Nil:
		return fmt.Errorf("%w: id is missing", ErrBadEvent)
	case e.Device == "":
		return fmt.Errorf("%w: device is missing", ErrBadEvent)
	case e.At.IsZero():
		return fmt.Errorf("%w: at (the time there) is missing", ErrBadEvent)
	case e.Season < MinSeason || e.Season > MaxSeason:
		return fmt.Errorf("%w: season %d is not between %d and %d", ErrBadEvent, e.Season, MinSeason, MaxSeason)
	case e.Target.Block <= 0:
		return fmt.Errorf("%w: block is missing", ErrBadEvent)
	case e.Body == nil || e.Body.Kind() != e.Kind:
		return fmt.Errorf("%w: value does not fit kind %q", ErrBadEvent, e.Kind)
	}
	if s, ok := e.Body.(Sighting); ok && s.Mother != 0 && slices.Contains(e.Target.Vines, s.Mother) {
		return fmt.Errorf("%w: vine %d cannot be a layer of itself", ErrBadEvent, s.Mother)
	}
	return e.Body.Check(len(e.Target.Vines))
}
