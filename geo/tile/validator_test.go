package tile

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// A strict reader of vector tiles, written for the tests from the text of the
// Mapbox Vector Tile Specification 2.1 (Mapbox, 2016) and sharing no code with
// the writer. It refuses whatever breaks a MUST or SHOULD.

// readTile is a tile as the strict reader found it.
type readTile struct{ layers []*readLayer }

type readLayer struct {
	name     string
	extent   uint64
	keys     []string
	values   []any
	features []readFeature
	raw      [][]byte
	version  uint64
	extents  int
	versions int
	names    int
}

type readFeature struct {
	id    uint64
	hasID bool
	kind  uint64
	attrs map[string]any
	// parts are points (one each), lines, or rings.
	parts [][][2]int64
}

func (t *readTile) layer(name string) *readLayer {
	for _, l := range t.layers {
		if l.name == name {
			return l
		}
	}
	return &readLayer{}
}

// field is one field of a protocol buffer message.
type field struct {
	number int
	wire   int
	value  uint64
	bytes  []byte
}

// fieldsOf splits a message; it refuses anything cut short, and wire types that
// the format does not use.
func fieldsOf(b []byte) ([]field, error) {
	var out []field
	for len(b) > 0 {
		key, n := binary.Uvarint(b)
		if n <= 0 {
			return nil, errors.New("field key cut short")
		}
		b = b[n:]
		f := field{number: int(key >> 3), wire: int(key & 7)}
		size := 0
		switch f.wire {
		case 0:
			if f.value, size = binary.Uvarint(b); size <= 0 {
				return nil, fmt.Errorf("field %d: number cut short", f.number)
			}
		case 1:
			size = 8
		case 5:
			size = 4
		case 2:
			length, n := binary.Uvarint(b)
			if n <= 0 || length > uint64(len(b)-n) {
				return nil, fmt.Errorf("field %d: bytes cut short", f.number)
			}
			b, size = b[n:], int(length)
		default:
			return nil, fmt.Errorf("field %d: wire type %d", f.number, f.wire)
		}
		if size > len(b) {
			return nil, fmt.Errorf("field %d cut short", f.number)
		}
		f.bytes, b = b[:size], b[size:]
		out = append(out, f)
	}
	return out, nil
}

// readStrictly reads a tile and checks every rule.
func readStrictly(b []byte) (*readTile, error) {
	fields, err := fieldsOf(b)
	if err != nil {
		return nil, err
	}
	t := &readTile{}
	names := map[string]bool{}
	for _, f := range fields {
		if f.number != 3 || f.wire != 2 {
			return nil, fmt.Errorf("tile has field %d of wire type %d", f.number, f.wire)
		}
		l, err := readOneLayer(f.bytes)
		if err != nil {
			return nil, err
		}
		if names[l.name] {
			return nil, fmt.Errorf("rule 1: two layers are named %q", l.name)
		}
		names[l.name] = true
		t.layers = append(t.layers, l)
	}
	return t, nil
}

func readOneLayer(b []byte) (*readLayer, error) {
	fields, err := fieldsOf(b)
	if err != nil {
		return nil, err
	}
	l := &readLayer{}
	for _, f := range fields {
		if err := l.take(f); err != nil {
			return nil, fmt.Errorf("layer %q: %w", l.name, err)
		}
	}
	switch {
	case l.names != 1 || l.name == "":
		return nil, errors.New("rule 1: a layer has no name")
	case l.versions != 1 || l.version != 2:
		return nil, fmt.Errorf("layer %q: rule 1: version %d", l.name, l.version)
	case l.extents != 1 || l.extent == 0:
		return nil, fmt.Errorf("layer %q: rule 1: no extent", l.name)
	case len(l.raw) == 0:
		return nil, fmt.Errorf("layer %q: rule 11: no feature", l.name)
	}
	if err := unrepeated(l.keys); err != nil {
		return nil, fmt.Errorf("layer %q: rule 3: key %w", l.name, err)
	}
	if err := unrepeated(l.values); err != nil {
		return nil, fmt.Errorf("layer %q: rule 3: value %w", l.name, err)
	}
	ids := map[uint64]bool{}
	for i, raw := range l.raw {
		f, err := l.read(raw)
		if err != nil {
			return nil, fmt.Errorf("layer %q, feature %d: %w", l.name, i, err)
		}
		if f.hasID && (ids[f.id] || f.id >= 1<<53) {
			return nil, fmt.Errorf("layer %q, feature %d: rule 4: id %d", l.name, i, f.id)
		}
		ids[f.id] = ids[f.id] || f.hasID
		l.features = append(l.features, f)
	}
	return l, nil
}

func (l *readLayer) take(f field) error {
	wire := map[int]int{1: 2, 2: 2, 3: 2, 4: 2, 5: 0, 15: 0}
	if w, ok := wire[f.number]; !ok || w != f.wire {
		return fmt.Errorf("field %d of wire type %d", f.number, f.wire)
	}
	switch f.number {
	case 1:
		l.name = string(f.bytes)
		l.names++
	case 2:
		l.raw = append(l.raw, f.bytes)
	case 3:
		l.keys = append(l.keys, string(f.bytes))
	case 4:
		v, err := readValue(f.bytes)
		if err != nil {
			return err
		}
		l.values = append(l.values, v)
	case 5:
		l.extent = f.value
		l.extents++
	case 15:
		l.version = f.value
		l.versions++
	}
	return nil
}

// readValue reads a value: kind and content, so that int 1 and uint 1 differ.
func readValue(b []byte) (any, error) {
	fields, err := fieldsOf(b)
	if err != nil {
		return nil, err
	}
	if len(fields) != 1 {
		return nil, fmt.Errorf("rule 3: a value has %d fields", len(fields))
	}
	f := fields[0]
	wire := map[int]int{1: 2, 2: 5, 3: 1, 4: 0, 5: 0, 6: 0, 7: 0}
	if w, ok := wire[f.number]; !ok || w != f.wire {
		return nil, fmt.Errorf("rule 3: value field %d of wire type %d", f.number, f.wire)
	}
	return [3]any{f.number, f.value, string(f.bytes)}, nil
}

func unrepeated[T comparable](list []T) error {
	seen := map[T]bool{}
	for _, v := range list {
		if seen[v] {
			return fmt.Errorf("%v repeats", v)
		}
		seen[v] = true
	}
	return nil
}

func (l *readLayer) read(b []byte) (readFeature, error) {
	f := readFeature{attrs: map[string]any{}}
	fields, err := fieldsOf(b)
	if err != nil {
		return f, err
	}
	var tags, geometry []uint64
	for _, fd := range fields {
		switch {
		case fd.number == 1 && fd.wire == 0:
			f.id, f.hasID = fd.value, true
		case fd.number == 2 && fd.wire == 2:
			tags, err = packed(fd.bytes)
		case fd.number == 3 && fd.wire == 0:
			f.kind = fd.value
		case fd.number == 4 && fd.wire == 2:
			geometry, err = packed(fd.bytes)
		default:
			err = fmt.Errorf("field %d of wire type %d", fd.number, fd.wire)
		}
		if err != nil {
			return f, err
		}
	}
	if f.kind < 1 || f.kind > 3 {
		return f, fmt.Errorf("rule 2: geometry type %d", f.kind)
	}
	if len(tags)%2 != 0 {
		return f, fmt.Errorf("rule 3: %d tags", len(tags))
	}
	for i := 0; i < len(tags); i += 2 {
		k, v := tags[i], tags[i+1]
		if k >= uint64(len(l.keys)) || v >= uint64(len(l.values)) {
			return f, fmt.Errorf("rule 3: tag %d, %d", k, v)
		}
		if _, ok := f.attrs[l.keys[k]]; ok {
			return f, fmt.Errorf("rule 3: key %s twice", l.keys[k])
		}
		f.attrs[l.keys[k]] = l.values[v]
	}
	f.parts, err = readGeometry(f.kind, geometry)
	return f, err
}

func packed(b []byte) ([]uint64, error) {
	var out []uint64
	for len(b) > 0 {
		v, n := binary.Uvarint(b)
		if n <= 0 || v > 1<<32-1 {
			return nil, errors.New("packed number cut short or beyond 32 bits")
		}
		out, b = append(out, v), b[n:]
	}
	return out, nil
}
