// Package logbook holds the rules of the log that do not depend on where it is
// kept: which events are taken and which refused, which vines an event touches,
// how a vine's states follow from its events, and how a state is spread over the
// columns of a table. Both stores use it, so that they answer alike.
//
// Nothing here reads or writes: a store asks what it must look up (Wants), looks
// it up, and hands the answers in (Found).
package logbook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// Needs names what a store must look up before a batch can be judged. Every id
// stands once; block, row and vine ids rise.
type Needs struct {
	Events []uuid.UUID // ids in the batch, and ids that its voids name
	Blocks []vine.ID
	Rows   []vine.ID
	Vines  []vine.ID
}

// Found is what a store holds of the things a batch needs.
type Found struct {
	Events map[uuid.UUID]vine.Kind // events already stored, and their kind
	Blocks map[vine.ID]bool        // blocks that exist
	Rows   map[vine.ID]vine.ID     // row → its block
	Vines  map[vine.ID]vine.Place  // vine → where it stands
	// Stood are the vines that stood, before they were moved, in the blocks and rows
	// that the batch needs. Empty where nothing was ever moved.
	Stood []vine.Place
	Moved bool // something was moved at some time
}

// Wants gives what must be looked up to judge the events.
func Wants(events []vine.Event) Needs {
	var n Needs
	seen := make(map[uuid.UUID]bool, len(events))
	event := func(id uuid.UUID) {
		if !seen[id] {
			seen[id] = true
			n.Events = append(n.Events, id)
		}
	}
	for _, e := range events {
		event(e.ID)
		if v, ok := e.Body.(vine.Void); ok {
			event(v.Event)
		}
		n.Blocks = append(n.Blocks, e.Target.Block)
		if e.Target.Row != 0 {
			n.Rows = append(n.Rows, e.Target.Row)
		}
		n.Vines = append(n.Vines, e.Target.Vines...)
	}
	n.Blocks, n.Rows, n.Vines = distinct(n.Blocks), distinct(n.Rows), distinct(n.Vines)
	return n
}

func distinct(ids []vine.ID) []vine.ID {
	slices.Sort(ids)
	return slices.Compact(ids)
}

// Accepted is an event that is to be stored, with its value written as JSON.
type Accepted struct {
	vine.Event
	Value json.RawMessage
}

// Screen judges a batch. It gives the events to store, in the order given and
// put into the form in which they are kept (times in UTC to the microsecond,
// When set), and an answer for every event. An event whose id is known, stored
// before or earlier in the batch, is known whatever else it says: the first
// record stands.
func Screen(events []vine.Event, found Found) ([]Accepted, []store.Answer) {
	accepted := make([]Accepted, 0, len(events))
	answers := make([]store.Answer, len(events))
	fresh := make(map[uuid.UUID]vine.Kind, len(events))
	kindOf := func(id uuid.UUID) (vine.Kind, bool) {
		if k, ok := found.Events[id]; ok {
			return k, true
		}
		k, ok := fresh[id]
		return k, ok
	}
	for i, e := range events {
		answers[i] = store.Answer{ID: e.ID, Result: store.Stored}
		if _, known := kindOf(e.ID); known {
			answers[i].Result = store.Known
			continue
		}
		a, err := judge(e, found, kindOf)
		if err != nil {
			answers[i].Result, answers[i].Reason = store.Refused, reason(err)
			continue
		}
		fresh[e.ID] = e.Kind
		accepted = append(accepted, a)
	}
	return accepted, answers
}

// reason is an error's text without the family's name in front of it.
func reason(err error) string {
	return strings.TrimPrefix(err.Error(), vine.ErrBadEvent.Error()+": ")
}

func judge(e vine.Event, found Found, kindOf func(uuid.UUID) (vine.Kind, bool)) (Accepted, error) {
	if err := e.Check(); err != nil {
		return Accepted{}, err
	}
	var err error
	if e.Target, err = placeTarget(e.Target, found); err != nil {
		return Accepted{}, err
	}
	if v, ok := e.Body.(vine.Void); ok {
		if k, known := kindOf(v.Event); v.Event == e.ID || known && k == vine.KindVoid {
			return Accepted{}, errors.New("a void cannot be taken back: record the fact again")
		}
	}
	e = settle(e)
	for _, t := range []time.Time{e.At, e.When, e.Received} {
		if y := t.Year(); y < 1 || y > 9999 {
			return Accepted{}, fmt.Errorf("the year %d is out of reach", y)
		}
	}
	value, err := json.Marshal(e.Body)
	if err != nil {
		return Accepted{}, fmt.Errorf("the value cannot be written: %w", err)
	}
	for _, t := range []struct{ field, text string }{{"device", e.Device}, {"by", e.By}} {
		if err := CheckText(t.field, t.text); err != nil {
			return Accepted{}, err
		}
	}
	if err := CheckJSON("the value", value); err != nil {
		return Accepted{}, err
	}
	return Accepted{Event: e, Value: value}, nil
}

// settle puts an event into the form in which it is kept.
func settle(e vine.Event) vine.Event {
	if e.When.IsZero() {
		e.When = e.At
	}
	e.At, e.When, e.Received = Instant(e.At), Instant(e.When), Instant(e.Received)
	if s, ok := e.Body.(vine.Sighting); ok && s.LookAgain != nil {
		day := Instant(*s.LookAgain)
		s.LookAgain = &day
		e.Body = s
	}
	e.Target.Vines = slices.Clone(e.Target.Vines)
	return e
}

// Instant gives a time as stores keep it: UTC, whole microseconds.
func Instant(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Microsecond)
}

// CheckText refuses text that not every store can hold: a zero character, bytes
// that are not UTF-8.
func CheckText(field, text string) error {
	if strings.ContainsRune(text, 0) {
		return fmt.Errorf("%s holds a zero character", field)
	}
	if !utf8.ValidString(text) {
		return fmt.Errorf("%s is not UTF-8 text", field)
	}
	return nil
}

// CheckJSON refuses JSON that not every store can hold: a zero character in a
// text.
func CheckJSON(field string, text []byte) error {
	for rest := text; ; {
		i := bytes.Index(rest, []byte(`\u0000`))
		if i < 0 {
			return nil
		}
		// An even number of backslashes before it makes it a plain backslash
		// followed by letters.
		slashes := 0
		for j := i - 1; j >= 0 && rest[j] == '\\'; j-- {
			slashes++
		}
		if slashes%2 == 0 {
			return fmt.Errorf("%s holds a zero character", field)
		}
		rest = rest[i+1:]
	}
}
