package vine

import (
	"bytes"
	"encoding/json"
	"fmt"
)

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
