package vine

import "fmt"

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
