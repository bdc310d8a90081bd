package patch

import (
	"math"
	"slices"
)

// Share is a count of a whole with its 95 % interval (E. B. Wilson, JASA 22,
// 1927, without correction for continuity), as shares of 1.
type Share struct {
	Count, Of int
	Share     float64
	Low, High float64
}

// normal975 is the 97.5 % point of the normal distribution.
const normal975 = 1.959963984540054

// ShareOf gives the share of count in of; all 0 for a whole of nothing.
func ShareOf(count, of int) Share {
	if of <= 0 {
		return Share{}
	}
	n, p := float64(of), float64(count)/float64(of)
	const z2 = normal975 * normal975
	middle := (p + z2/(2*n)) / (1 + z2/n)
	half := normal975 / (1 + z2/n) * math.Sqrt(p*(1-p)/n+z2/(4*n*n))
	return Share{count, of, p, max(0, middle-half), min(1, middle+half)}
}

// Turned counts vines that were sound or weak in two seasons, with McNemar's test
// whether more turned weak than recovered.
type Turned struct {
	Sound, TurnedWeak, Recovered, Weak int

	ChiSquare, P                   float64
	ChiSquareCorrected, PCorrected float64 // for continuity
	PExact                         float64 // binomial, two-sided
	WeakBefore, WeakAfter          Share
}

// Turn makes the test. Where none turned, nothing speaks against chance: all P
// are 1.
func Turn(sound, turnedWeak, recovered, weak int) Turned {
	t := Turned{Sound: sound, TurnedWeak: turnedWeak, Recovered: recovered, Weak: weak, P: 1, PCorrected: 1, PExact: 1}
	of := sound + turnedWeak + recovered + weak
	t.WeakBefore, t.WeakAfter = ShareOf(recovered+weak, of), ShareOf(turnedWeak+weak, of)
	if n := float64(turnedWeak + recovered); n > 0 {
		off := math.Abs(float64(turnedWeak - recovered))
		t.ChiSquare = off * off / n
		t.ChiSquareCorrected = max(0, off-1) * max(0, off-1) / n
		t.P, t.PCorrected = TwoSided(math.Sqrt(t.ChiSquare)), TwoSided(math.Sqrt(t.ChiSquareCorrected))
		t.PExact = evenOdds(turnedWeak, recovered)
	}
	return t
}

// Quantile gives the value below which a share p of the values lies, between two
// values in proportion (type 7 of R. J. Hyndman and Y. Fan, The American
// Statistician 50, 1996, R's default); 0 for no values. The values need no order.
func Quantile(values []float64, p float64) float64 {
	if len(values) == 0 {
		return 0
	}
	v := slices.Sorted(slices.Values(values))
	at := float64(len(v)-1) * max(0, min(1, p))
	k := int(at)
	if k == len(v)-1 {
		return v[k]
	}
	return v[k] + (at-float64(k))*(v[k+1]-v[k])
}
