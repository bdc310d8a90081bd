package vine

import (
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
)

// Pruning is the operation that pruned events complete. Other operations have
// names of the estate's own choosing.
const Pruning = "pruning"

// Progress says how far an operation has got on a vine. Its numbers are part of
// the stand format.
type Progress uint8

// The states of an operation on a vine.
const (
	NotStarted Progress = 0
	Started    Progress = 1
	Done       Progress = 2
	ToRedo     Progress = 3
	Skipped    Progress = 4
)

var progressWords = [...]string{"not_started", "started", "done", "to_redo", "skipped"}

// String gives the word on the wire, such as "to_redo".
func (p Progress) String() string {
	if int(p) < len(progressWords) {
		return progressWords[p]
	}
	return fmt.Sprintf("progress %d", uint8(p))
}

// MarshalText writes the word.
func (p Progress) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads the word.
func (p *Progress) UnmarshalText(text []byte) error {
	for i, w := range progressWords {
		if w == string(text) {
			*p = Progress(i)
			return nil
		}
	}
	return fmt.Errorf("%w: progress %q (not_started, started, done, to_redo, skipped)", ErrBadEvent, text)
}

// Work is the body of a work event.
type Work struct {
	Operation string   `json:"operation"`
	Progress  Progress `json:"progress"`
}

// Kind is KindWork.
func (Work) Kind() Kind { return KindWork }

// Check refuses work without an operation.
func (w Work) Check(int) error {
	if w.Operation == "" || len(w.Operation) > 60 {
		return fmt.Errorf("%w: operation %q (1 to 60 characters)", ErrBadEvent, w.Operation)
	}
	return nil
}

// Note is the body of a note event.
type Note struct {
	Text string `json:"text"`
}

// maxNote is the longest note, in bytes.
const maxNote = 4000

// Kind is KindNote.
func (Note) Kind() Kind { return KindNote }

// Check refuses an empty or overlong note.
func (n Note) Check(int) error {
	if n.Text == "" || len(n.Text) > maxNote {
		return fmt.Errorf("%w: a note has 1 to %d bytes, not %d", ErrBadEvent, maxNote, len(n.Text))
	}
	return nil
}

// Void is the body of a void event: it takes another event back for the vines
// of its own target. A void cannot itself be voided; record the fact again.
type Void struct {
	Event  uuid.UUID `json:"event"`
	Reason string    `json:"reason,omitempty"`
}

// Kind is KindVoid.
func (Void) Kind() Kind { return KindVoid }

// Check refuses a void that names no event.
func (v Void) Check(int) error {
	if v.Event == uuid.Nil {
		return fmt.Errorf("%w: a void names the event it takes back", ErrBadEvent)
	}
	return nil
}

// DecodeBody reads the value of an event of the given kind. Unknown fields are
// refused: what cannot be read must not be lost in silence.
func DecodeBody(k Kind, value json.RawMessage) (Body, error) {
	switch k {
	case KindCondition:
		return decode[Sighting](k, value)
	case KindMeasure:
		return decode[Measure](k, value)
	case KindPruned:
		return decode[Pruned](k, value)
	case KindWork:
		return decode[Work](k, value)
	case KindNote:
		return decode[Note](k, value)
	case KindVoid:
		return decode[Void](k, value)
	}
	return nil, fmt.Errorf("%w: kind %q is not known", ErrBadEvent, k)
}
