package frame

import (
	"math"

	"github.com/paulmach/orb"
)

// Datum says on which realisation of the Earth a longitude and latitude stand.
// The same pair on two datums can be metres apart: more than a vine spacing.
type Datum struct {
	Name      string
	Code      int // EPSG code of its geographic system
	Ellipsoid Ellipsoid
	// Shift brings positions to WGS 84; the zero Helmert leaves them as they
	// are.
	Shift Helmert
	// Assumed says in words what Shift takes for granted, to be shown with
	// every import; "" for WGS 84 itself.
	Assumed string
	// AccuracyM is how far the answer may be off, m, as the EPSG data set
	// states it for the step taken.
	AccuracyM float64
}

// Convention tells which way the rotations of a Helmert transformation turn.
type Convention int

const (
	PositionVector  Convention = iota // EPSG method 9606
	CoordinateFrame                   // EPSG method 9607: all rotations of opposite sign
)

// Helmert is a 7-parameter transformation between datums (IOGP Guidance Note
// 373-07-02, section 4.3.3): metres, seconds of arc, parts per million.
type Helmert struct {
	TX, TY, TZ float64
	RX, RY, RZ float64
	PPM        float64
	Convention Convention
}

// The datums of the supported systems. Accuracies are those of EPSG's steps to
// WGS 84 (1150, 8450, 1565, 1671, 1149, 1188, 9774, 1314).
var (
	datumWGS84 = Datum{Name: "WGS 84", Code: 4326, Ellipsoid: WGS84}
	datumGDA94 = Datum{Name: "GDA94", Code: 4283, Ellipsoid: GRS80, AccuracyM: 3,
		Assumed: "GDA94 taken as WGS 84; positions from a phone or on GDA2020 lie 1.5 to 1.8 m to the north-north-east"}
	datumGDA2020 = Datum{Name: "GDA2020", Code: 7844, Ellipsoid: GRS80, AccuracyM: 3,
		Assumed: "GDA2020 taken as WGS 84; a map on GDA94 lies 1.5 to 1.8 m to the south-south-west"}
	datumNZGD2000 = Datum{Name: "NZGD2000", Code: 4167, Ellipsoid: GRS80, AccuracyM: 1,
		Assumed: "NZGD2000 taken as WGS 84"}
	datumRGF93 = Datum{Name: "RGF93", Code: 4171, Ellipsoid: GRS80, AccuracyM: 1,
		Assumed: "RGF93 taken as WGS 84"}
	datumETRS89 = Datum{Name: "ETRS89", Code: 4258, Ellipsoid: GRS80, AccuracyM: 1,
		Assumed: "ETRS89 taken as WGS 84"}
	datumNAD83 = Datum{Name: "NAD83", Code: 4269, Ellipsoid: GRS80, AccuracyM: 4,
		Assumed: "NAD83 taken as WGS 84; positions from a phone differ by 1 to 2 m"}
	datumNAD83of2011 = Datum{Name: "NAD83(2011)", Code: 6318, Ellipsoid: GRS80, AccuracyM: 2,
		Assumed: "NAD83(2011) taken as WGS 84; positions from a phone differ by 1 to 2 m"}
	datumOSGB36 = Datum{Name: "OSGB36", Code: 4277, Ellipsoid: Airy1830, AccuracyM: 2,
		Shift: Helmert{TX: 446.448, TY: -125.157, TZ: 542.06, RX: 0.15, RY: 0.247, RZ: 0.842, PPM: -20.489},
		Assumed: "OSGB36 brought to WGS 84 by seven parameters (EPSG 1314), good to about 2 m; " +
			"a survey transformed with the national grid file is better"}
)

// GDA94ToGDA2020 is EPSG transformation 8048 (GDA2020 Technical Manual, ICSM):
// 3 cm.
var GDA94ToGDA2020 = Helmert{
	TX: 0.06155, TY: -0.01087, TZ: -0.04019,
	RX: -0.0394924, RY: -0.0327221, RZ: -0.0328979,
	PPM: -0.009994, Convention: CoordinateFrame,
}

// Apply brings a place in degrees from one datum to another. Heights are taken
// as 0, which moves a place by less than a millimetre in vineyards.
func (h Helmert) Apply(p orb.Point, from, to Ellipsoid) orb.Point {
	if h == (Helmert{}) && from == to {
		return p
	}
	return to.geodetic(h.apply(from.geocentric(p)))
}

// Undo is the way back from Apply with the same arguments turned round: from is
// the ellipsoid that Apply led to.
func (h Helmert) Undo(p orb.Point, from, to Ellipsoid) orb.Point {
	if h == (Helmert{}) && from == to {
		return p
	}
	v := from.geocentric(p)
	m := 1 + h.PPM*1e-6
	u := [3]float64{(v[0] - h.TX) / m, (v[1] - h.TY) / m, (v[2] - h.TZ) / m}
	x := u
	for range 4 { // rotations are of the order 1e-6: settles at once
		t := h.turn(x)
		x = [3]float64{u[0] - t[0], u[1] - t[1], u[2] - t[2]}
	}
	return to.geodetic(x)
}

func (h Helmert) apply(v [3]float64) [3]float64 {
	m := 1 + h.PPM*1e-6
	t := h.turn(v)
	return [3]float64{
		h.TX + m*(v[0]+t[0]),
		h.TY + m*(v[1]+t[1]),
		h.TZ + m*(v[2]+t[2]),
	}
}

// turn is what the small rotations add to a position.
func (h Helmert) turn(v [3]float64) [3]float64 {
	rx, ry, rz := h.RX*arcsec, h.RY*arcsec, h.RZ*arcsec
	if h.Convention == CoordinateFrame {
		rx, ry, rz = -rx, -ry, -rz
	}
	return [3]float64{
		-rz*v[1] + ry*v[2],
		rz*v[0] - rx*v[2],
		-ry*v[0] + rx*v[1],
	}
}

// geocentric gives metres from the Earth's centre of a place at height 0.
func (e Ellipsoid) geocentric(p orb.Point) [3]float64 {
	sphi, cphi := sinCosDeg(p[1])
	slam, clam := sinCosDeg(p[0])
	nu := e.A / math.Sqrt(1-e.e2()*sphi*sphi)
	return [3]float64{nu * cphi * clam, nu * cphi * slam, nu * (1 - e.e2()) * sphi}
}

// geodetic gives the place of a geocentric position near the surface; its
// height is dropped. B. R. Bowring, Transformation from spatial to geographical
// coordinates, Survey Review 23, 1976, 323-327, iterated.
func (e Ellipsoid) geodetic(v [3]float64) orb.Point {
	p := math.Hypot(v[0], v[1])
	ratio := e.b() / e.A
	beta := math.Atan2(v[2], p*ratio)
	var phi float64
	for range 3 {
		s, c := math.Sincos(beta)
		phi = math.Atan2(v[2]+e.e2()/(1-e.e2())*e.b()*s*s*s, p-e.e2()*e.A*c*c*c)
		beta = math.Atan2(ratio*math.Sin(phi), math.Cos(phi))
	}
	return orb.Point{atan2Deg(v[1], v[0]), phi / degree}
}
