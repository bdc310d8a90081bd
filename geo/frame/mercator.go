package frame

import "math"

// kruger holds what a transverse Mercator projection needs to know of an
// ellipsoid: Krüger's series in the third flattening n, to order 6. Source:
// C. F. F. Karney, Transverse Mercator with an accuracy of a few nanometers,
// Journal of Geodesy 85, 2011, 475-485, eqs. 12, 14, 35, 36 (the same series
// as IOGP Guidance Note 373-07-02, Transverse Mercator, carried two orders
// further). Good to 5 nm within 3900 km of the central meridian. Coefficients
// are written from memory; the tests hold them to PROJ's figures.
type kruger struct {
	e2, e  float64
	radius float64 // rectifying radius, m
	fwd    [6]float64
	inv    [6]float64
	lat    [6]float64 // latitude from conformal latitude
	e2m    float64    // 1 - e2
	ratio  float64    // rectifying over equatorial radius
}

// tmWGS84 serves every Frame; it is never changed.
var tmWGS84 = newKruger(WGS84)

func newKruger(el Ellipsoid) kruger {
	n := el.n()
	n2 := n * n
	n3, n4, n5, n6 := n2*n, n2*n2, n2*n2*n, n2*n2*n2
	k := kruger{e2: el.e2(), e: math.Sqrt(el.e2()), e2m: 1 - el.e2()}
	k.ratio = (1 + n2/4 + n4/64 + n6/256) / (1 + n)
	k.radius = el.A * k.ratio
	k.fwd = [6]float64{
		n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180 - 127*n5/288 + 7891*n6/37800,
		13*n2/48 - 3*n3/5 + 557*n4/1440 + 281*n5/630 - 1983433*n6/1935360,
		61*n3/240 - 103*n4/140 + 15061*n5/26880 + 167603*n6/181440,
		49561*n4/161280 - 179*n5/168 + 6601661*n6/7257600,
		34729*n5/80640 - 3418889*n6/1995840,
		212378941 * n6 / 319334400,
	}
	k.inv = [6]float64{
		n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
		n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
		17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
		4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
		4583*n5/161280 - 108847*n6/3991680,
		20648693 * n6 / 638668800,
	}
	// Latitude less conformal latitude: K. Kawase, A general formula for
	// calculating meridian arc length, Bulletin of the Geospatial Information
	// Authority of Japan 59, 2011, 1-13.
	k.lat = [6]float64{
		2*n - 2*n2/3 - 2*n3 + 116*n4/45 + 26*n5/45 - 2854*n6/675,
		7*n2/3 - 8*n3/5 - 227*n4/45 + 2704*n5/315 + 2323*n6/945,
		56*n3/15 - 136*n4/35 - 1262*n5/105 + 73814*n6/2835,
		4279*n4/630 - 332*n5/35 - 399572*n6/14175,
		4174*n5/315 - 144838*n6/6237,
		601676 * n6 / 22275,
	}
	return k
}

// conformal gives the tangent of the conformal latitude from the tangent of
// the latitude (Karney 2011, eqs. 7 to 9).
func conformal(tau, e float64) float64 {
	sec := math.Hypot(1, tau)
	sigma := math.Sinh(e * math.Atanh(e*tau/sec))
	return tau*math.Hypot(1, sigma) - sigma*sec
}

// geodetic is the inverse of conformal by Newton's method (Karney 2011, eqs.
// 19 to 21); it settles in two or three steps.
func geodetic(taup, e float64) float64 {
	e2m := 1 - e*e
	tau := taup / e2m
	if !(math.Abs(tau) < 1e8) { // at a pole; also leaves NaN alone
		return tau
	}
	for range 6 {
		t := conformal(tau, e)
		d := (taup - t) / math.Hypot(1, t) * (1 + e2m*tau*tau) / (e2m * math.Hypot(1, tau))
		tau += d
		if !(math.Abs(d) > 1e-15*max(1, math.Abs(tau))) {
			break
		}
	}
	return tau
}

// meridian is the distance in metres along the meridian from the equator.
func (k *kruger) meridian(lat float64) float64 {
	_, y := k.forward(0, lat)
	return y
}

// forward gives metres at scale 1 from the central meridian and the equator
// for a longitude difference and a latitude in degrees.
func (k *kruger) forward(dlon, lat float64) (x, y float64) {
	sphi, cphi := sinCosDeg(lat)
	slam, clam := sinCosDeg(dlon)
	taup := conformal(sphi/cphi, k.e)
	if cphi == 0 {
		taup = math.Copysign(math.MaxFloat64, sphi)
	}
	xi := math.Atan2(taup, clam)
	eta := math.Asinh(slam / math.Hypot(taup, clam))
	dxi, deta := series(&k.fwd, xi, eta)
	return k.radius * (eta + deta), k.radius * (xi + dxi)
}

// inverse is the way back from forward.
func (k *kruger) inverse(x, y float64) (dlon, lat float64) {
	xi, eta := y/k.radius, x/k.radius
	dxi, deta := series(&k.inv, xi, eta)
	xi, eta = xi-dxi, eta-deta
	sxi, cxi := math.Sincos(xi)
	seta := math.Sinh(eta)
	r := math.Hypot(seta, cxi)
	return atan2Deg(seta, cxi), (math.Atan2(sxi, r) + k.toLatitude(sxi, r)) / degree
}

// toLatitude is the latitude less the conformal latitude, whose sine and cosine
// are as s to c, in radians.
func (k *kruger) toLatitude(s, c float64) float64 {
	h2 := s*s + c*c
	s2, c2 := 2*s*c/h2, 2*(c-s)*(c+s)/h2
	var b1, b2 float64
	for j := len(k.lat) - 1; j >= 0; j-- {
		b1, b2 = c2*b1-b2+k.lat[j], b1
	}
	return s2 * b1
}

// series sums c[j] sin(2(j+1)z) over complex z = xi + i eta by Clenshaw's rule.
func series(c *[6]float64, xi, eta float64) (re, im float64) {
	s, co := math.Sincos(2 * xi)
	sh, ch := math.Sinh(2*eta), math.Cosh(2*eta)
	ar, ai := 2*co*ch, -2*s*sh // 2 cos 2z
	var b1r, b1i, b2r, b2i float64
	for j := len(c) - 1; j >= 0; j-- {
		br := ar*b1r - ai*b1i - b2r + c[j]
		bi := ar*b1i + ai*b1r - b2i
		b2r, b2i, b1r, b1i = b1r, b1i, br, bi
	}
	sr, si := s*ch, co*sh // sin 2z
	return sr*b1r - si*b1i, sr*b1i + si*b1r
}

// factors gives the convergence (bearing of grid north, degrees clockwise from
// true north) and the point scale at scale 1 (Karney 2011, eqs. 23 to 28).
func (k *kruger) factors(dlon, lat float64) (convergence, scale float64) {
	sphi, cphi := sinCosDeg(lat)
	slam, clam := sinCosDeg(dlon)
	tau := sphi / cphi
	taup := conformal(tau, k.e)
	xi := math.Atan2(taup, clam)
	eta := math.Asinh(slam / math.Hypot(taup, clam))
	p, q := 1.0, 0.0
	for j, a := range k.fwd {
		m := 2 * float64(j+1)
		s, c := math.Sincos(m * xi)
		p += m * a * c * math.Cosh(m*eta)
		q -= m * a * s * math.Sinh(m*eta)
	}
	convergence = atan2Deg(slam*taup, clam*math.Hypot(1, taup)) - atan2Deg(q, p)
	scale = k.ratio * math.Sqrt(k.e2m+k.e2*cphi*cphi) * math.Hypot(1, tau) /
		math.Hypot(taup, clam) * math.Hypot(p, q)
	return convergence, scale
}
