package frame

import "math"

// Ellipsoid is a figure of the Earth: equatorial radius in metres and inverse
// flattening.
type Ellipsoid struct {
	Name string
	A    float64 // equatorial radius, m
	InvF float64 // 1/f
}

// The ellipsoids of the systems in the list of CRS, as given in the EPSG
// geodetic parameter data set.
var (
	WGS84      = Ellipsoid{"WGS 84", 6378137, 298.257223563}
	GRS80      = Ellipsoid{"GRS 1980", 6378137, 298.257222101}
	Airy1830   = Ellipsoid{"Airy 1830", 6377563.396, 299.3249646}
	Clarke1866 = Ellipsoid{"Clarke 1866", 6378206.4, 294.978698213898} // from b = 6356583.8 m
)

func (e Ellipsoid) f() float64  { return 1 / e.InvF }
func (e Ellipsoid) e2() float64 { f := e.f(); return f * (2 - f) }
func (e Ellipsoid) n() float64  { f := e.f(); return f / (2 - f) }
func (e Ellipsoid) b() float64  { return e.A * (1 - e.f()) }

const (
	degree = math.Pi / 180
	arcsec = degree / 3600
)

// sinCosDeg gives sine and cosine of an angle in degrees, exact at multiples
// of 90.
func sinCosDeg(d float64) (sin, cos float64) {
	q := math.Round(d / 90)
	r := (d - 90*q) * degree
	s, c := math.Sincos(r)
	switch int64(q) & 3 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}

// atan2Deg is math.Atan2 in degrees, accurate near the axes.
func atan2Deg(y, x float64) float64 {
	q := 0
	if math.Abs(y) > math.Abs(x) {
		x, y, q = y, x, 2
	}
	if x < 0 {
		x, q = -x, q+1
	}
	a := math.Atan2(y, x) / degree
	switch q {
	case 1:
		return math.Copysign(180, y) - a
	case 2:
		return 90 - a
	case 3:
		return -90 + a
	}
	return a
}
