package krige

import "math"

// CrossValidation tells how well each point is estimated from the others.
type CrossValidation struct {
	N         int     // points that could be estimated
	MeanError float64 // mean of observed less estimated; near 0 is good
	RMSE      float64 // root of the mean squared error
	MSDR      float64 // mean of squared error by kriging variance; near 1 is good
	Corr      float64 // correlation of observed with estimated; 0 where either does not vary
}

// LeaveOneOut estimates every point from its neighbours without itself. Where
// the neighbourhood is all points, cost is the fourth power of their number:
// use a number of neighbours beyond some hundreds. A stop that answers true ends
// it early with what there is; it may be nil.
func (f *Field) LeaveOneOut(stop func() bool) CrossValidation {
	var cv CrossValidation
	var so, se, soo, see, soe float64
	w := f.Worker()
	for i, p := range f.points {
		if stop != nil && i%256 == 0 && stop() {
			break
		}
		w.s.skip = int32(i)
		e := w.At(p.X, p.Y)
		if e.Used == 0 || e.Variance == 0 {
			continue
		}
		d := p.V - e.Value
		cv.N++
		cv.MeanError += d
		cv.RMSE += d * d
		cv.MSDR += d * d / e.Variance
		so, se = so+p.V, se+e.Value
		soo, see, soe = soo+p.V*p.V, see+e.Value*e.Value, soe+p.V*e.Value
	}
	if cv.N == 0 {
		return cv
	}
	n := float64(cv.N)
	cv.MeanError /= n
	cv.RMSE = math.Sqrt(cv.RMSE / n)
	cv.MSDR /= n
	if spread := (soo - so*so/n) * (see - se*se/n); spread > 0 {
		cv.Corr = (soe - so*se/n) / math.Sqrt(spread)
	}
	return cv
}
