package vine

import "fmt"

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
