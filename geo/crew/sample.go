package crew

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// SampleSize is how many of so many vines must be looked at so that the share of
// wrong ones is known to within margin, at a level, where about the given share is
// expected; 0.5 is the safe guess. Rounded up.
//
//	n0 = z² p (1-p) / margin²;  n = n0 / (1 + (n0-1)/vines)
//
// W. G. Cochran, Sampling Techniques, third edition, 1977, section 4.4. The error
// wraps ErrCheck.
func SampleSize(vines int, margin, level, expected float64) (int, error) {
	switch {
	case vines < 0:
		return 0, wrong(ErrCheck, "vines", vines, "0 and up")
	case !(margin > 0 && margin < 1):
		return 0, wrong(ErrCheck, "margin", margin, "between 0 and 1")
	case !(level > 0 && level < 1):
		return 0, wrong(ErrCheck, "level", level, "between 0 and 1")
	case !(expected > 0 && expected < 1):
		return 0, wrong(ErrCheck, "expected share", expected, "between 0 and 1")
	case vines == 0:
		return 0, nil
	}
	z := normal(level)
	n := z * z * expected * (1 - expected) / (margin * margin)
	if n <= 1 {
		return 1, nil
	}
	return int(math.Ceil(n/(1+(n-1)/float64(vines)) - 1e-9)), nil
}

// ShareRange gives the range of a share of which n vines showed so many, at a
// level (E. B. Wilson, Probable inference, the law of succession, and statistical
// inference, Journal of the American Statistical Association 22, 1927). It is 0 to
// 1 for no vines. The error wraps ErrCheck.
func ShareRange(of, n int, level float64) (low, high float64, err error) {
	if of < 0 || n < of || !(level > 0 && level < 1) {
		return 0, 0, wrong(ErrCheck, "share", fmt.Sprintf("%d of %d at level %g", of, n, level), "no more than all, and a level between 0 and 1")
	}
	if n == 0 {
		return 0, 1, nil
	}
	z, p, m := normal(level), float64(of)/float64(n), float64(n)
	middle := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, middle-half), min(1, middle+half), nil
}

// normal is how many standard deviations hold a share of a normal distribution on
// both sides of its mean.
func normal(level float64) float64 { return distuv.UnitNormal.Quantile(0.5 + level/2) }
