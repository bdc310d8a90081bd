package frame

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// CRS is a public coordinate system in which files come. Positions are always
// x first: easting before northing, longitude before latitude, as files hold
// them, whatever the axis order of the authority.
type CRS struct {
	Code       int // EPSG code
	Name       string
	Datum      Datum
	Unit       string     // "degree", "metre", "foot" or "US survey foot"
	UnitM      float64    // metres in a unit; 0 for degrees
	Projection Projection // in metres; nil for degrees
}

// WGS84LonLat is EPSG:4326 with longitude first: what is stored and sent.
var WGS84LonLat = CRS{Code: 4326, Name: "WGS 84", Datum: datumWGS84, Unit: "degree"}

// ErrOutside says that numbers are no place in the system they are said to be
// in.
var ErrOutside = errors.New("not a place in this coordinate system")

// UnknownCRSError says that a system is not supported, and which are.
type UnknownCRSError struct {
	Given string // as it was written
}

func (e *UnknownCRSError) Error() string {
	return fmt.Sprintf("coordinate system %s is not supported; supported are %s; convert the file to longitude and latitude (EPSG:4326)",
		e.Given, strings.Join(Supported(), ", "))
}

// Geographic tells whether positions are degrees.
func (c CRS) Geographic() bool { return c.Projection == nil }

// Forward gives the position in the system's own units of a place in degrees
// on the system's own datum.
func (c CRS) Forward(p orb.Point) (x, y float64) {
	if c.Geographic() {
		return p[0], p[1]
	}
	x, y = c.Projection.Forward(p)
	return x / c.UnitM, y / c.UnitM
}

// Inverse gives the place in degrees on the system's own datum of a position in
// its own units. Numbers that are no place in the system are ErrOutside.
func (c CRS) Inverse(x, y float64) (orb.Point, error) {
	if c.Geographic() {
		if err := CheckLonLat(orb.Point{x, y}); err != nil {
			return orb.Point{}, err
		}
		return orb.Point{x, y}, nil
	}
	p := c.Projection.Inverse(x*c.UnitM, y*c.UnitM)
	bx, by := c.Forward(p)
	part, ok := c.Projection.(interface{ covers(orb.Point) bool })
	if ok && !part.covers(p) || !(math.Abs(bx-x)*c.UnitM <= 1e-3 && math.Abs(by-y)*c.UnitM <= 1e-3) || CheckLonLat(p) != nil {
		return orb.Point{}, fmt.Errorf("%v %v in EPSG:%d (%s): %w", x, y, c.Code, c.Name, ErrOutside)
	}
	return p, nil
}

// ToWGS84 gives the place in degrees on WGS 84 of a position in the system's
// own units. What that takes for granted of the datum is Datum.Assumed.
func (c CRS) ToWGS84(x, y float64) (orb.Point, error) {
	p, err := c.Inverse(x, y)
	if err != nil {
		return orb.Point{}, err
	}
	if c.Datum.Shift == (Helmert{}) {
		return p, nil // another ellipsoid alone moves nothing: latitudes are taken as equal
	}
	return c.Datum.Shift.Apply(p, c.Datum.Ellipsoid, WGS84), nil
}

// FromWGS84 is the way back from ToWGS84.
func (c CRS) FromWGS84(p orb.Point) (x, y float64) {
	if c.Datum.Shift != (Helmert{}) {
		p = c.Datum.Shift.Undo(p, WGS84, c.Datum.Ellipsoid)
	}
	return c.Forward(p)
}

// ParseCRS finds the system that a file names: "EPSG:32632", the urn and http
// forms of OGC names, "CRS84", or a bare code. An empty name is refused: a
// system is never guessed.
func ParseCRS(name string) (CRS, error) {
	s := strings.ToUpper(strings.TrimSpace(name))
	parts := strings.FieldsFunc(s, func(r rune) bool { return r == ':' || r == '/' })
	if len(parts) == 0 {
		return CRS{}, &UnknownCRSError{Given: strconv.Quote(name)}
	}
	last := parts[len(parts)-1]
	if last == "CRS84" {
		return WGS84LonLat, nil
	}
	code, err := strconv.Atoi(last)
	if err != nil || len(parts) > 1 && !strings.Contains(s, "EPSG") {
		return CRS{}, &UnknownCRSError{Given: strconv.Quote(name)}
	}
	return EPSG(code)
}
