package patch

import (
	"math"
	"runtime"
)

// Local is the Gi* statistic of one vine.
type Local struct {
	Z          float64 // standard deviates; below 0: weaker surroundings than the block
	P          float64 // two-sided probability of as much by chance
	Neighbours int     // vines in the reach, itself counted
}

// GiStar gives Gi* for every value: x, y in metres, v the value of each vine.
// Vines without a value must be left out. Cost is values × neighbours, shared
// over the processors. Errors: ErrFewValues, ErrNoSpread, ErrReach, ErrNotFinite.
func GiStar(x, y, v []float64, r Reach) ([]Local, error) {
	if err := check(x, y, v, r); err != nil {
		return nil, err
	}
	return giStar(newField(x, y, v, r, nil), v), nil
}

func giStar(f *field, v []float64) []Local {
	n := float64(len(v))
	mean, sd := moments(v)
	out := make([]Local, len(v))
	f.inParallel(runtime.GOMAXPROCS(0), func(line int) {
		f.sums(line, func(k, count int, sum float64) {
			c := float64(count)
			l := Local{Neighbours: count, P: 1}
			// All values in reach: the neighbourhood is the block, nothing stands out.
			if spread := (n*c - c*c) / (n - 1); spread > 0 {
				l.Z = (sum - mean*c) / (sd * math.Sqrt(spread))
				l.P = TwoSided(l.Z)
			}
			out[f.order[k]] = l
		})
	})
	return out
}

// moments gives mean and standard deviation, divisor n.
func moments(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	for _, x := range v {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / float64(len(v)))
}

// TwoSided is the probability that a standard normal deviate lies farther from
// 0 than z.
func TwoSided(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }
