package frame

import (
	"math"

	"github.com/paulmach/orb"
)

// Geodesics on the ellipsoid after C. F. F. Karney, Algorithms for geodesics,
// Journal of Geodesy 87, 2013, 43-55 (doi 10.1007/s00190-012-0578-z), series to
// order 6: 15 nm anywhere, nearly antipodal places included.

// Geodesic is the shortest way between two places on an ellipsoid.
type Geodesic struct {
	Distance float64 // m
	Azimuth1 float64 // bearing at the first place, degrees clockwise from north, in [-180, 180]
	Azimuth2 float64 // bearing at the second place, going on in the same direction
}

// Inverse gives the geodesic from a to b, in degrees. Coincident places have
// distance 0 and, by convention, azimuth 180 in the north and 0 in the south.
func (e Ellipsoid) Inverse(a, b orb.Point) Geodesic {
	w := e.solver().inverse(a, b, false)
	return Geodesic{
		Distance: w.s12,
		Azimuth1: atan2Deg(w.salp1, w.calp1),
		Azimuth2: atan2Deg(w.salp2, w.calp2),
	}
}

// Distance is the length of the geodesic from a to b, m.
func (e Ellipsoid) Distance(a, b orb.Point) float64 {
	return e.solver().inverse(a, b, false).s12
}

// Direct gives the place at a distance in metres from a in the direction of the
// azimuth (degrees clockwise from north), and the bearing on arrival.
func (e Ellipsoid) Direct(a orb.Point, azimuthDeg, distance float64) (b orb.Point, azimuth2Deg float64) {
	return e.solver().direct(a, azimuthDeg, distance)
}

// Length is the length of a line in degrees, by geodesics, m.
func (e Ellipsoid) Length(ls orb.LineString) float64 {
	g := e.solver()
	var sum float64
	for i := 1; i < len(ls); i++ {
		sum += g.inverse(ls[i-1], ls[i], false).s12
	}
	return sum
}

// RingArea is the area in m² and the perimeter in m of a ring in degrees whose
// edges are geodesics. The area is positive for a counter-clockwise ring and
// is the smaller of the two that the ring bounds; a ring round a pole is taken
// to hold that pole. The last position may repeat the first or not. Fewer than
// three positions have no area.
func (e Ellipsoid) RingArea(r orb.Ring) (areaM2, perimeterM float64) {
	if n := len(r); n > 1 && r[0] == r[n-1] {
		r = r[:n-1]
	}
	if len(r) < 2 {
		return 0, 0
	}
	g := e.solver()
	var sum, lost, turn float64 // Kahan's sum: the parts are far larger than the area
	for i, j := 0, len(r)-1; i < len(r); i, j = i+1, i {
		w := g.inverse(r[j], r[i], true)
		perimeterM += w.s12
		turn += lonDiff(normLon(r[j][0]), normLon(r[i][0]))
		y := w.area - lost
		t := sum + y
		sum, lost = t, t-sum-y
	}
	if len(r) < 3 {
		return 0, perimeterM
	}
	sum = -sum // an edge going east has its area to the right
	if math.Abs(turn) > 180 {
		half := 2 * math.Pi * g.c2
		return math.Copysign(half-math.Abs(sum), turn), perimeterM
	}
	return sum, perimeterM
}

// PolygonArea is the area of the outer ring less the holes, m², whatever the
// directions of the rings.
func (e Ellipsoid) PolygonArea(pg orb.Polygon) float64 {
	var sum float64
	for i, r := range pg {
		a, _ := e.RingArea(r)
		if i == 0 {
			sum = math.Abs(a)
		} else {
			sum -= math.Abs(a)
		}
	}
	return sum
}

// MultiPolygonArea is the area of all the polygons, m².
func (e Ellipsoid) MultiPolygonArea(mp orb.MultiPolygon) float64 {
	var sum float64
	for _, pg := range mp {
		sum += e.PolygonArea(pg)
	}
	return sum
}

// solver holds what the series need to know of an ellipsoid.
type solver struct {
	a, f, f1, e2, ep2, b, c2 float64
	shortSig                 float64 // arc below which the first guess is exact enough
	a3                       [6]float64
	c3                       [6][6]float64 // c3[l][j] times eps^j, l from 1
	c4                       [6][6]float64 // c4[l][j] times eps^j, l from 0
}

// solverWGS84 serves most calls; it is never changed.
var solverWGS84 = newSolver(WGS84)

func (e Ellipsoid) solver() *solver {
	if e == WGS84 {
		return solverWGS84
	}
	return newSolver(e)
}

func newSolver(el Ellipsoid) *solver {
	f, n := el.f(), el.n()
	g := &solver{a: el.A, f: f, f1: 1 - f, e2: el.e2(), b: el.b()}
	g.ep2 = g.e2 / (g.f1 * g.f1)
	ecc := math.Sqrt(g.e2)
	g.c2 = (g.a*g.a + g.b*g.b*math.Atanh(ecc)/ecc) / 2 // eq. 60
	g.shortSig = 0.1 * rootEps / math.Sqrt(max(0.001, f)*min(1, 1-f/2)/2)
	g.a3 = seriesA3(n)
	g.c3 = seriesC3(n)
	g.c4 = seriesC4(n)
	return g
}

const (
	eps0    = 0x1p-52                 // spacing of numbers at 1
	rootEps = 0x1p-26                 // its root
	tiny    = 1.4916681462400413e-154 // root of the least normal number
)

// norm brings a sine and a cosine to length 1.
func norm(s, c float64) (float64, float64) {
	h := math.Hypot(s, c)
	return s / h, c / h
}

// coarse rounds an angle below 1/16° to the step that numbers have there
// (7e-18°), so that the least ones, of which products vanish, become 0.
func coarse(deg float64) float64 {
	const z = 1. / 16
	if a := math.Abs(deg); a < z {
		return math.Copysign(z-(z-a), deg)
	}
	return deg
}

// reduced gives sine and cosine of the reduced latitude of a latitude in
// degrees, and sqrt(1 + e'² sin²).
func (g *solver) reduced(lat float64) (sbet, cbet, dn float64) {
	s, c := sinCosDeg(coarse(lat))
	sbet, cbet = norm(g.f1*s, c)
	cbet = max(tiny, cbet)
	return sbet, cbet, math.Sqrt(1 + g.ep2*sbet*sbet)
}

// expansion gives the small parameter of a geodesic from cos of its azimuth at
// the equator (eqs. 9 and 16).
func (g *solver) expansion(calp0 float64) float64 {
	k2 := calp0 * calp0 * g.ep2
	return k2 / (2*(1+math.Sqrt(1+k2)) + k2)
}

// direct solves the direct problem (section 2 of the paper).
func (g *solver) direct(a orb.Point, azimuth, s12 float64) (orb.Point, float64) {
	salp1, calp1 := sinCosDeg(coarse(azimuth))
	sbet1, cbet1, _ := g.reduced(a[1])
	salp0, calp0 := salp1*cbet1, math.Hypot(calp1, salp1*sbet1)
	ssig1, csig1 := sbet1, cbet1*calp1
	if sbet1 == 0 && calp1 == 0 {
		csig1 = 1
	}
	somg1, comg1 := salp0*sbet1, csig1
	ssig1, csig1 = norm(ssig1, csig1)
	eps := g.expansion(calp0)
	a1, c1 := seriesA1(eps), seriesC1(eps)
	b11 := sinSeries(&c1, ssig1, csig1)
	s, c := math.Sincos(b11)
	stau1, ctau1 := ssig1*c+csig1*s, csig1*c-ssig1*s

	tau12 := s12 / (g.b * a1)
	s, c = math.Sincos(tau12)
	c1p := seriesC1p(eps)
	sig12 := tau12 + sinSeries(&c1p, stau1*c+ctau1*s, ctau1*c-stau1*s) + b11
	s, c = math.Sincos(sig12)
	ssig2, csig2 := ssig1*c+csig1*s, csig1*c-ssig1*s
	sbet2, cbet2 := calp0*ssig2, math.Hypot(salp0, calp0*csig2)
	if cbet2 == 0 { // at a pole
		cbet2, csig2 = tiny, tiny
	}
	somg2, comg2 := salp0*ssig2, csig2
	omg12 := math.Atan2(somg2*comg1-comg2*somg1, comg2*comg1+somg2*somg1)
	c3 := g.atC3(eps)
	lam12 := omg12 - g.f*salp0*g.atA3(eps)*
		(sig12+sinSeries(&c3, ssig2, csig2)-sinSeries(&c3, ssig1, csig1))
	return orb.Point{normLon(a[0] + lam12/degree), atan2Deg(sbet2, g.f1*cbet2)},
		atan2Deg(salp0, calp0*csig2)
}
