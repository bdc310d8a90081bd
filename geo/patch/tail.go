package patch

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// lopsided is the sum over the cubes of the values about their mean, by n: what
// makes one tail of a sum of values longer than the other.
type lopsided struct {
	n, m2, m3 float64
}

func newLopsided(v []float64) lopsided {
	mean, _ := moments(v)
	l := lopsided{n: float64(len(v))}
	for _, x := range v {
		d := x - mean
		l.m2 += d * d / l.n
		l.m3 += d * d * d / l.n
	}
	return l
}

// skew is the skewness of the sum of k of the n values drawn without putting
// back (exact: W. G. Cochran, Sampling Techniques, 3rd ed. 1977, chapter 2).
func (l lopsided) skew(k float64) float64 {
	variance := l.m2 * k * (l.n - k) / (l.n - 1)
	if variance <= 0 || l.n < 3 {
		return 0
	}
	third := l.m3 * k * (l.n - k) * (l.n - 2*k) / ((l.n - 1) * (l.n - 2))
	return third / (variance * math.Sqrt(variance))
}

// probability is the two-sided probability of a local statistic when the values
// are dealt out to the vines at random: that of the normal distribution or, where
// it is larger, that of the Pearson type III distribution of the same skewness
// (the usual approximation of permutation tests: P. W. Mielke and K. J. Berry,
// Permutation Methods, 2001). With few neighbours and lopsided values the normal
// one is too small on the side of the long tail.
func (l lopsided) probability(s Local) float64 {
	skew := l.skew(float64(s.Neighbours))
	if s.Z < 0 {
		skew = -skew
	}
	return min(1, max(TwoSided(s.Z), 2*pearsonTail(math.Abs(s.Z), skew)))
}

// pearsonTail is the probability above z, z >= 0, of a Pearson type III
// distribution with mean 0, variance 1 and the given skewness.
func pearsonTail(z, skew float64) float64 {
	const straight = 1e-4 // below, the difference to the normal does not show
	if math.Abs(skew) < straight {
		return TwoSided(z) / 2
	}
	shape := 4 / (skew * skew)
	if skew > 0 {
		return mathext.GammaIncRegComp(shape, shape+z*math.Sqrt(shape))
	}
	if at := shape - z*math.Sqrt(shape); at > 0 {
		return mathext.GammaIncReg(shape, at)
	}
	return 0
}
