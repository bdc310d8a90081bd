package frame

import (
	"math"

	"github.com/paulmach/orb"
)

// Projection turns degrees on its own datum into metres of its grid and back.
// Values that it cannot project come out as NaN or infinite, never as a panic.
type Projection interface {
	Forward(p orb.Point) (east, north float64)
	Inverse(east, north float64) orb.Point
}

// TransverseMercator is the transverse Mercator projection with any parameters.
type TransverseMercator struct {
	lon0, k0, fe, n0 float64
	series           kruger
}

// NewTransverseMercator makes a transverse Mercator projection: latitude and
// longitude of the origin in degrees, scale there, false easting and northing
// in metres.
func NewTransverseMercator(el Ellipsoid, lat0, lon0, k0, falseEast, falseNorth float64) *TransverseMercator {
	t := &TransverseMercator{lon0: lon0, k0: k0, fe: falseEast, series: newKruger(el)}
	t.n0 = falseNorth - k0*t.series.meridian(lat0)
	return t
}

// UTM is the Universal Transverse Mercator projection of a zone, 1 to 60.
func UTM(el Ellipsoid, utmZone int, south bool) *TransverseMercator {
	north := 0.0
	if south {
		north = 10000000
	}
	return NewTransverseMercator(el, 0, float64(6*utmZone-183), 0.9996, 500000, north)
}

// Forward gives easting and northing, m.
func (t *TransverseMercator) Forward(p orb.Point) (east, north float64) {
	x, y := t.series.forward(lonDiff(t.lon0, p[0]), p[1])
	return t.fe + t.k0*x, t.n0 + t.k0*y
}

// Inverse gives the place of an easting and a northing.
func (t *TransverseMercator) Inverse(east, north float64) orb.Point {
	dlon, lat := t.series.inverse((east-t.fe)/t.k0, (north-t.n0)/t.k0)
	return orb.Point{normLon(t.lon0 + dlon), lat}
}

// covers tells whether a place is near enough to the central meridian for the
// series: beyond 60° there is no map, and places past the poles come back there.
func (t *TransverseMercator) covers(p orb.Point) bool {
	return math.Abs(lonDiff(t.lon0, p[0])) <= 60
}

// Factors gives the convergence (bearing of grid north in degrees clockwise
// from true north; Australian manuals give the opposite sign) and the point
// scale at a place.
func (t *TransverseMercator) Factors(p orb.Point) (convergenceDeg, scale float64) {
	c, k := t.series.factors(lonDiff(t.lon0, p[0]), p[1])
	return c, k * t.k0
}

// LambertConic is the Lambert conformal conic projection (IOGP Guidance Note
// 373-07-02, methods 9801 and 9802; J. P. Snyder, Map Projections, USGS
// Professional Paper 1395, 1987, pp. 107-109).
type LambertConic struct {
	lon0, fe, fn float64
	e, e2, a     float64
	n, scale     float64 // cone constant; a·F·k0
	rho0         float64
}

// NewLambert1SP makes a Lambert conformal conic projection with one standard
// parallel, the latitude of the origin, and the scale there. Degrees and metres.
func NewLambert1SP(el Ellipsoid, lat0, lon0, k0, falseEast, falseNorth float64) *LambertConic {
	l := &LambertConic{lon0: lon0, fe: falseEast, fn: falseNorth, e: math.Sqrt(el.e2()), e2: el.e2(), a: el.A}
	l.n = math.Sin(lat0 * degree)
	l.cone(lat0, lat0, k0)
	return l
}

// NewLambert2SP makes a Lambert conformal conic projection that is true to
// scale on two parallels. Degrees and metres.
func NewLambert2SP(el Ellipsoid, lat1, lat2, lat0, lon0, falseEast, falseNorth float64) *LambertConic {
	l := &LambertConic{lon0: lon0, fe: falseEast, fn: falseNorth, e: math.Sqrt(el.e2()), e2: el.e2(), a: el.A}
	if lat1 == lat2 {
		l.n = math.Sin(lat1 * degree)
	} else {
		l.n = (math.Log(l.parallel(lat1)) - math.Log(l.parallel(lat2))) / (l.psi(lat2) - l.psi(lat1))
	}
	l.cone(lat1, lat0, 1)
	return l
}

// parallel is the radius of the parallel over the equatorial radius.
func (l *LambertConic) parallel(lat float64) float64 {
	s, c := sinCosDeg(lat)
	return c / math.Sqrt(1-l.e2*s*s)
}

// psi is the isometric latitude, the asinh of the conformal latitude's tangent.
func (l *LambertConic) psi(lat float64) float64 {
	s, c := sinCosDeg(lat)
	return math.Asinh(conformal(s/c, l.e))
}

func (l *LambertConic) cone(lat1, lat0, k0 float64) {
	l.scale = l.a * k0 * l.parallel(lat1) / l.n * math.Exp(l.n*l.psi(lat1))
	l.rho0 = l.rho(lat0)
}

func (l *LambertConic) rho(lat float64) float64 {
	return l.scale * math.Exp(-l.n*l.psi(lat))
}

// Forward gives easting and northing, m.
func (l *LambertConic) Forward(p orb.Point) (east, north float64) {
	rho := l.rho(p[1])
	s, c := math.Sincos(l.n * lonDiff(l.lon0, p[0]) * degree)
	return l.fe + rho*s, l.fn + l.rho0 - rho*c
}

// Inverse gives the place of an easting and a northing.
func (l *LambertConic) Inverse(east, north float64) orb.Point {
	x, y := east-l.fe, l.rho0-(north-l.fn)
	if l.n < 0 {
		x, y = -x, -y
	}
	theta := math.Atan2(x, y)
	psi := -math.Log(math.Hypot(x, y)/math.Abs(l.scale)) / l.n
	return orb.Point{normLon(l.lon0 + theta/l.n/degree), math.Atan(geodetic(math.Sinh(psi), l.e)) / degree}
}

// Factors gives the convergence (bearing of grid north in degrees clockwise
// from true north) and the point scale at a place.
func (l *LambertConic) Factors(p orb.Point) (convergenceDeg, scale float64) {
	return l.n * lonDiff(l.lon0, p[0]), math.Abs(l.n) * math.Abs(l.rho(p[1])) / (l.a * l.parallel(p[1]))
}

// PseudoMercator is the projection of web maps, EPSG:3857 (IOGP Guidance Note
// 373-07-02, method 1024): the sphere's formulae on the ellipsoid's latitude.
// Lengths in it are not lengths on the ground.
type PseudoMercator struct{}

// Forward gives easting and northing, m.
func (PseudoMercator) Forward(p orb.Point) (east, north float64) {
	s, c := sinCosDeg(p[1])
	return WGS84.A * p[0] * degree, WGS84.A * math.Asinh(s/c)
}

// Inverse gives the place of an easting and a northing.
func (PseudoMercator) Inverse(east, north float64) orb.Point {
	return orb.Point{east / WGS84.A / degree, math.Atan(math.Sinh(north/WGS84.A)) / degree}
}
