package vine

import (
	"fmt"

	"github.com/google/uuid"
)

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
