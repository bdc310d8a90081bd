package frame

import (
	"math"

	"github.com/paulmach/orb"
)

// way is a geodesic found: length, sines and cosines of the azimuths at both
// ends, and, if asked for, the area between it and the equator.
type way struct {
	s12                        float64
	salp1, calp1, salp2, calp2 float64
	area                       float64
}

// ends are the two ends of a geodesic brought to the paper's canonical
// position (eq. 44): the first in the south and the farther from the equator.
type ends struct {
	sbet1, cbet1, dn1, sbet2, cbet2, dn2 float64
	lam12, slam12, clam12                float64
	toGo                                 float64 // 180 - longitude difference, degrees
	pole                                 bool
}

// inverse solves the inverse problem (sections 3 to 6 of the paper).
func (g *solver) inverse(a, b orb.Point, area bool) way {
	lon12 := lonDiff(normLon(a[0]), normLon(b[0]))
	lonSign, latSign, swap := 1.0, -1.0, 1.0
	if lon12 < 0 {
		lonSign, lon12 = -1, -lon12
	}
	lon12 = coarse(lon12)
	lat1, lat2 := coarse(a[1]), coarse(b[1])
	if math.Abs(lat1) < math.Abs(lat2) {
		lat1, lat2, swap = lat2, lat1, -1
		lonSign = -lonSign
	}
	if lat1 < 0 {
		latSign = 1
	}
	p := g.ends(lat1*latSign, lat2*latSign, lon12)
	w, omg := g.solve(p)
	if area {
		w.area = swap * lonSign * latSign * g.areaUnder(p, w, omg)
	}
	if swap < 0 {
		w.salp1, w.salp2 = w.salp2, w.salp1
		w.calp1, w.calp2 = w.calp2, w.calp1
	}
	w.salp1, w.salp2 = w.salp1*swap*lonSign, w.salp2*swap*lonSign
	w.calp1, w.calp2 = w.calp1*swap*latSign, w.calp2*swap*latSign
	return w
}

func (g *solver) ends(lat1, lat2, lon12 float64) ends {
	p := ends{lam12: lon12 * degree, toGo: 180 - lon12, pole: lat1 == -90}
	p.slam12, p.clam12 = sinCosDeg(lon12)
	p.sbet1, p.cbet1, p.dn1 = g.reduced(lat1)
	p.sbet2, p.cbet2, p.dn2 = g.reduced(lat2)
	// Latitudes equal but for rounding are made equal, which the formulae need.
	if p.cbet1 < -p.sbet1 {
		if p.cbet2 == p.cbet1 {
			p.sbet2 = math.Copysign(p.sbet1, p.sbet2)
		}
	} else if math.Abs(p.sbet2) == -p.sbet1 {
		p.cbet2 = p.cbet1
	}
	return p
}

// omega is the longitude difference on the auxiliary sphere as the area needs
// it; meridian where it does not.
type omega struct {
	sin, cos float64
	meridian bool
}

func (g *solver) solve(p ends) (way, omega) {
	if p.pole || p.slam12 == 0 {
		if w, ok := g.alongMeridian(p); ok {
			return w, omega{meridian: true}
		}
	}
	if p.sbet1 == 0 && p.toGo >= g.f*180 { // along the equator
		s, c := math.Sincos(p.lam12 / g.f1)
		return way{s12: g.a * p.lam12, salp1: 1, salp2: 1}, omega{sin: s, cos: c}
	}
	w, sig12, dnm := g.start(p)
	if sig12 >= 0 { // short enough for the first guess
		w.s12 = sig12 * g.b * dnm
		s, c := math.Sincos(p.lam12 / (g.f1 * dnm))
		return w, omega{sin: s, cos: c}
	}
	return g.newton(p, w)
}

func (g *solver) alongMeridian(p ends) (way, bool) {
	w := way{salp1: p.slam12, calp1: p.clam12, calp2: 1}
	t := trial{ssig1: p.sbet1, csig1: w.calp1 * p.cbet1, ssig2: p.sbet2, csig2: p.cbet2}
	t.sig12 = math.Atan2(max(0, t.csig1*t.ssig2-t.ssig1*t.csig2), t.csig1*t.csig2+t.ssig1*t.ssig2)
	// The azimuth at the equator is 0 here, so that k² is e'² (eq. 9).
	s12, m12 := lengths(g.expansion(1), t, p)
	if t.sig12 >= 1 && m12 < 0 {
		return way{}, false // not the shortest: it passes a conjugate point
	}
	if t.sig12 < 3*tiny || t.sig12 < eps0 && (s12 < 0 || m12 < 0) {
		s12 = 0
	}
	w.s12 = s12 * g.b
	return w, true
}

// trial is a geodesic from the first end at a trial azimuth.
type trial struct {
	sig12, ssig1, csig1, ssig2, csig2 float64
	salp2, calp2                      float64
	eps, domg12                       float64
}

// lengths gives distance and reduced length over b (eqs. 7 and 38).
func lengths(eps float64, t trial, p ends) (s12, m12 float64) {
	a1, a2 := seriesA1(eps), seriesA2(eps)
	c1, c2 := seriesC1(eps), seriesC2(eps)
	b1 := sinSeries(&c1, t.ssig2, t.csig2) - sinSeries(&c1, t.ssig1, t.csig1)
	b2 := sinSeries(&c2, t.ssig2, t.csig2) - sinSeries(&c2, t.ssig1, t.csig1)
	j12 := (a1-a2)*t.sig12 + a1*b1 - a2*b2
	m12 = p.dn2*t.csig1*t.ssig2 - p.dn1*t.ssig1*t.csig2 - t.csig1*t.csig2*j12
	return a1 * (t.sig12 + b1), m12
}

// start gives a first guess of the azimuths (section 5 of the paper, appendix
// B for nearly antipodal places). For short ways the guess is the answer and
// sig12 its arc, else sig12 is -1.
func (g *solver) start(p ends) (w way, sig12, dnm float64) {
	sbet12 := p.sbet2*p.cbet1 - p.cbet2*p.sbet1
	cbet12 := p.cbet2*p.cbet1 + p.sbet2*p.sbet1
	sbet12a := p.sbet2*p.cbet1 + p.cbet2*p.sbet1
	short := cbet12 >= 0 && sbet12 < 0.5 && p.cbet2*p.lam12 < 0.5
	somg, comg := p.slam12, p.clam12
	if short {
		m := (p.sbet1 + p.sbet2) * (p.sbet1 + p.sbet2)
		m /= m + (p.cbet1+p.cbet2)*(p.cbet1+p.cbet2)
		dnm = math.Sqrt(1 + g.ep2*m)
		somg, comg = math.Sincos(p.lam12 / (g.f1 * dnm))
	}
	w.salp1 = p.cbet2 * somg
	if comg >= 0 {
		w.calp1 = sbet12 + p.cbet2*p.sbet1*somg*somg/(1+comg)
	} else {
		w.calp1 = sbet12a - p.cbet2*p.sbet1*somg*somg/(1-comg)
	}
	ssig, csig := math.Hypot(w.salp1, w.calp1), p.sbet1*p.sbet2+p.cbet1*p.cbet2*comg
	sig12 = -1
	n := g.f / (2 - g.f)
	switch {
	case short && ssig < g.shortSig:
		w.salp2 = p.cbet1 * somg
		d := 1 - comg
		if comg >= 0 {
			d = somg * somg / (1 + comg)
		}
		w.calp2 = sbet12 - p.cbet1*p.sbet2*d
		w.salp2, w.calp2 = norm(w.salp2, w.calp2)
		sig12 = math.Atan2(ssig, csig)
	case csig < 0 && ssig < 6*n*math.Pi*p.cbet1*p.cbet1:
		w.salp1, w.calp1 = g.antipodal(p, sbet12a)
	}
	if w.salp1 > 0 {
		w.salp1, w.calp1 = norm(w.salp1, w.calp1)
	} else {
		w.salp1, w.calp1 = 1, 0
	}
	return w, sig12, dnm
}

// antipodal guesses the azimuth between nearly antipodal places from the
// astroid (eqs. 51 to 59).
func (g *solver) antipodal(p ends, sbet12a float64) (salp1, calp1 float64) {
	scale := g.f * p.cbet1 * g.atA3(g.expansion(p.sbet1)) * math.Pi
	x := math.Atan2(-p.slam12, -p.clam12) / scale
	y := sbet12a / (scale * p.cbet1)
	if y > -200*eps0 && x > -1-1000*rootEps {
		salp1 = min(1, -x)
		return salp1, -math.Sqrt(1 - salp1*salp1)
	}
	k := astroid(x, y)
	somg, comg := math.Sincos(scale * -x * k / (1 + k))
	comg = -comg
	return p.cbet2 * somg, sbet12a - p.cbet2*p.sbet1*somg*somg/(1-comg)
}

// astroid gives the positive root of k⁴ + 2k³ - (x²+y²-1)k² - 2y²k - y² = 0
// (eqs. 55 to 57).
func astroid(x, y float64) float64 {
	p, q := x*x, y*y
	r := (p + q - 1) / 6
	if q == 0 && r <= 0 {
		return 0
	}
	s, r2 := p*q/4, r*r
	r3 := r * r2
	u := r
	if disc := s * (s + 2*r3); disc >= 0 {
		t3 := s + r3
		t := math.Cbrt(t3 + math.Copysign(math.Sqrt(disc), t3))
		u += t
		if t != 0 {
			u += r2 / t
		}
	} else {
		u += 2 * r * math.Cos(math.Atan2(math.Sqrt(-disc), -(s+r3))/3)
	}
	v := math.Sqrt(u*u + q)
	uv := u + v
	if u < 0 {
		uv = q / (v - u)
	}
	w := (uv - q) / (2 * v)
	return uv / (math.Sqrt(uv+w*w) + w)
}

// newton finds the azimuth whose geodesic meets the second end, by Newton's
// method held within a bracket (section 4 of the paper). The number of steps is
// bounded.
func (g *solver) newton(p ends, w way) (way, omega) {
	const newtonSteps, allSteps = 20, 83
	loS, loC, hiS, hiC := tiny, 1.0, tiny, -1.0
	near, narrow := 1.0, false
	var t trial
	for i := 0; ; i++ {
		var v, dv float64
		t, v, dv = g.aim(p, w.salp1, w.calp1)
		if narrow || !(math.Abs(v) >= near*eps0) || i == allSteps {
			break
		}
		if v > 0 && (i > newtonSteps || w.calp1/w.salp1 > hiC/hiS) {
			hiS, hiC = w.salp1, w.calp1
		} else if v < 0 && (i > newtonSteps || w.calp1/w.salp1 < loC/loS) {
			loS, loC = w.salp1, w.calp1
		}
		if i < newtonSteps && dv > 0 {
			if d := -v / dv; math.Abs(d) < math.Pi {
				sd, cd := math.Sincos(d)
				if s := w.salp1*cd + w.calp1*sd; s > 0 {
					w.salp1, w.calp1 = norm(s, w.calp1*cd-w.salp1*sd)
					near = 1
					if math.Abs(v) <= 16*eps0 {
						near = 8
					}
					continue
				}
			}
		}
		w.salp1, w.calp1 = norm((loS+hiS)/2, (loC+hiC)/2)
		near = 1
		narrow = math.Abs(loS-w.salp1)+(loC-w.calp1) < eps0 ||
			math.Abs(w.salp1-hiS)+(w.calp1-hiC) < eps0
	}
	s12, _ := lengths(t.eps, t, p)
	w.s12, w.salp2, w.calp2 = s12*g.b, t.salp2, t.calp2
	s, c := math.Sincos(t.domg12)
	return w, omega{sin: p.slam12*c - p.clam12*s, cos: p.clam12*c + p.slam12*s}
}

// aim follows the geodesic that leaves the first end at an azimuth to the
// latitude of the second; v is how far beyond its longitude it comes (radians),
// dv how v changes with the azimuth (eqs. 45, 46).
func (g *solver) aim(p ends, salp1, calp1 float64) (t trial, v, dv float64) {
	if p.sbet1 == 0 && calp1 == 0 {
		calp1 = -tiny
	}
	salp0, calp0 := salp1*p.cbet1, math.Hypot(calp1, salp1*p.sbet1)
	somg1, comg1 := salp0*p.sbet1, calp1*p.cbet1
	t.ssig1, t.csig1 = norm(p.sbet1, comg1)
	t.salp2, t.calp2 = salp1, math.Abs(calp1)
	if p.cbet2 != p.cbet1 {
		t.salp2 = salp0 / p.cbet2
	}
	if p.cbet2 != p.cbet1 || math.Abs(p.sbet2) != -p.sbet1 {
		d := (p.sbet1 - p.sbet2) * (p.sbet1 + p.sbet2)
		if p.cbet1 < -p.sbet1 {
			d = (p.cbet2 - p.cbet1) * (p.cbet1 + p.cbet2)
		}
		t.calp2 = math.Sqrt(comg1*comg1+d) / p.cbet2
	}
	somg2, comg2 := salp0*p.sbet2, t.calp2*p.cbet2
	t.ssig2, t.csig2 = norm(p.sbet2, comg2)
	t.sig12 = math.Atan2(max(0, t.csig1*t.ssig2-t.ssig1*t.csig2), t.csig1*t.csig2+t.ssig1*t.ssig2)
	somg, comg := max(0, comg1*somg2-somg1*comg2), comg1*comg2+somg1*somg2
	eta := math.Atan2(somg*p.clam12-comg*p.slam12, comg*p.clam12+somg*p.slam12)
	t.eps = g.expansion(calp0)
	c3 := g.atC3(t.eps)
	b3 := sinSeries(&c3, t.ssig2, t.csig2) - sinSeries(&c3, t.ssig1, t.csig1)
	t.domg12 = -g.f * g.atA3(t.eps) * salp0 * (t.sig12 + b3)
	if t.calp2 == 0 {
		dv = -2 * g.f1 * p.dn1 / p.sbet1
	} else {
		_, m12 := lengths(t.eps, t, p)
		dv = m12 * g.f1 / (t.calp2 * p.cbet2)
	}
	return t, eta + t.domg12, dv
}

// areaUnder is the area in m² between the geodesic and the equator (eqs. 58 to
// 63), in the canonical position.
func (g *solver) areaUnder(p ends, w way, omg omega) float64 {
	salp0, calp0 := w.salp1*p.cbet1, math.Hypot(w.calp1, w.salp1*p.sbet1)
	var sum float64
	if salp0 != 0 && calp0 != 0 {
		ssig1, csig1 := norm(p.sbet1, w.calp1*p.cbet1)
		ssig2, csig2 := norm(p.sbet2, w.calp2*p.cbet2)
		c4 := g.atC4(g.expansion(calp0))
		sum = g.a * g.a * calp0 * salp0 * g.e2 *
			(cosSeries(&c4, ssig2, csig2) - cosSeries(&c4, ssig1, csig1))
	}
	if !omg.meridian && omg.cos > -math.Sqrt2/2 && p.sbet2-p.sbet1 < 1.75 {
		d, d1, d2 := 1+omg.cos, 1+p.cbet1, 1+p.cbet2
		return sum + g.c2*2*math.Atan2(omg.sin*(p.sbet1*d2+p.sbet2*d1), d*(p.sbet1*p.sbet2+d1*d2))
	}
	s := w.salp2*w.calp1 - w.calp2*w.salp1
	c := w.calp2*w.calp1 + w.salp2*w.salp1
	if s == 0 && c < 0 {
		s, c = tiny*w.calp1, -1
	}
	return sum + g.c2*math.Atan2(s, c)
}
