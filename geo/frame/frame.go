// Package frame turns longitude and latitude into metres and back, and measures
// on the ground.
//
// Three things live here. A Frame is a block's own metric plane: a transverse
// Mercator projection of the WGS 84 ellipsoid centred on the block, scale 1, so
// that a tape laid in the block and a length in the plane agree to a millimetre
// over 5 km. A CRS is one of the public coordinate systems that survey files
// come in, by EPSG code, with its datum stated. An Ellipsoid measures geodesic
// distances, bearings and areas without any plane.
//
// Degrees are always an orb.Point, longitude first (EPSG:4326 unless a CRS says
// otherwise). Metres in a frame are always an XY, x to the east and y to the
// north. No function takes both kinds in one argument type, so that they cannot
// be mixed up.
package frame

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// XY is a place in a plane: metres east (X) and north (Y) of its origin.
type XY struct{ X, Y float64 }

// Frame is a block's own metric plane. It is a small value; copy it freely. The
// zero Frame is centred on 0° E 0° N.
//
// East and west of the origin lengths are too long by x²/2R²: 0.03 mm in 100 m
// at 5 km, 1.2 mm in 1 km at 10 km; north and south they are true.
type Frame struct {
	lon0, lat0 float64 // degrees
	y0         float64 // metres from the equator to the origin
}

// New gives the frame centred on the origin (degrees, WGS 84). The longitude
// may be any; it is brought into (-180, 180]. A latitude beyond a pole or a
// number that is not finite gives a frame that answers NaN: ForGeometry checks
// first.
func New(origin orb.Point) Frame {
	f := Frame{lon0: normLon(origin[0]), lat0: origin[1]}
	f.y0 = tmWGS84.meridian(f.lat0)
	return f
}

// For gives the frame centred on a bound in degrees. A bound whose western edge
// lies east of its eastern one (RFC 7946 section 5.2), or that is wider than
// half the globe, is taken to lie across the 180th meridian.
func For(b orb.Bound) Frame {
	west, east := b.Min[0], b.Max[0]
	if west > east {
		east += 360
	} else if east-west > 180 {
		west, east = east, west+360
	}
	return New(orb.Point{(west + east) / 2, (b.Min[1] + b.Max[1]) / 2})
}

// ErrNoPlace says that a geometry has no coordinates to centre a frame on.
var ErrNoPlace = errors.New("no coordinates")

// ErrLonLat says that a number cannot be a longitude or a latitude.
var ErrLonLat = errors.New("not a longitude and latitude in degrees")

// ForGeometry gives the frame centred on the middle of a geometry's bounds in
// degrees, also across the 180th meridian, and whether each longitude is
// written within ±180 or beyond. It refuses a geometry without coordinates
// (ErrNoPlace) and coordinates out of range or not finite (ErrLonLat).
func ForGeometry(g orb.Geometry) (Frame, error) {
	var w window
	if err := w.geometry(g); err != nil {
		return Frame{}, fmt.Errorf("centre a frame: %w", err)
	}
	if w.n == 0 {
		return Frame{}, fmt.Errorf("centre a frame: %w", ErrNoPlace)
	}
	return New(orb.Point{w.ref + (w.west+w.east)/2, (w.south + w.north) / 2}), nil
}

// CheckLonLat refuses (ErrLonLat) numbers that are not finite or out of range.
// Longitudes up to ±540 pass: some writers go on past 180 for ground that lies
// across that meridian.
func CheckLonLat(p orb.Point) error {
	if !(math.Abs(p[0]) <= 540) {
		return fmt.Errorf("longitude %v: %w", p[0], ErrLonLat)
	}
	if !(math.Abs(p[1]) <= 90) {
		return fmt.Errorf("latitude %v: %w", p[1], ErrLonLat)
	}
	return nil
}

// Origin is the frame's centre in degrees.
func (f Frame) Origin() orb.Point { return orb.Point{f.lon0, f.lat0} }

// Forward gives the metres east and north of the origin of a place in degrees.
func (f Frame) Forward(p orb.Point) (x, y float64) {
	x, y = tmWGS84.forward(lonDiff(f.lon0, p[0]), p[1])
	return x, y - f.y0
}

// Inverse gives the place in degrees of metres east and north of the origin.
func (f Frame) Inverse(x, y float64) orb.Point {
	dlon, lat := tmWGS84.inverse(x, y+f.y0)
	return orb.Point{normLon(f.lon0 + dlon), lat}
}

// XY is Forward as one value.
func (f Frame) XY(p orb.Point) XY {
	x, y := f.Forward(p)
	return XY{x, y}
}

// LonLat is Inverse of one value.
func (f Frame) LonLat(p XY) orb.Point { return f.Inverse(p.X, p.Y) }

// Line brings a line in degrees into the frame.
func (f Frame) Line(ls orb.LineString) Line {
	out := make(Line, len(ls))
	for i, p := range ls {
		out[i] = f.XY(p)
	}
	return out
}

// LineString brings a line in the frame back to degrees.
func (f Frame) LineString(l Line) orb.LineString {
	out := make(orb.LineString, len(l))
	for i, p := range l {
		out[i] = f.LonLat(p)
	}
	return out
}

// Polygon brings a polygon in degrees into the frame.
func (f Frame) Polygon(pg orb.Polygon) Polygon {
	out := make(Polygon, len(pg))
	for i, r := range pg {
		out[i] = Ring(f.Line(orb.LineString(r)))
	}
	return out
}

// MultiPolygon brings polygons in degrees into the frame.
func (f Frame) MultiPolygon(mp orb.MultiPolygon) MultiPolygon {
	out := make(MultiPolygon, len(mp))
	for i, pg := range mp {
		out[i] = f.Polygon(pg)
	}
	return out
}

// normLon brings a longitude into (-180, 180].
func normLon(lon float64) float64 {
	if lon > -180 && lon <= 180 {
		return lon
	}
	lon = math.Remainder(lon, 360)
	if lon == -180 {
		return 180
	}
	return lon
}

// lonDiff is how far lon lies east of lon0, in [-180, 180]. For two ordinary
// longitudes close to each other the subtraction is exact.
func lonDiff(lon0, lon float64) float64 {
	d := lon - lon0
	if d >= -180 && d <= 180 {
		return d
	}
	return math.Remainder(d, 360)
}

// window gathers the bounds of coordinates as differences from the first
// longitude, so that ground across the 180th meridian stays together.
type window struct {
	n                        int
	ref                      float64
	west, east, south, north float64
}

func (w *window) point(p orb.Point) error {
	if err := CheckLonLat(p); err != nil {
		return err
	}
	if w.n == 0 {
		w.ref, w.south, w.north = p[0], p[1], p[1]
	}
	d := lonDiff(w.ref, p[0])
	w.west, w.east = min(w.west, d), max(w.east, d)
	w.south, w.north = min(w.south, p[1]), max(w.north, p[1])
	w.n++
	return nil
}

func (w *window) geometry(g orb.Geometry) error {
	return EachPoint(g, w.point)
}

// EachPoint calls do with every position of a geometry in the order written,
// until do gives an error, which it returns. Nothing happens for nil.
func EachPoint(g orb.Geometry, do func(orb.Point) error) error {
	points := func(ps []orb.Point) error {
		for _, p := range ps {
			if err := do(p); err != nil {
				return err
			}
		}
		return nil
	}
	switch g := g.(type) {
	case nil:
		return nil
	case orb.Point:
		return do(g)
	case orb.MultiPoint:
		return points(g)
	case orb.LineString:
		return points(g)
	case orb.Ring:
		return points(g)
	case orb.MultiLineString:
		return eachOf(g, do)
	case orb.Polygon:
		return eachOf(g, do)
	case orb.MultiPolygon:
		return eachOf(g, do)
	case orb.Collection:
		return eachOf(g, do)
	case orb.Bound:
		return points([]orb.Point{g.Min, g.Max})
	}
	return fmt.Errorf("geometry %T: %w", g, ErrNoPlace)
}

func eachOf[G orb.Geometry](parts []G, do func(orb.Point) error) error {
	for _, g := range parts {
		if err := EachPoint(g, do); err != nil {
			return err
		}
	}
	return nil
}
