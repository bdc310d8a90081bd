package foreign

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

var errCut = errors.New("it is cut short")

// readBlob reads a geometry of a GeoPackage (OGC 12-128r19 section 2.1.3): a head
// of its own, then well-known binary. nil is an empty geometry. heights tells
// that there were more numbers than two in a position.
func readBlob(b []byte, crs frame.CRS) (g orb.Geometry, heights bool, err error) {
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return nil, false, errors.New("it does not begin like one")
	}
	flags := b[3]
	if flags&0x20 != 0 {
		return nil, false, errors.New("it is of a kind of its own (ExtendedGeoPackageBinary)")
	}
	size := [8]int{0, 32, 48, 48, 64, -1, -1, -1}[flags>>1&7]
	if size < 0 || len(b) < 8+size {
		return nil, false, errCut
	}
	if flags&0x10 != 0 {
		return nil, false, nil
	}
	w := &wkb{b: b[8+size:], crs: crs}
	g, err = w.geometry(0)
	return g, w.heights, err
}

// wkb reads well-known binary (ISO 19125 with the types for heights and measures
// of ISO 13249-3).
type wkb struct {
	b       []byte
	order   binary.ByteOrder
	crs     frame.CRS
	heights bool
}

const deepest = 10

func (w *wkb) u32() (uint32, error) {
	if len(w.b) < 4 {
		return 0, errCut
	}
	v := w.order.Uint32(w.b)
	w.b = w.b[4:]
	return v, nil
}

// count reads how many parts follow, each of at least so many bytes.
func (w *wkb) count(least int) (int, error) {
	n, err := w.u32()
	if err != nil || int64(n)*int64(least) > int64(len(w.b)) {
		return 0, errCut
	}
	return int(n), nil
}

func (w *wkb) geometry(depth int) (orb.Geometry, error) {
	if depth > deepest {
		return nil, errors.New("it is nested too deep")
	}
	if len(w.b) < 5 {
		return nil, errCut
	}
	w.order = binary.BigEndian
	if w.b[0] == 1 {
		w.order = binary.LittleEndian
	}
	w.b = w.b[1:]
	kind, err := w.u32()
	if err != nil {
		return nil, err
	}
	numbers := 2
	switch kind / 1000 {
	case 1, 2:
		numbers = 3
	case 3:
		numbers = 4
	}
	w.heights = w.heights || numbers > 2
	switch kind % 1000 {
	case 1:
		return w.point(numbers)
	case 2:
		ps, err := w.positions(numbers)
		if len(ps) == 0 {
			return nil, err
		}
		return orb.LineString(ps), err
	case 3:
		return w.polygon(numbers)
	case 4, 5, 6, 7:
		return w.parts(depth)
	}
	return nil, fmt.Errorf("it is of type %d", kind)
}

func (w *wkb) point(numbers int) (orb.Geometry, error) {
	if len(w.b) < 8*numbers {
		return nil, errCut
	}
	x, y := w.float(0), w.float(1)
	w.b = w.b[8*numbers:]
	if math.IsNaN(x) && math.IsNaN(y) {
		return nil, nil // how the standard writes an empty point
	}
	p, err := w.crs.ToWGS84(x, y)
	if err != nil {
		return nil, err
	}
	return p, nil
}

func (w *wkb) float(i int) float64 { return math.Float64frombits(w.order.Uint64(w.b[8*i:])) }

func (w *wkb) positions(numbers int) ([]orb.Point, error) {
	n, err := w.count(8 * numbers)
	if err != nil {
		return nil, err
	}
	out := make([]orb.Point, n)
	for i := range out {
		if out[i], err = w.crs.ToWGS84(w.float(0), w.float(1)); err != nil {
			return nil, err
		}
		w.b = w.b[8*numbers:]
	}
	return out, nil
}

func (w *wkb) polygon(numbers int) (orb.Geometry, error) {
	n, err := w.count(4)
	if err != nil || n == 0 {
		return nil, err
	}
	out := make(orb.Polygon, n)
	for i := range out {
		ps, err := w.positions(numbers)
		if err != nil {
			return nil, err
		}
		out[i] = ps
	}
	return out, nil
}

// parts reads a geometry of several parts: of points, lines, polygons, or of any.
func (w *wkb) parts(depth int) (orb.Geometry, error) {
	n, err := w.count(5)
	if err != nil {
		return nil, err
	}
	var all orb.Collection
	for range n {
		g, err := w.geometry(depth + 1)
		if err != nil {
			return nil, err
		}
		if g != nil {
			all = append(all, g)
		}
	}
	return format.Join(all), nil
}
