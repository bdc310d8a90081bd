package vigour

import (
	"fmt"
	"math"
)

// SampleSize is how many vines to weigh so that the block's mean is known to
// within the relative error e (0.1: ten per cent), where single vines vary by
// the coefficient of variation cv (0.25: 25 %). t is the multiple of the standard
// error meant by "within": 2 for about 95 in 100.
//
// n₀ = (t·cv/e)²; of a block of so many vines n = n₀ / (1 + n₀/vines) suffices
// (W. G. Cochran, Sampling Techniques, 3rd ed. 1977, section 4.6; both from
// memory). vines 0: the block's size is not known. The answer is at least 1.
// ErrBadOption where a figure is not above 0.
func SampleSize(cv, e, t float64, vines int) (int, error) {
	if !(cv > 0 && e > 0 && t > 0) || vines < 0 {
		return 0, fmt.Errorf("%w: variation %g, error %g, t %g and %d vines give no sample size", ErrBadOption, cv, e, t, vines)
	}
	n := math.Pow(t*cv/e, 2)
	if vines > 0 {
		n /= 1 + n/float64(vines)
	}
	if !(n < 1e9) {
		return 0, fmt.Errorf("%w: an error of %g needs more vines than there are", ErrBadOption, e)
	}
	return max(1, int(math.Ceil(n-1e-9))), nil
}

// SampleSizeBlind is how many vines to look at where nothing is known of how
// much they vary: vines / (1 + vines e²), to the nearest vine (T. Yamane,
// Statistics, 2nd ed. 1967; printed with a worked example for 800 vines by
// Washington State University, Yield estimation, 2006). It is meant for shares,
// such as that of missing vines, and asks for many.
func SampleSizeBlind(vines int, e float64) (int, error) {
	if vines < 1 || !(e > 0) {
		return 0, fmt.Errorf("%w: error %g and %d vines give no sample size", ErrBadOption, e, vines)
	}
	return max(1, int(math.Round(float64(vines)/(1+float64(vines)*e*e)))), nil
}
