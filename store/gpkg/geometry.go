package gpkg

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/ncruces/go-sqlite3"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// The standard's geometry blob (OGC 12-128, clause 2.1.3): "GP", version 0,
// flags, srs id, envelope if the flags say so, then WKB.
const (
	wgs84       = 4326
	headSize    = 8
	flagLittle  = 1
	flagEmpty   = 1 << 4
	envelopeXY  = 1 << 1
	envelopeLen = 32
	pointSize   = headSize + 21
)

var errGeometry = errors.New("not a GeoPackage geometry")

// appendPoint appends the blob of a point.
func appendPoint(dst []byte, p orb.Point) []byte {
	dst = append(dst, 'G', 'P', 0, flagLittle)
	dst = binary.LittleEndian.AppendUint32(dst, wgs84)
	dst = append(dst, 1, 1, 0, 0, 0)
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(p[0]))
	return binary.LittleEndian.AppendUint64(dst, math.Float64bits(p[1]))
}

// shape gives the blob of a line or polygon with its envelope, nil where there
// is nothing to draw.
func shape(g orb.Geometry) ([]byte, error) {
	switch v := g.(type) {
	case orb.MultiPolygon:
		if len(v) == 0 {
			return nil, nil
		}
	case orb.MultiLineString:
		if len(v) == 0 {
			return nil, nil
		}
	}
	body, err := wkb.Marshal(g, binary.LittleEndian)
	if err != nil {
		return nil, fmt.Errorf("geometry: %w", err)
	}
	b := g.Bound()
	for _, v := range [...]float64{b.Min[0], b.Max[0], b.Min[1], b.Max[1]} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, errors.New("geometry: a coordinate is not a number")
		}
	}
	out := make([]byte, 0, headSize+envelopeLen+len(body))
	out = append(out, 'G', 'P', 0, flagLittle|envelopeXY)
	out = binary.LittleEndian.AppendUint32(out, wgs84)
	for _, v := range [...]float64{b.Min[0], b.Max[0], b.Min[1], b.Max[1]} {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(v))
	}
	return append(out, body...), nil
}

// wkbOf gives the WKB inside a blob.
func wkbOf(blob []byte) ([]byte, error) {
	if len(blob) < headSize || blob[0] != 'G' || blob[1] != 'P' || blob[2] != 0 {
		return nil, errGeometry
	}
	size, ok := envelopeSize(blob[3])
	if !ok || len(blob) < headSize+size {
		return nil, errGeometry
	}
	return blob[headSize+size:], nil
}

func envelopeSize(flags byte) (int, bool) {
	switch flags >> 1 & 7 {
	case 0:
		return 0, true
	case 1:
		return 32, true
	case 2, 3:
		return 48, true
	case 4:
		return 64, true
	}
	return 0, false
}

// readPoint reads a point's blob, in the form this package writes or any other.
func readPoint(blob []byte) (orb.Point, error) {
	if len(blob) == pointSize && blob[3] == flagLittle && blob[8] == 1 && blob[9] == 1 {
		return orb.Point{
			math.Float64frombits(binary.LittleEndian.Uint64(blob[13:])),
			math.Float64frombits(binary.LittleEndian.Uint64(blob[21:])),
		}, nil
	}
	g, err := readShape(blob)
	if err != nil {
		return orb.Point{}, err
	}
	p, ok := g.(orb.Point)
	if !ok {
		return orb.Point{}, fmt.Errorf("%w: a %s where a point belongs", errGeometry, g.GeoJSONType())
	}
	return p, nil
}

func readShape(blob []byte) (orb.Geometry, error) {
	body, err := wkbOf(blob)
	if err != nil {
		return nil, err
	}
	g, err := wkb.Unmarshal(body)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errGeometry, err)
	}
	return g, nil
}

func readOutline(blob []byte) (orb.MultiPolygon, error) {
	if len(blob) == 0 {
		return nil, nil
	}
	g, err := readShape(blob)
	if err != nil {
		return nil, err
	}
	switch v := g.(type) {
	case orb.MultiPolygon:
		return v, nil
	case orb.Polygon:
		return orb.MultiPolygon{v}, nil
	}
	return nil, fmt.Errorf("%w: a %s where a polygon belongs", errGeometry, g.GeoJSONType())
}

func readLines(blob []byte) (orb.MultiLineString, error) {
	if len(blob) == 0 {
		return nil, nil
	}
	g, err := readShape(blob)
	if err != nil {
		return nil, err
	}
	switch v := g.(type) {
	case orb.MultiLineString:
		return v, nil
	case orb.LineString:
		return orb.MultiLineString{v}, nil
	}
	return nil, fmt.Errorf("%w: a %s where a line belongs", errGeometry, g.GeoJSONType())
}

// boundOf gives the bounds of a blob; ok is false where it is empty, broken or
// has a coordinate that is not a number.
func boundOf(blob []byte) (b orb.Bound, ok bool) {
	if len(blob) < headSize || blob[3]&flagEmpty != 0 {
		return orb.Bound{}, false
	}
	if len(blob) == pointSize {
		p, err := readPoint(blob)
		if err != nil {
			return orb.Bound{}, false
		}
		b = p.Bound()
	} else {
		g, err := readShape(blob)
		if err != nil {
			return orb.Bound{}, false
		}
		b = g.Bound()
	}
	return b, b.Min[0] <= b.Max[0] && b.Min[1] <= b.Max[1]
}

// registerGeometry gives a connection the five functions that the standard's
// R*Tree triggers call.
func registerGeometry(c *sqlite3.Conn) error {
	empty := func(ctx sqlite3.Context, arg ...sqlite3.Value) {
		blob := arg[0].RawBlob()
		if blob == nil {
			ctx.ResultNull()
			return
		}
		_, ok := boundOf(blob)
		ctx.ResultBool(!ok)
	}
	err := c.CreateFunction("ST_IsEmpty", 1, pure, empty)
	for name, pick := range map[string]func(orb.Bound) float64{
		"ST_MinX": func(b orb.Bound) float64 { return b.Min[0] },
		"ST_MaxX": func(b orb.Bound) float64 { return b.Max[0] },
		"ST_MinY": func(b orb.Bound) float64 { return b.Min[1] },
		"ST_MaxY": func(b orb.Bound) float64 { return b.Max[1] },
	} {
		if err != nil {
			break
		}
		err = c.CreateFunction(name, 1, pure, func(ctx sqlite3.Context, arg ...sqlite3.Value) {
			b, ok := boundOf(arg[0].RawBlob())
			if !ok {
				ctx.ResultNull()
				return
			}
			ctx.ResultFloat(pick(b))
		})
	}
	if err != nil {
		return fmt.Errorf("register geometry functions: %w", err)
	}
	return nil
}

const pure = sqlite3.DETERMINISTIC | sqlite3.INNOCUOUS
