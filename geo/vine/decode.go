package vine

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// decode reads one JSON value strictly into a body of type B.
func decode[B Body](k Kind, value json.RawMessage) (Body, error) {
	var b B
	if len(value) == 0 {
		value = json.RawMessage("{}")
	}
	dec := json.NewDecoder(bytes.NewReader(value))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&b); err != nil {
		return nil, fmt.Errorf("%w: value of a %s event: %w", ErrBadEvent, k, err)
	}
	return b, nil
}
