package tile

import (
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lab is a colour in CIELAB.
type lab struct{ l, a, b float64 }

// linear undoes the sRGB transfer curve (IEC 61966-2-1).
func linear(c color.NRGBA) [3]float64 {
	var out [3]float64
	for i, v := range [3]uint8{c.R, c.G, c.B} {
		f := float64(v) / 255
		if f <= 0.04045 {
			out[i] = f / 12.92
		} else {
			out[i] = math.Pow((f+0.055)/1.055, 2.4)
		}
	}
	return out
}

func times(m [3][3]float64, v [3]float64) (out [3]float64) {
	for i := range m {
		for k := range v {
			out[i] += m[i][k] * v[k]
		}
	}
	return out
}

// toLab turns linear sRGB into CIELAB under D65 (IEC 61966-2-1; CIE 15).
func toLab(rgb [3]float64) lab {
	xyz := times([3][3]float64{
		{0.4124564, 0.3575761, 0.1804375}, {0.2126729, 0.7151522, 0.0721750}, {0.0193339, 0.1191920, 0.9503041},
	}, rgb)
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	x, y, z := f(xyz[0]/0.95047), f(xyz[1]), f(xyz[2]/1.08883)
	return lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// eyes are normal sight and the three kinds of colour blindness at full
// strength, as matrices on linear sRGB (G. M. Machado, M. M. Oliveira and
// L. A. F. Fernandes, A physiologically-based model for simulation of color
// vision deficiency, IEEE Transactions on Visualization and Computer Graphics
// 15, 2009, table of severity 1.0).
var eyes = []struct {
	name string
	m    [3][3]float64
}{
	{"normal", [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}},
	{"protan", [3][3]float64{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}},
	{"deutan", [3][3]float64{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}},
	{"tritan", [3][3]float64{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}},
}

// seen gives a colour as an eye sees it.
func seen(t testing.TB, hex string, eye int) lab {
	c, err := parseColour(hex)
	require.NoError(t, err)
	rgb := times(eyes[eye].m, linear(c))
	for i := range rgb {
		rgb[i] = max(0, min(1, rgb[i]))
	}
	return toLab(rgb)
}

// ciede2000 is the colour difference of CIE 142-2001, as written out by
// G. Sharma, W. Wu and E. N. Dalal, Color Research and Application 30, 2005,
// 21-30.
func ciede2000(p, q lab) float64 {
	const deg = math.Pi / 180
	c7 := math.Pow((math.Hypot(p.a, p.b)+math.Hypot(q.a, q.b))/2, 7)
	g := 0.5 * (1 - math.Sqrt(c7/(c7+math.Pow(25, 7))))
	c1, c2 := math.Hypot((1+g)*p.a, p.b), math.Hypot((1+g)*q.a, q.b)
	hue := func(a, b float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		return math.Mod(math.Atan2(b, a)/deg+360, 360)
	}
	h1, h2 := hue((1+g)*p.a, p.b), hue((1+g)*q.a, q.b)
	dh, mean := h2-h1, h1+h2
	switch {
	case c1*c2 == 0:
		dh = 0
	case math.Abs(dh) <= 180:
		mean /= 2
	case dh > 180:
		dh -= 360
	default:
		dh += 360
	}
	if c1*c2 != 0 && math.Abs(h2-h1) > 180 {
		if mean < 360 {
			mean = (mean + 360) / 2
		} else {
			mean = (mean - 360) / 2
		}
	}
	dL, dC := q.l-p.l, c2-c1
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(dh/2*deg)
	lm, cm := (p.l+q.l)/2, (c1+c2)/2
	tt := 1 - 0.17*math.Cos((mean-30)*deg) + 0.24*math.Cos(2*mean*deg) + 0.32*math.Cos((3*mean+6)*deg) - 0.2*math.Cos((4*mean-63)*deg)
	l50 := (lm - 50) * (lm - 50)
	sl, sc, sh := 1+0.015*l50/math.Sqrt(20+l50), 1+0.045*cm, 1+0.015*cm*tt
	m7 := math.Pow(cm, 7)
	rt := -math.Sin(60*math.Exp(-math.Pow((mean-275)/25, 2))*deg) * 2 * math.Sqrt(m7/(m7+math.Pow(25, 7)))
	l, c, h := dL/sl, dC/sc, dH/sh
	return math.Sqrt(l*l + c*c + h*h + rt*c*h)
}

// TestCIEDE2000: pairs of the supplementary test data of Sharma, Wu and Dalal
// (2005), table 1; values from memory.
func TestCIEDE2000(t *testing.T) {
	for _, c := range []struct {
		p, q lab
		want float64
	}{
		{lab{50, 2.6772, -79.7751}, lab{50, 0, -82.7485}, 2.0425},
		{lab{50, 3.1571, -77.2803}, lab{50, 0, -82.7485}, 2.8615},
		{lab{50, 2.8361, -74.0200}, lab{50, 0, -82.7485}, 3.4412},
		{lab{50, -1.3802, -84.2814}, lab{50, 0, -82.7485}, 1.0000},
		{lab{50, 0, 0}, lab{50, -1, 2}, 2.3669},
		{lab{50, 2.4900, -0.0010}, lab{50, -2.4900, 0.0009}, 7.1792},
		{lab{50, 2.5, 0}, lab{73, 25, -18}, 27.1492},
		{lab{50, 2.5, 0}, lab{50, 3.1736, 0.5854}, 1.0000},
		{lab{60.2574, -34.0099, 36.2677}, lab{60.4626, -34.1751, 39.4387}, 1.2644},
		{lab{63.0109, -31.0961, -5.8663}, lab{62.8187, -29.7946, -4.0864}, 1.2630},
		{lab{35.0831, -44.1164, 3.7933}, lab{35.0232, -40.0716, 1.5901}, 1.8645},
		{lab{90.8027, -2.0831, 1.4410}, lab{91.1528, -1.6435, 0.0447}, 1.4441},
		{lab{2.0776, 0.0795, -1.1350}, lab{0.9033, -0.0636, -0.5514}, 0.9082},
	} {
		assert.InDelta(t, c.want, ciede2000(c.p, c.q), 0.00005)
		assert.InDelta(t, c.want, ciede2000(c.q, c.p), 0.00005, "either way")
	}
}

// contrast is the WCAG 2.2 contrast ratio.
func contrast(t testing.TB, a, b string) float64 {
	lum := func(hex string) float64 {
		c, err := parseColour(hex)
		require.NoError(t, err)
		rgb := linear(c)
		return 0.2126*rgb[0] + 0.7152*rgb[1] + 0.0722*rgb[2]
	}
	x, y := lum(a), lum(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}
