package frame

// The series of Karney 2013 to order 6 in the expansion parameter eps: distance
// (A1, C1, eqs. 17 and 18), its reversion (C1', eq. 21), reduced length (A2, C2,
// eqs. 42 and 43), longitude (A3, C3, eqs. 24 and 25), area (C4, eqs. 62 and
// 63). Index l holds the coefficient of sin 2lσ, of cos (2l+1)σ for the area.
//
// Coefficients are written from memory; the tests hold them to GeographicLib's
// figures and to plain integration.

func seriesA1(e float64) float64 {
	e2 := e * e
	return (1 + e2*(1./4+e2*(1./64+e2/256))) / (1 - e)
}

func seriesC1(e float64) [7]float64 {
	e2 := e * e
	e3, e4 := e2*e, e2*e2
	return [7]float64{
		1: e * (-1./2 + e2*(3./16-e2/32)),
		2: e2 * (-1./16 + e2*(1./32-9*e2/2048)),
		3: e3 * (-1./48 + 3*e2/256),
		4: e4 * (-5./512 + 3*e2/512),
		5: -7 * e4 * e / 1280,
		6: -7 * e4 * e2 / 2048,
	}
}

func seriesC1p(e float64) [7]float64 {
	e2 := e * e
	e3, e4 := e2*e, e2*e2
	return [7]float64{
		1: e * (1./2 + e2*(-9./32+205*e2/1536)),
		2: e2 * (5./16 + e2*(-37./96+1335*e2/4096)),
		3: e3 * (29./96 - 75*e2/128),
		4: e4 * (539./1536 - 2391*e2/2560),
		5: 3467 * e4 * e / 7680,
		6: 38081 * e4 * e2 / 61440,
	}
}

func seriesA2(e float64) float64 {
	e2 := e * e
	return (1 - e2*(3./4+e2*(7./64+11*e2/256))) / (1 + e)
}

func seriesC2(e float64) [7]float64 {
	e2 := e * e
	e3, e4 := e2*e, e2*e2
	return [7]float64{
		1: e * (1./2 + e2*(1./16+e2/32)),
		2: e2 * (3./16 + e2*(1./32+35*e2/2048)),
		3: e3 * (5./48 + 5*e2/256),
		4: e4 * (35./512 + 7*e2/512),
		5: 63 * e4 * e / 1280,
		6: 77 * e4 * e2 / 2048,
	}
}

func seriesA3(n float64) [6]float64 {
	n2 := n * n
	return [6]float64{
		1,
		-(1 - n) / 2,
		-(2 + n - 3*n2) / 8,
		-(1 + 3*n + n2) / 16,
		-(3 + 2*n) / 64,
		-3. / 128,
	}
}

func seriesC3(n float64) [6][6]float64 {
	n2 := n * n
	return [6][6]float64{
		1: {0, (1 - n) / 4, (1 - n2) / 8, (3 + 3*n - n2) / 64, (5 + 2*n) / 128, 3. / 128},
		2: {0, 0, (2 - 3*n + n2) / 32, (3 - 2*n - 3*n2) / 64, (3 + n) / 128, 5. / 256},
		3: {0, 0, 0, (5 - 9*n + 5*n2) / 192, (9 - 10*n) / 384, 7. / 512},
		4: {0, 0, 0, 0, (7 - 14*n) / 512, 7. / 512},
		5: {0, 0, 0, 0, 0, 21. / 2560},
	}
}

// seriesC4 has the area integral; the fourth and fifth orders are those of the
// author's later tables (arXiv:1109.4448, GeographicLib documentation).
func seriesC4(n float64) [6][6]float64 {
	n2 := n * n
	n3, n4, n5 := n2*n, n2*n2, n2*n2*n
	return [6][6]float64{
		{
			(30030 - 12012*n + 3432*n2 + 572*n3 + 208*n4 + 100*n5) / 45045,
			(-3003 + 6864*n - 4576*n2 + 624*n3 + 64*n4) / 15015,
			(-858 - 4576*n + 14144*n2 - 10656*n3) / 45045,
			(1573 - 4784*n - 224*n2) / 45045,
			(156 + 1088*n) / 45045,
			97. / 15015,
		},
		{
			1: (3003 - 6864*n + 4576*n2 - 624*n3 - 64*n4) / 135135,
			2: (-2574 + 9152*n - 11648*n2 + 5952*n3) / 135135,
			3: (-1287 + 1040*n + 5792*n2) / 135135,
			4: (468 - 2944*n) / 135135,
			5: 1. / 9009,
		},
		{
			2: (1716 - 4576*n + 4160*n2 - 1440*n3) / 225225,
			3: (-1144 + 4992*n - 8448*n2) / 225225,
			4: (-936 + 1856*n) / 225225,
			5: 8. / 10725,
		},
		{
			3: (1144 - 3328*n + 3584*n2) / 315315,
			4: (-208 + 1024*n) / 105105,
			5: -136. / 63063,
		},
		{
			4: (832 - 2560*n) / 405405,
			5: -128. / 135135,
		},
		{5: 128. / 99099},
	}
}

func (g *solver) atA3(eps float64) float64 { return polynomial(&g.a3, eps) }

func (g *solver) atC3(eps float64) (c [7]float64) {
	for l := 1; l < 6; l++ {
		c[l] = polynomial(&g.c3[l], eps)
	}
	return c
}

func (g *solver) atC4(eps float64) (c [6]float64) {
	for l := range c {
		c[l] = polynomial(&g.c4[l], eps)
	}
	return c
}

func polynomial(p *[6]float64, x float64) (v float64) {
	for j := len(p) - 1; j >= 0; j-- {
		v = v*x + p[j]
	}
	return v
}

// sinSeries sums c[l] sin 2lσ by Clenshaw's rule.
func sinSeries(c *[7]float64, s, co float64) float64 {
	ar := 2 * (co - s) * (co + s) // 2 cos 2σ
	var b1, b2 float64
	for l := 6; l >= 1; l-- {
		b1, b2 = ar*b1-b2+c[l], b1
	}
	return 2 * s * co * b1
}

// cosSeries sums c[l] cos (2l+1)σ by Clenshaw's rule.
func cosSeries(c *[6]float64, s, co float64) float64 {
	ar := 2 * (co - s) * (co + s)
	var b1, b2 float64
	for l := 5; l >= 0; l-- {
		b1, b2 = ar*b1-b2+c[l], b1
	}
	return co * (b1 - b2)
}
