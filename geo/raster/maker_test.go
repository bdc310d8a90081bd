package raster

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"
)

// maker writes a small TIFF of 4 x 3 bytes in one strip, for tests of what
// files may say.
type maker struct {
	tags map[uint16]makerEntry
	loop bool
}

type makerEntry struct {
	kind  uint16
	count int
	raw   []byte
}

func (f *maker) set(tag, kind uint16, v ...uint64) {
	var raw []byte
	for _, x := range v {
		switch kind {
		case 3:
			raw = binary.LittleEndian.AppendUint16(raw, uint16(x))
		case 4:
			raw = binary.LittleEndian.AppendUint32(raw, uint32(x))
		}
	}
	f.tags[tag] = makerEntry{kind, len(v), raw}
}

func (f *maker) doubles(tag uint16, v ...float64) {
	var raw []byte
	for _, x := range v {
		raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(x))
	}
	f.tags[tag] = makerEntry{12, len(v), raw}
}

func tiff(t testing.TB, with func(*maker)) []byte {
	t.Helper()
	f := &maker{tags: map[uint16]makerEntry{}}
	f.set(tagWidth, 4, 4)
	f.set(tagHeight, 4, 3)
	f.set(tagBits, 3, 8)
	f.set(tagCompression, 3, 1)
	f.set(tagStripOffsets, 4, 8)
	f.set(tagSamples, 3, 1)
	f.set(tagRowsPerStrip, 3, 3)
	f.set(tagStripCounts, 4, 12)
	f.doubles(tagPixelScale, 1, 1, 0)
	f.doubles(tagTiepoint, 0, 0, 0, 600000, 5000000, 0)
	with(f)
	out := []byte{'I', 'I', 42, 0, 20, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	var tags []uint16
	for tag := range f.tags {
		tags = append(tags, tag)
	}
	slices.Sort(tags)
	dir := binary.LittleEndian.AppendUint16(nil, uint16(len(tags)))
	at := 20 + 2 + 12*len(tags) + 4
	var later []byte
	for _, tag := range tags {
		e := f.tags[tag]
		dir = binary.LittleEndian.AppendUint16(dir, tag)
		dir = binary.LittleEndian.AppendUint16(dir, e.kind)
		dir = binary.LittleEndian.AppendUint32(dir, uint32(e.count))
		if len(e.raw) <= 4 {
			dir = append(dir, e.raw...)
			dir = append(dir, make([]byte, 4-len(e.raw))...)
			continue
		}
		dir = binary.LittleEndian.AppendUint32(dir, uint32(at+len(later)))
		later = append(later, e.raw...)
	}
	next := uint32(0)
	if f.loop {
		next = 20
	}
	dir = binary.LittleEndian.AppendUint32(dir, next)
	return append(append(out, dir...), later...)
}
