package raster

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"io"
)

// Pack gives the numbers of a part in few bytes: each as its difference from the
// one before, least significant byte first, deflated (RFC 1951).
func (p *Part) Pack() ([]byte, error) {
	raw := make([]byte, 2*len(p.Stored))
	before := uint16(0)
	for i, v := range p.Stored {
		binary.LittleEndian.PutUint16(raw[2*i:], v-before)
		before = v
	}
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.DefaultCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(raw); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// UnpackPart undoes Pack for a part of w x h pixels, at most PartSide each. The
// error is a *Fault.
func UnpackPart(packed []byte, w, h int) ([]uint16, error) {
	if w < 1 || h < 1 || w > PartSide || h > PartSide {
		return nil, &Fault{What: "a part of a picture has an impossible size", Found: fmt.Sprintf("%d x %d", w, h), Cause: ErrDamaged}
	}
	raw := make([]byte, 2*w*h)
	if _, err := io.ReadFull(flate.NewReader(bytes.NewReader(packed)), raw); err != nil {
		return nil, &Fault{What: "a part of a picture is damaged or cut short", Found: err.Error(), Wanted: "the image taken in again", Cause: ErrDamaged}
	}
	out := make([]uint16, w*h)
	before := uint16(0)
	for i := range out {
		before += binary.LittleEndian.Uint16(raw[2*i:])
		out[i] = before
	}
	return out, nil
}
