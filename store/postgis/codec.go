package postgis

import (
	"database/sql/driver"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/jackc/pgx/v5/pgtype"
	"github.com/paulmach/orb"
)

// Geometry goes over the line as extended well-known binary: byte order, type
// with flags, SRID where flagged, coordinates (OGC 06-103r4 §8, with the SRID
// flag of PostGIS).
const (
	wkbPoint           = 1
	wkbLineString      = 2
	wkbPolygon         = 3
	wkbMultiLineString = 5
	wkbMultiPolygon    = 6
	wkbSRID            = 0x20000000 // flag: an SRID follows
	wkbZM              = 0xC0000000 // flags: heights or measures, which we never write
	srid               = 4326
)

// geometryCodec lets pgx write and scan orb.Point, orb.MultiLineString and
// orb.MultiPolygon. A nil or empty line or polygon is NULL, and NULL scans into
// nil.
type geometryCodec struct{}

// FormatSupported is true for the binary format only.
func (geometryCodec) FormatSupported(format int16) bool { return format == pgtype.BinaryFormatCode }

// PreferredFormat is binary.
func (geometryCodec) PreferredFormat() int16 { return pgtype.BinaryFormatCode }

// PlanEncode plans to write an orb geometry.
func (geometryCodec) PlanEncode(_ *pgtype.Map, _ uint32, format int16, value any) pgtype.EncodePlan {
	if format != pgtype.BinaryFormatCode {
		return nil
	}
	switch value.(type) {
	case orb.Point, orb.MultiLineString, orb.MultiPolygon:
		return encodeGeometry{}
	}
	return nil
}

// PlanScan plans to read into an orb geometry.
func (geometryCodec) PlanScan(_ *pgtype.Map, _ uint32, format int16, target any) pgtype.ScanPlan {
	if format != pgtype.BinaryFormatCode {
		return nil
	}
	switch target.(type) {
	case *orb.Point, *orb.MultiLineString, *orb.MultiPolygon:
		return scanGeometry{}
	}
	return nil
}

// DecodeDatabaseSQLValue gives the bytes as they came.
func (geometryCodec) DecodeDatabaseSQLValue(_ *pgtype.Map, _ uint32, _ int16, src []byte) (driver.Value, error) {
	return append([]byte(nil), src...), nil
}

// DecodeValue gives the bytes as they came.
func (geometryCodec) DecodeValue(_ *pgtype.Map, _ uint32, _ int16, src []byte) (any, error) {
	return append([]byte(nil), src...), nil
}

type encodeGeometry struct{}

// Encode appends the geometry, or gives nil for NULL.
func (encodeGeometry) Encode(value any, buf []byte) ([]byte, error) {
	switch g := value.(type) {
	case orb.Point:
		return appendPoint(appendHead(buf, wkbPoint|wkbSRID), g), nil
	case orb.MultiLineString:
		if len(g) == 0 {
			return nil, nil
		}
		buf = appendCount(appendHead(buf, wkbMultiLineString|wkbSRID), len(g))
		for _, line := range g {
			buf = appendPoints(appendHead(buf, wkbLineString), line)
		}
		return buf, nil
	case orb.MultiPolygon:
		if len(g) == 0 {
			return nil, nil
		}
		buf = appendCount(appendHead(buf, wkbMultiPolygon|wkbSRID), len(g))
		for _, polygon := range g {
			buf = appendCount(appendHead(buf, wkbPolygon), len(polygon))
			for _, ring := range polygon {
				buf = appendPoints(buf, ring)
			}
		}
		return buf, nil
	}
	return nil, fmt.Errorf("cannot write %T as geometry", value)
}

// appendHead writes byte order (little-endian) and type, and the SRID where the
// type is flagged for it.
func appendHead(buf []byte, kind uint32) []byte {
	buf = binary.LittleEndian.AppendUint32(append(buf, 1), kind)
	if kind&wkbSRID != 0 {
		buf = binary.LittleEndian.AppendUint32(buf, srid)
	}
	return buf
}

func appendCount(buf []byte, n int) []byte {
	return binary.LittleEndian.AppendUint32(buf, uint32(n))
}

func appendPoint(buf []byte, p orb.Point) []byte {
	buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(p[0]))
	return binary.LittleEndian.AppendUint64(buf, math.Float64bits(p[1]))
}

func appendPoints[T ~[]orb.Point](buf []byte, points T) []byte {
	buf = appendCount(buf, len(points))
	for _, p := range points {
		buf = appendPoint(buf, p)
	}
	return buf
}

type scanGeometry struct{}

// Scan reads the geometry into the target.
func (scanGeometry) Scan(src []byte, target any) error {
	switch t := target.(type) {
	case *orb.Point:
		if src == nil {
			return errors.New("a point is NULL")
		}
		r := wkbReader{rest: src}
		r.head(wkbPoint)
		*t = r.point()
		return r.err
	case *orb.MultiLineString:
		g, err := decodeLines(src)
		*t = g
		return err
	case *orb.MultiPolygon:
		g, err := decodePolygons(src)
		*t = g
		return err
	}
	return fmt.Errorf("cannot read geometry into %T", target)
}

func decodeLines(src []byte) (orb.MultiLineString, error) {
	if src == nil {
		return nil, nil
	}
	r := wkbReader{rest: src}
	r.head(wkbMultiLineString)
	n := r.count(9)
	g := make(orb.MultiLineString, 0, n)
	for range n {
		r.head(wkbLineString)
		g = append(g, r.points())
	}
	return g, r.err
}

func decodePolygons(src []byte) (orb.MultiPolygon, error) {
	if src == nil {
		return nil, nil
	}
	r := wkbReader{rest: src}
	r.head(wkbMultiPolygon)
	n := r.count(9)
	g := make(orb.MultiPolygon, 0, n)
	for range n {
		r.head(wkbPolygon)
		rings := r.count(4)
		polygon := make(orb.Polygon, 0, rings)
		for range rings {
			polygon = append(polygon, r.points())
		}
		g = append(g, polygon)
	}
	return g, r.err
}

// wkbReader walks through the bytes; the first error stays and ends every loop.
type wkbReader struct {
	rest  []byte
	order binary.ByteOrder
	err   error
}

func (r *wkbReader) fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("geometry: "+format, args...)
	}
	r.rest = nil
}

func (r *wkbReader) take(n int) []byte {
	if len(r.rest) < n {
		r.fail("cut short: %d bytes wanted, %d there", n, len(r.rest))
		return make([]byte, n)
	}
	out := r.rest[:n]
	r.rest = r.rest[n:]
	return out
}

// head reads byte order, type and SRID, and refuses what is not wanted.
func (r *wkbReader) head(want uint32) {
	r.order = binary.LittleEndian
	if r.take(1)[0] == 0 {
		r.order = binary.BigEndian
	}
	kind := r.order.Uint32(r.take(4))
	if kind&wkbZM != 0 || kind&0xFFFF != want {
		r.fail("type %#x where %d is wanted", kind, want)
	}
	if kind&wkbSRID != 0 {
		if got := r.order.Uint32(r.take(4)); got != srid && r.err == nil {
			r.fail("SRID %d where %d is wanted", got, srid)
		}
	}
}

// count reads how many parts of at least size bytes follow; a number that the
// rest cannot hold is refused before anything is set aside for it.
func (r *wkbReader) count(size int) int {
	if r.err != nil {
		return 0
	}
	n := int(r.order.Uint32(r.take(4)))
	if n > len(r.rest)/size {
		r.fail("%d parts in %d bytes", n, len(r.rest))
		return 0
	}
	return n
}

func (r *wkbReader) point() orb.Point {
	b := r.take(16)
	return orb.Point{math.Float64frombits(r.order.Uint64(b)), math.Float64frombits(r.order.Uint64(b[8:]))}
}

func (r *wkbReader) points() []orb.Point {
	out := make([]orb.Point, r.count(16))
	for i := range out {
		out[i] = r.point()
	}
	return out
}
