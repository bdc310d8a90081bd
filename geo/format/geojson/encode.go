package geojson

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"github.com/paulmach/orb"
)

// Places after the decimal point of a coordinate: 8 are 1.1 mm on the ground.
const places = 8

// Writer writes one FeatureCollection as a stream, with rings wound and shapes
// cut at 180° as RFC 7946 wants, coordinates to 8 places (1.1 mm), and the
// properties in the order in which they are set.
type Writer struct {
	w        *bufio.Writer
	buf      []byte
	features int
	props    int
	err      error
}

// NewWriter begins a collection. Nothing is complete before Close.
func NewWriter(w io.Writer) *Writer {
	g := &Writer{w: bufio.NewWriterSize(w, windowSize)}
	_, g.err = g.w.WriteString(`{"type":"FeatureCollection","features":[`)
	return g
}

// Begin starts a feature. The id may be 0 for none.
func (w *Writer) Begin(id int64) {
	w.begin()
	if id != 0 {
		w.buf = append(w.buf, `"id":`...)
		w.buf = strconv.AppendInt(w.buf, id, 10)
		w.buf = append(w.buf, ',')
	}
	w.buf = append(w.buf, `"properties":{`...)
}

// BeginNamed starts a feature whose id is a text.
func (w *Writer) BeginNamed(id string) {
	w.begin()
	w.buf = append(AppendText(append(w.buf, `"id":`...), id), `,"properties":{`...)
}

func (w *Writer) begin() {
	w.buf, w.props = w.buf[:0], 0
	if w.features > 0 {
		w.buf = append(w.buf, ',')
	}
	w.buf = append(w.buf, '\n')
	w.buf = append(w.buf, `{"type":"Feature",`...)
}

func (w *Writer) name(name string) {
	if w.props > 0 {
		w.buf = append(w.buf, ',')
	}
	w.props++
	w.buf = append(AppendText(w.buf, name), ':')
}

// Text sets a property to a text.
func (w *Writer) Text(name, v string) {
	w.name(name)
	w.buf = AppendText(w.buf, v)
}

// Int sets a property to a whole number.
func (w *Writer) Int(name string, v int64) {
	w.name(name)
	w.buf = strconv.AppendInt(w.buf, v, 10)
}

// Float sets a property to a number, null where it is not finite.
func (w *Writer) Float(name string, v float64) {
	w.name(name)
	w.buf = AppendNumber(w.buf, v)
}

// Null sets a property to null.
func (w *Writer) Null(name string) {
	w.name(name)
	w.buf = append(w.buf, "null"...)
}

// JSON sets a property to a value that is JSON already.
func (w *Writer) JSON(name string, v []byte) {
	w.name(name)
	w.buf = append(w.buf, v...)
}

// End writes the feature with its geometry, nil for none.
func (w *Writer) End(g orb.Geometry) error {
	w.buf = append(w.buf, `},"geometry":`...)
	w.buf = AppendGeometry(w.buf, g)
	w.buf = append(w.buf, '}')
	w.features++
	if w.err == nil {
		_, w.err = w.w.Write(w.buf)
	}
	if w.err != nil {
		return fmt.Errorf("write feature %d: %w", w.features-1, w.err)
	}
	return nil
}

// Close ends the collection and gives what is buffered to the writer below.
func (w *Writer) Close() error {
	if w.err == nil {
		_, w.err = w.w.WriteString("\n]}\n")
	}
	if w.err == nil {
		w.err = w.w.Flush()
	}
	if w.err != nil {
		return fmt.Errorf("end the collection: %w", w.err)
	}
	return nil
}

// AppendGeometry writes a geometry as GeoJSON.
func AppendGeometry(dst []byte, g orb.Geometry) []byte {
	switch g := Cut(g).(type) {
	case orb.Point:
		return closeShape(appendPosition(openShape(dst, "Point"), g))
	case orb.MultiPoint:
		return closeShape(appendPositions(openShape(dst, "MultiPoint"), g))
	case orb.LineString:
		return closeShape(appendPositions(openShape(dst, "LineString"), g))
	case orb.MultiLineString:
		return closeShape(appendEach(openShape(dst, "MultiLineString"), g, func(dst []byte, l orb.LineString) []byte { return appendPositions(dst, l) }))
	case orb.Polygon:
		return closeShape(appendRings(openShape(dst, "Polygon"), g))
	case orb.MultiPolygon:
		return closeShape(appendEach(openShape(dst, "MultiPolygon"), g, appendRings))
	case orb.Collection:
		dst = append(dst, `{"type":"GeometryCollection","geometries":`...)
		return append(appendEach(dst, g, AppendGeometry), '}')
	}
	return append(dst, "null"...)
}

func openShape(dst []byte, kind string) []byte {
	dst = append(dst, `{"type":"`...)
	dst = append(dst, kind...)
	return append(dst, `","coordinates":`...)
}

func closeShape(dst []byte) []byte { return append(dst, '}') }

func appendEach[T any](dst []byte, items []T, one func([]byte, T) []byte) []byte {
	dst = append(dst, '[')
	for i, it := range items {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = one(dst, it)
	}
	return append(dst, ']')
}

func appendPositions(dst []byte, ps []orb.Point) []byte { return appendEach(dst, ps, appendPosition) }

func appendPosition(dst []byte, p orb.Point) []byte {
	dst = append(dst, '[')
	dst = appendCoordinate(dst, p[0])
	dst = append(dst, ',')
	dst = appendCoordinate(dst, p[1])
	return append(dst, ']')
}

// appendRings writes a polygon, the outer ring counter-clockwise, holes
// clockwise, each closed.
func appendRings(dst []byte, pg orb.Polygon) []byte {
	i := -1
	return appendEach(dst, pg, func(dst []byte, r orb.Ring) []byte {
		i++
		if len(r) > 0 && r[0] != r[len(r)-1] {
			r = append(r[:len(r):len(r)], r[0])
		}
		if len(r) > 0 && (signedArea(r) > 0) != (i == 0) {
			r = r.Clone()
			r.Reverse()
		}
		return appendPositions(dst, r)
	})
}

// appendCoordinate writes degrees to 8 places without needless zeros.
func appendCoordinate(dst []byte, v float64) []byte {
	const scale = 1e8
	if !(math.Abs(v) < 1e9) {
		return AppendNumber(dst, v)
	}
	n := int64(math.Round(v * scale))
	if n < 0 {
		dst = append(dst, '-')
		n = -n
	}
	dst = strconv.AppendInt(dst, n/scale, 10)
	frac := n % scale
	if frac == 0 {
		return dst
	}
	var digits [places]byte
	for i := places - 1; i >= 0; i-- {
		digits[i] = byte('0' + frac%10)
		frac /= 10
	}
	end := places
	for digits[end-1] == '0' {
		end--
	}
	return append(append(dst, '.'), digits[:end]...)
}

// AppendNumber writes a number as JSON with the fewest digits that give it
// back, null where it is not finite.
func AppendNumber(dst []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(dst, "null"...)
	}
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		return strconv.AppendFloat(dst, v, 'e', -1, 64)
	}
	return strconv.AppendFloat(dst, v, 'f', -1, 64)
}

// AppendText writes a text as JSON in quotes. Bytes that are not UTF-8 become
// U+FFFD.
func AppendText(dst []byte, text string) []byte {
	const hex = "0123456789abcdef"
	dst = append(dst, '"')
	for i := 0; i < len(text); {
		c := text[i]
		switch {
		case c == '"' || c == '\\':
			dst = append(dst, '\\', c)
		case c == '\n':
			dst = append(dst, '\\', 'n')
		case c == '\t':
			dst = append(dst, '\\', 't')
		case c == '\r':
			dst = append(dst, '\\', 'r')
		case c < 0x20:
			dst = append(dst, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		case c < utf8.RuneSelf:
			dst = append(dst, c)
		default:
			r, n := utf8.DecodeRuneInString(text[i:])
			dst = utf8.AppendRune(dst, r)
			i += n
			continue
		}
		i++
	}
	return append(dst, '"')
}
