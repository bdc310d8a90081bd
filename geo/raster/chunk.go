package raster

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/klauspost/compress/zlib"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/image/tiff/lzw"
)

// sparse says that a chunk was never written: its pixels have no value.
var errSparse = errors.New("never written")

// chunk gives the bytes of strip or tile i, unpacked, least significant byte
// first whatever the file's order. buf is used where it is long enough.
func (m *image) chunk(i int, buf []byte) ([]byte, error) {
	n := m.rowBytes() * int64(m.chunkRows(i))
	if m.offsets[i] == 0 || m.counts[i] == 0 {
		return nil, errSparse
	}
	if int64(cap(buf)) < n {
		buf = make([]byte, n)
	}
	buf = buf[:n]
	if m.counts[i] < n/m.ratio {
		return nil, m.fault(i, "swells beyond reason", fmt.Sprintf("%d bytes from %d", n, m.counts[i]), ErrTooLarge)
	}
	if err := m.unpack(i, buf); err != nil {
		return nil, m.fault(i, "is damaged or cut short", err.Error(), ErrDamaged)
	}
	m.unpredict(buf)
	if m.order.String() == "BigEndian" {
		turn(buf, m.bits/8)
	}
	return buf, nil
}

func (m *image) fault(i int, what, found string, cause error) error {
	kind := "strip"
	if m.tiled {
		kind = "tile"
	}
	return &Fault{What: fmt.Sprintf("%s %d of %d %s", kind, i, len(m.offsets), what), Found: found, Wanted: "the whole file, written again", Cause: cause}
}

// unpack fills dst from chunk i.
func (m *image) unpack(i int, dst []byte) error {
	src := io.NewSectionReader(m.src, m.offsets[i], m.counts[i])
	switch m.compression {
	case packNone:
		return readFull(src, dst, 0)
	case packLZW:
		z := lzw.NewReader(src, lzw.MSB, 8)
		defer z.Close()
		return fill(z, dst)
	case packDeflate, packDeflate2:
		z, err := zlib.NewReader(src)
		if err != nil {
			return err
		}
		defer z.Close()
		return fill(z, dst)
	case packZstd:
		z, err := zstd.NewReader(src, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(512<<20))
		if err != nil {
			return err
		}
		defer z.Close()
		return fill(z, dst)
	}
	return unpackBits(src, m.counts[i], dst)
}

func fill(r io.Reader, dst []byte) error {
	_, err := io.ReadFull(r, dst)
	return err
}

// unpackBits undoes PackBits (TIFF 6.0 section 9): a count, then as many bytes
// as they are, or one byte to repeat.
func unpackBits(src *io.SectionReader, n int64, dst []byte) error {
	raw, err := io.ReadAll(io.LimitReader(src, n))
	if err != nil {
		return err
	}
	r := bytes.NewReader(raw)
	for len(dst) > 0 {
		c, err := r.ReadByte()
		if err != nil {
			return io.ErrUnexpectedEOF
		}
		switch k := int(int8(c)); {
		case k >= 0:
			part := dst[:min(k+1, len(dst))]
			if err := fill(r, part); err != nil {
				return err
			}
			dst = dst[len(part):]
		case k > -128:
			b, err := r.ReadByte()
			if err != nil {
				return io.ErrUnexpectedEOF
			}
			part := dst[:min(1-k, len(dst))]
			for j := range part {
				part[j] = b
			}
			dst = dst[len(part):]
		}
	}
	return nil
}

// unpredict undoes the predictor, line by line.
func (m *image) unpredict(b []byte) {
	if m.predictor == 1 {
		return
	}
	step, row := 1, int(m.rowBytes())
	if !m.planar {
		step = m.samples
	}
	spare := make([]byte, row)
	for ; len(b) >= row; b = b[row:] {
		if m.predictor == 3 {
			floats(b[:row], spare, step, m.bits/8, m.order.String() == "BigEndian")
			continue
		}
		m.addUp(b[:row], step)
	}
}

// addUp undoes horizontal differencing (TIFF 6.0 section 14): each number is
// stored as its difference from the one step before, in the file's byte order.
func (m *image) addUp(b []byte, step int) {
	switch m.bits {
	case 8:
		for i := step; i < len(b); i++ {
			b[i] += b[i-step]
		}
	case 16:
		for i := 2 * step; i+2 <= len(b); i += 2 {
			m.order.PutUint16(b[i:], m.order.Uint16(b[i:])+m.order.Uint16(b[i-2*step:]))
		}
	case 32:
		for i := 4 * step; i+4 <= len(b); i += 4 {
			m.order.PutUint32(b[i:], m.order.Uint32(b[i:])+m.order.Uint32(b[i-4*step:]))
		}
	case 64:
		for i := 8 * step; i+8 <= len(b); i += 8 {
			m.order.PutUint64(b[i:], m.order.Uint64(b[i:])+m.order.Uint64(b[i-8*step:]))
		}
	}
}

// floats undoes the floating-point predictor (Adobe Photoshop TIFF Technical
// Note 3, 2005): the line is differenced byte by byte, then holds all highest
// bytes, all second highest and so on, whatever the file's byte order.
func floats(b, spare []byte, step, size int, bigEndian bool) {
	for i := step; i < len(b); i++ {
		b[i] += b[i-step]
	}
	copy(spare, b)
	n := len(b) / size
	for k := range size {
		at := size - 1 - k // byte k from the top, least significant first
		if bigEndian {
			at = k
		}
		for i, v := range spare[k*n : (k+1)*n] {
			b[i*size+at] = v
		}
	}
}

// turn reverses the bytes of every number.
func turn(b []byte, size int) {
	for ; size > 1 && len(b) >= size; b = b[size:] {
		for i, j := 0, size-1; i < j; i, j = i+1, j-1 {
			b[i], b[j] = b[j], b[i]
		}
	}
}

// values reads numbers from a chunk: dst[k] is number at+k*step.
func (m *image) values(dst []float64, b []byte, at, step int) {
	size := m.bits / 8
	switch {
	case m.bits == 1:
		panic("raster: masks are read bit by bit")
	case m.kind == kindFloat && size == 4:
		for k := range dst {
			i := (at + k*step) * 4
			dst[k] = float64(math.Float32frombits(le32(b[i:])))
		}
	case m.kind == kindFloat:
		for k := range dst {
			i := (at + k*step) * 8
			dst[k] = math.Float64frombits(uint64(le32(b[i:])) | uint64(le32(b[i+4:]))<<32)
		}
	default:
		m.wholes(dst, b, at, step)
	}
}

func (m *image) wholes(dst []float64, b []byte, at, step int) {
	signed := m.kind == kindInt
	for k := range dst {
		i := at + k*step
		switch {
		case m.bits == 8 && signed:
			dst[k] = float64(int8(b[i]))
		case m.bits == 8:
			dst[k] = float64(b[i])
		case m.bits == 16 && signed:
			dst[k] = float64(int16(uint16(b[2*i]) | uint16(b[2*i+1])<<8))
		case m.bits == 16:
			dst[k] = float64(uint16(b[2*i]) | uint16(b[2*i+1])<<8)
		case signed:
			dst[k] = float64(int32(le32(b[4*i:])))
		default:
			dst[k] = float64(le32(b[4*i:]))
		}
	}
}

func le32(b []byte) uint32 {
	_ = b[3]
	return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 | uint32(b[3])<<24
}
