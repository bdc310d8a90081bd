package patch

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Paired is how the same vines, or rows, differ between two seasons. Change is
// always later less earlier.
type Paired struct {
	N                     int
	MeanBefore, MeanAfter float64
	Mean, Median          float64 // of the changes
	SD                    float64 // of the changes, divisor n - 1; 0 below two
	MAD                   float64 // median absolute deviation of the changes × 1.4826
	// Percent is the change of the means by the earlier mean, MedianPercent the
	// median over vines of each one's; 0 where nothing above 0 was there before.
	Percent, MedianPercent float64
	// HodgesLehmann is the median of the means of all pairs of changes: a typical
	// change that single wrong values hardly move.
	HodgesLehmann float64
	// Effect is the mean change by its standard deviation (Cohen's d of pairs); 0
	// where the changes do not vary.
	Effect float64
	T      *Student    // nil below two pairs, or where the changes do not vary
	Rank   *SignedRank // nil where nothing changed
	Sign   *Sign       // nil where nothing changed
}

// Student is the paired t-test.
type Student struct {
	T, DF, P  float64 // P two-sided
	Low, High float64 // 95 % interval of the mean change
}

// SignedRank is Wilcoxon's signed rank test.
type SignedRank struct {
	V     float64 // sum of the ranks of the changes above 0
	N     int     // pairs that changed
	P     float64 // two-sided
	Exact bool    // of all 2^n signs; else by the normal distribution, corrected for ties and continuity
	// Biserial is the rank-biserial effect, -1 (all fell) to 1 (all rose).
	Biserial float64
}

// Sign is the sign test.
type Sign struct {
	Fell, Rose int
	P          float64 // two-sided
}

// Pair compares values before and after, which must be equally many and small
// enough to be squared. Formulae as in R's t.test, wilcox.test, binom.test and mad. Cost is n log n.
func Pair(before, after []float64) Paired {
	n := min(len(before), len(after))
	p := Paired{N: n}
	if n == 0 {
		return p
	}
	d := differences(before[:n], after[:n])
	p.MeanBefore, _ = moments(before[:n])
	p.MeanAfter, _ = moments(after[:n])
	var sd float64
	p.Mean, sd = moments(d)
	if n > 1 {
		p.SD = sd * math.Sqrt(float64(n)/float64(n-1))
	}
	p.Median, p.MAD = median(d), spreadMAD(d)
	p.Percent, p.MedianPercent = percents(before[:n], after[:n], p.MeanBefore, p.MeanAfter)
	slices.Sort(d)
	p.HodgesLehmann = walshMedian(d)
	// As R does, changes that differ by no more than rounding do not vary.
	const noise = 10 * 2.220446049250313e-16
	if p.SD/math.Sqrt(float64(n)) > noise*max(math.Abs(p.MeanBefore), math.Abs(p.MeanAfter)) {
		p.Effect = p.Mean / p.SD
		p.T = student(p.Mean, p.SD, n)
	}
	p.Rank, p.Sign = signedRank(d), signTest(d)
	return p
}

func percents(before, after []float64, meanBefore, meanAfter float64) (ofMeans, medianOfVines float64) {
	if meanBefore > 0 {
		ofMeans = 100 * (meanAfter - meanBefore) / meanBefore
	}
	var each []float64
	for i, b := range before {
		if b > 0 {
			each = append(each, 100*(after[i]-b)/b)
		}
	}
	return ofMeans, median(each)
}

func spreadMAD(v []float64) float64 {
	m := median(v)
	off := make([]float64, len(v))
	for i, x := range v {
		off[i] = math.Abs(x - m)
	}
	return madScale * median(off)
}

// differences are taken in the decimals of the data, or in twelve digits of the
// largest value: else changes that are equal on paper differ in the last bit and
// fail to tie.
func differences(before, after []float64) []float64 {
	step, ok := decimalStep(before, after)
	if !ok {
		var most float64
		for i := range before {
			most = max(most, math.Abs(before[i]), math.Abs(after[i]))
		}
		step = math.Pow(10, 12-math.Ceil(math.Log10(max(most, math.SmallestNonzeroFloat64))))
	}
	d := make([]float64, len(before))
	for i := range d {
		d[i] = after[i] - before[i]
		if r := math.Round(d[i]*step) / step; !math.IsNaN(r) && !math.IsInf(r, 0) {
			d[i] = r
		}
	}
	return d
}

// decimalStep gives the least power of ten, up to 10^9, that makes all values
// whole.
func decimalStep(columns ...[]float64) (float64, bool) {
	const whole = 1e-5
	for step := 1.0; step <= 1e9; step *= 10 {
		ok := true
		for _, c := range columns {
			for _, v := range c {
				at := math.Abs(v * step)
				if v != 0 && (at < 0.5 || at > 1e14 || math.Abs(at-math.Round(at)) > whole) {
					ok = false
					break
				}
			}
		}
		if ok {
			return step, true
		}
	}
	return 0, false
}

func student(mean, sd float64, n int) *Student {
	df := float64(n - 1)
	se := sd / math.Sqrt(float64(n))
	t := mean / se
	// P of |t|: I_x(df/2, 1/2) at x = df / (df + t²).
	s := &Student{T: t, DF: df, P: mathext.RegIncBeta(df/2, 0.5, df/(df+t*t))}
	x := mathext.InvRegIncBeta(df/2, 0.5, 0.05)
	half := se * math.Sqrt(df*(1-x)/x)
	s.Low, s.High = mean-half, mean+half
	return s
}

// fewestNormal is the number of changes from which R takes the normal form.
const fewestNormal = 50

// signedRank tests changes given in order.
func signedRank(sorted []float64) *SignedRank {
	var d []float64
	for _, v := range sorted {
		if v != 0 {
			d = append(d, v)
		}
	}
	if len(d) == 0 {
		return nil
	}
	slices.SortFunc(d, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	n := float64(len(d))
	r := &SignedRank{N: len(d)}
	var ties float64
	for i := 0; i < len(d); {
		j := i
		for j < len(d) && math.Abs(d[j]) == math.Abs(d[i]) {
			j++
		}
		for _, v := range d[i:j] {
			if v > 0 {
				r.V += float64(i+1+j) / 2
			}
		}
		t := float64(j - i)
		ties += t*t*t - t
		i = j
	}
	all := n * (n + 1) / 2
	r.Biserial = (2*r.V - all) / all
	if r.Exact = len(d) < fewestNormal && ties == 0 && len(d) == len(sorted); r.Exact {
		r.P = exactSignedRank(int(r.V), len(d))
		return r
	}
	z := r.V - all/2
	correction := 0.0
	if z != 0 {
		correction = math.Copysign(0.5, z)
	}
	r.P = TwoSided((z - correction) / math.Sqrt(n*(n+1)*(2*n+1)/24-ties/48))
	return r
}

// exactSignedRank is the two-sided probability of a sum of ranks among all signs
// of n ranks.
func exactSignedRank(v, n int) float64 {
	ways := make([]float64, n*(n+1)/2+1) // of each sum
	ways[0] = 1
	for rank := 1; rank <= n; rank++ {
		for s := len(ways) - 1; s >= rank; s-- {
			ways[s] += ways[s-rank]
		}
	}
	v = min(v, len(ways)-1-v) // the two tails mirror each other
	var tail float64
	for _, w := range ways[:v+1] {
		tail += w
	}
	return min(1, 2*tail/math.Exp2(float64(n)))
}

func signTest(d []float64) *Sign {
	var s Sign
	for _, v := range d {
		switch {
		case v < 0:
			s.Fell++
		case v > 0:
			s.Rose++
		}
	}
	if s.Fell+s.Rose == 0 {
		return nil
	}
	s.P = evenOdds(s.Fell, s.Rose)
	return &s
}

// evenOdds is the two-sided binomial probability of so uneven a split when both
// are equally likely.
func evenOdds(a, b int) float64 {
	if a == b {
		return 1
	}
	low, n := float64(min(a, b)), float64(a+b)
	return min(1, 2*mathext.RegIncBeta(n-low, low+1, 0.5))
}
