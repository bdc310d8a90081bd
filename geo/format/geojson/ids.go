package geojson

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// seenID is what is kept of a feature with an id.
type seenID struct {
	feature int
	content uint64
}

// checkID refuses an id used twice, and marks an exact copy.
func (d *Decoder) checkID(f *Feature) *format.Problem {
	if d.ids == nil {
		d.ids = map[uint64]seenID{}
	}
	key := fnv(fnv(fnvStart, []byte{byte(f.ID.Kind)}), f.ID.text)
	content := fnvFeature(f)
	before, known := d.ids[key]
	if !known {
		d.ids[key] = seenID{f.Index, content}
		return nil
	}
	if before.content == content {
		f.CopyOf = before.feature
		return nil
	}
	return &format.Problem{Feature: f.Index, Line: f.Line, Field: "id", What: fmt.Sprintf("id used twice, by features %d and %d that differ", before.feature, f.Index),
		Found: format.Quote(string(f.ID.text)), Wanted: "an id of its own for each feature, or none"}
}

// FNV-1a, 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; IETF draft
// draft-eastlake-fnv).
const fnvStart, fnvPrime = 14695981039346656037, 1099511628211

func fnv(h uint64, b []byte) uint64 {
	for _, c := range b {
		h = (h ^ uint64(c)) * fnvPrime
	}
	return h
}

func fnvFeature(f *Feature) uint64 {
	h := uint64(fnvStart)
	for _, p := range f.Properties {
		h = fnv(fnv(fnv(h, []byte(p.Name)), []byte{0, byte(p.Kind)}), p.text)
	}
	_ = frame.EachPoint(f.Geometry, func(p orb.Point) error {
		var b [16]byte
		binary.LittleEndian.PutUint64(b[:], math.Float64bits(p[0]))
		binary.LittleEndian.PutUint64(b[8:], math.Float64bits(p[1]))
		h = fnv(h, b[:])
		return nil
	})
	return h
}
