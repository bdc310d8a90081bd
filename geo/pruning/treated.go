package pruning

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Difference compares a figure of treated and untreated vines, such as prunings or
// yield of the year after.
type Difference struct {
	Treated     int     `json:"treated"`   // vines, or pairs
	Untreated   int     `json:"untreated"` // vines, or pairs
	MeanTreated float64 `json:"mean_treated"`
	MeanOther   float64 `json:"mean_untreated"`
	Mean        float64 `json:"mean"` // treated less untreated
	Low         float64 `json:"low"`  // interval that holds the true difference with Confidence
	High        float64 `json:"high"`
	Confidence  float64 `json:"confidence"`
	// Told is true where the interval does not hold 0: the difference is more than
	// chance among these vines.
	Told bool `json:"told"`
}

// CompareTreated compares two sets of vines, treated and untreated, whose spreads
// may differ (Welch's interval; B. L. Welch, Biometrika 34:28, 1947). NaN is not
// counted. confidence is 0.5 to 0.999, 0 means 0.95. The vines should have been
// chosen by lot: an interval says nothing of treated vines that were the weaker
// ones before. The error wraps ErrInput where a side has fewer than two vines.
func CompareTreated(values []float64, sides []Trial, confidence float64) (Difference, error) {
	if len(values) != len(sides) {
		return Difference{}, wrong(ErrInput, "sides", fmt.Sprint(len(sides), " entries"), fmt.Sprintf("%d, as of values", len(values)))
	}
	var by [3][]float64
	for i, v := range values {
		if sides[i] > TrialUntreated {
			return Difference{}, wrong(ErrInput, fmt.Sprintf("sides[%d]", i), sides[i], "none, treated or untreated")
		}
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			by[sides[i]] = append(by[sides[i]], v)
		}
	}
	a, b := by[TrialTreated], by[TrialUntreated]
	if len(a) < 2 || len(b) < 2 {
		return Difference{}, wrong(ErrInput, "vines", fmt.Sprintf("%d treated and %d untreated with a value", len(a), len(b)), "two or more of each")
	}
	meanA, varA := stat.MeanVariance(a, nil)
	meanB, varB := stat.MeanVariance(b, nil)
	sa, sb := varA/float64(len(a)), varB/float64(len(b))
	d := Difference{Treated: len(a), Untreated: len(b), MeanTreated: meanA, MeanOther: meanB, Mean: meanA - meanB}
	df := 1.0
	if sa+sb > 0 {
		df = (sa + sb) * (sa + sb) / (sa*sa/float64(len(a)-1) + sb*sb/float64(len(b)-1))
	}
	return d.interval(math.Sqrt(sa+sb), df, confidence)
}

// ComparePairs compares treated vines each with an untreated one beside it
// (Student's interval of the differences). Pairs with NaN are not counted. The
// error wraps ErrInput where there are fewer than two pairs.
func ComparePairs(treated, untreated []float64, confidence float64) (Difference, error) {
	if len(treated) != len(untreated) {
		return Difference{}, wrong(ErrInput, "untreated", fmt.Sprint(len(untreated), " entries"), fmt.Sprintf("%d, as of treated", len(treated)))
	}
	var a, b, diffs []float64
	for i := range treated {
		if d := treated[i] - untreated[i]; !math.IsNaN(d) && !math.IsInf(d, 0) {
			a, b, diffs = append(a, treated[i]), append(b, untreated[i]), append(diffs, d)
		}
	}
	if len(diffs) < 2 {
		return Difference{}, wrong(ErrInput, "pairs", fmt.Sprint(len(diffs), " with both values"), "two or more")
	}
	mean, variance := stat.MeanVariance(diffs, nil)
	d := Difference{Treated: len(a), Untreated: len(b), MeanTreated: stat.Mean(a, nil), MeanOther: stat.Mean(b, nil), Mean: mean}
	return d.interval(math.Sqrt(variance/float64(len(diffs))), float64(len(diffs)-1), confidence)
}

func (d Difference) interval(se, df, confidence float64) (Difference, error) {
	if confidence == 0 {
		confidence = 0.95
	}
	if !(confidence >= 0.5 && confidence <= 0.999) {
		return Difference{}, wrong(ErrInput, "confidence", confidence, "0.5 to 0.999, or 0 for 0.95")
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1 + confidence) / 2)
	d.Confidence, d.Low, d.High = confidence, d.Mean-t*se, d.Mean+t*se
	d.Told = d.Low > 0 || d.High < 0
	return d, nil
}
