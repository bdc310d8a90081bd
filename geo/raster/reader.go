package raster

import (
	"container/list"
	"errors"
	"fmt"
	"math"
)

// Window is a rectangle of pixels: first column and line, and how many.
type Window struct{ Column, Line, Columns, Lines int }

// Reader reads windows of a raster through a cache of unpacked chunks. It must
// not be used by two goroutines at once; make one for each.
type Reader struct {
	r     *Raster
	most  int64
	held  int64
	byKey map[chunkKey]*list.Element
	order *list.List // most lately used first
	spare []byte
	extra []float64
}

type chunkKey struct {
	m *image
	i int
}

type cached struct {
	key chunkKey
	b   []byte // nil: never written
}

// DefaultCache is the memory for unpacked chunks where none is stated, bytes.
const DefaultCache = 96 << 20

// NewReader gives a reader that holds at most cacheBytes of unpacked chunks
// (and always one); 0 means DefaultCache.
func (r *Raster) NewReader(cacheBytes int64) *Reader {
	if cacheBytes <= 0 {
		cacheBytes = DefaultCache
	}
	return &Reader{r: r, most: cacheBytes, byKey: map[chunkKey]*list.Element{}, order: list.New()}
}

// Raster is what is read.
func (rd *Reader) Raster() *Raster { return rd.r }

// chunk gives the bytes of a chunk, nil where it was never written.
func (rd *Reader) chunk(m *image, i int) ([]byte, error) {
	key := chunkKey{m, i}
	if e, ok := rd.byKey[key]; ok {
		rd.order.MoveToFront(e)
		return e.Value.(*cached).b, nil
	}
	need := m.rowBytes() * int64(m.chunkRows(i))
	for rd.held+need > rd.most && rd.order.Len() > 0 {
		old := rd.order.Remove(rd.order.Back()).(*cached)
		delete(rd.byKey, old.key)
		rd.held -= int64(cap(old.b))
		rd.spare = old.b
	}
	b, err := m.chunk(i, rd.spare)
	if err != nil && !errors.Is(err, errSparse) {
		return nil, err
	}
	if b != nil {
		rd.spare = nil
	}
	rd.held += int64(cap(b))
	rd.byKey[key] = rd.order.PushFront(&cached{key, b})
	return b, nil
}

// Pick is a band and how its numbers are to be understood. The zero fields leave
// what the file says.
type Pick struct {
	Band   int       // from 1; 0: the first
	NoData []float64 // further stored values that mean "no value"
	Scale  *float64  // instead of the file's: value = stored x Scale + Offset
	Offset *float64
	Range  *[2]float64 // values outside, ends included in the range, are no values
}

func (r *Raster) band(p Pick) (int, error) {
	n := max(p.Band, 1)
	if n > r.image.samples {
		return 0, &Fault{What: "there is no such band", Found: fmt.Sprintf("band %d", p.Band), Wanted: fmt.Sprintf("1 to %d", r.image.samples)}
	}
	return n, nil
}

// Stored reads the numbers of a window of a band as they are stored into dst
// (line by line, Columns x Lines long), with NaN for pixels that were never
// written, that the mask leaves out, or that hold no finite number; values
// declared as "no value" are not looked at. The window must lie in the image.
func (rd *Reader) Stored(band int, w Window, dst []float64) error {
	n, err := rd.r.band(Pick{Band: band})
	if err != nil {
		return err
	}
	if w.Column < 0 || w.Line < 0 || w.Columns < 1 || w.Lines < 1 || w.Column > rd.r.Width-w.Columns || w.Line > rd.r.Height-w.Lines || len(dst) != w.Columns*w.Lines {
		return &Fault{What: "the window does not lie in the image", Found: fmt.Sprintf("%+v", w), Wanted: fmt.Sprintf("within %d x %d", rd.r.Width, rd.r.Height)}
	}
	if err := rd.window(rd.r.image, n-1, w, dst); err != nil {
		return err
	}
	for i, v := range dst {
		if math.IsInf(v, 0) {
			dst[i] = math.NaN()
		}
	}
	if a := rd.r.alpha; a != 0 && a != n {
		if err := rd.leaveOut(rd.r.image, a-1, w, dst); err != nil {
			return err
		}
	}
	if rd.r.mask != nil {
		return rd.leaveOut(rd.r.mask, 0, w, dst)
	}
	return nil
}

// leaveOut makes NaN of the pixels where another band holds 0 or nothing.
func (rd *Reader) leaveOut(m *image, band int, w Window, dst []float64) error {
	if cap(rd.extra) < len(dst) {
		rd.extra = make([]float64, len(dst))
	}
	over := rd.extra[:len(dst)]
	if err := rd.window(m, band, w, over); err != nil {
		return err
	}
	for i, v := range over {
		if !(v != 0) || math.IsNaN(v) {
			dst[i] = math.NaN()
		}
	}
	return nil
}

// Read is Stored with scale and offset applied and NaN for every pixel without
// a value.
func (rd *Reader) Read(p Pick, w Window, dst []float64) error {
	n, err := rd.r.band(p)
	if err != nil {
		return err
	}
	if err := rd.Stored(n, w, dst); err != nil {
		return err
	}
	b := rd.r.Bands[n-1]
	if p.Scale != nil {
		b.Scale = *p.Scale
	}
	if p.Offset != nil {
		b.Offset = *p.Offset
	}
	for i, v := range dst {
		if v == b.NoData && b.HasNoData || in(v, p.NoData) {
			dst[i] = math.NaN()
			continue
		}
		if b.Scale != 1 || b.Offset != 0 {
			v = v*b.Scale + b.Offset
			dst[i] = v
		}
		if p.Range != nil && !(v >= p.Range[0] && v <= p.Range[1]) {
			dst[i] = math.NaN()
		}
	}
	return nil
}

func in(v float64, list []float64) bool {
	for _, x := range list {
		if v == x {
			return true
		}
	}
	return false
}

// window reads the numbers of one band of a picture, NaN where never written.
func (rd *Reader) window(m *image, band int, w Window, dst []float64) error {
	for cy := w.Line / m.chunkH; cy*m.chunkH < w.Line+w.Lines; cy++ {
		for cx := w.Column / m.chunkW; cx*m.chunkW < w.Column+w.Columns; cx++ {
			i := cy*m.across + cx
			if m.planar {
				i += band * m.across * m.down
			}
			b, err := rd.chunk(m, i)
			if err != nil {
				return err
			}
			m.copyPart(b, band, cx*m.chunkW, cy*m.chunkH, w, dst)
		}
	}
	return nil
}

// copyPart copies what a chunk, whose first pixel is (x0, y0), has of a window.
func (m *image) copyPart(b []byte, band, x0, y0 int, w Window, dst []float64) {
	from, to := max(x0, w.Column), min(x0+m.chunkW, w.Column+w.Columns)
	step, first := 1, 0
	if !m.planar {
		step, first = m.samples, band
	}
	for y := max(y0, w.Line); y < min(y0+m.chunkH, w.Line+w.Lines); y++ {
		at := (y-w.Line)*w.Columns - w.Column
		part := dst[at+from : at+to]
		switch {
		case b == nil:
			for k := range part {
				part[k] = math.NaN()
			}
		case m.bits == 1:
			bits := b[int64(y-y0)*m.rowBytes():]
			for k := range part {
				i := (from-x0+k)*step + first
				part[k] = float64(bits[i/8] >> (7 - i%8) & 1)
			}
		default:
			m.values(part, b, ((y-y0)*m.chunkW+from-x0)*step+first, step)
		}
	}
}
