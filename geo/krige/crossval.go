package krige

import "math"

// CrossValidation tells how well each point is estimated from the others.
type CrossValidation struct {
	N         int     // points that could be estimated
	MeanError float64 // mean of observed less estimated; near 0 is good
	RMSE      float64 // root of the mean squared error
	MSDR      float64 // mean of squared error by its expected variance; near 1 is good
	Corr      float64 // correlation of observed with estimated; 0 where either does not vary
}

// LeaveOneOut estimates every point from its neighbours without itself, shared
// over the processors. The expected variance of an error is that of the
// estimate and of the point's own error E together. A stop that answers true
// ends it with ErrStopped; it may be nil.
func (f *Field) LeaveOneOut(stop func() bool) (CrossValidation, error) {
	return f.LeaveOut(nil, stop)
}

// LeaveOut is LeaveOneOut over the points that which names; nil names all. The
// others serve as neighbours only.
func (f *Field) LeaveOut(which func(Point) bool, stop func() bool) (CrossValidation, error) {
	left, ok := f.leftOut(which, stop)
	if !ok {
		return CrossValidation{}, ErrStopped
	}
	var cv CrossValidation
	var so, se, soo, see, soe float64
	centre := f.points[0].V // keeps the sums of squares small
	for i, e := range left {
		p := f.points[i]
		expected := e.Variance + p.E
		if e.Used == 0 || !(expected > 0) {
			continue
		}
		d := p.V - e.Value
		cv.N++
		cv.MeanError += d
		cv.RMSE += d * d
		cv.MSDR += d * d / expected
		o, g := p.V-centre, e.Value-centre
		so, se = so+o, se+g
		soo, see, soe = soo+o*o, see+g*g, soe+o*g
	}
	if cv.N == 0 {
		return cv, nil
	}
	n := float64(cv.N)
	cv.MeanError /= n
	cv.RMSE = math.Sqrt(cv.RMSE / n)
	cv.MSDR /= n
	if spread := (soo - so*so/n) * (see - se*se/n); spread > 0 {
		cv.Corr = max(-1, min(1, (soe-so*se/n)/math.Sqrt(spread)))
	}
	return cv, nil
}

// leftOut gives the estimate of every named point from the others.
func (f *Field) leftOut(which func(Point) bool, stop func() bool) ([]Estimate, bool) {
	out := make([]Estimate, len(f.points))
	named := func(i int) bool { return which == nil || which(f.points[i]) }
	if f.whole != nil {
		return out, f.leftOutWhole(out, named, stop)
	}
	done := inChunks(len(out), stop, func() func(i int) {
		w := f.Worker()
		w.s.most = min(w.s.most, len(f.points)-1)
		return func(i int) {
			if named(i) {
				w.s.skip = int32(i)
				out[i] = w.At(f.points[i].X, f.points[i].Y)
			}
		}
	})
	return out, done
}

// leftOutWhole does it where all points are neighbours, without solving anew
// for each: with P the inverse of the bordered covariances, the error at point i
// is (P z)ᵢ / Pᵢᵢ and its variance 1 / Pᵢᵢ (O. Dubrule, Mathematical Geology 15,
// 1983, 687-699).
func (f *Field) leftOutWhole(out []Estimate, named func(i int) bool, stop func() bool) bool {
	s := f.whole
	// With L the factor: P = L⁻ᵀ (1 − u uᵀ / uᵀu) L⁻¹, where u = L⁻¹ 1.
	return inChunks(len(out), stop, func() func(i int) {
		col := make([]float64, s.n)
		return func(i int) {
			if !named(i) {
				return
			}
			clear(col)
			col[i] = 1
			forwardFrom(s.a, s.n, col, i) // L⁻¹ eᵢ
			along := dot(col, s.u)
			pii := dot(col, col) - along*along/s.oneOne
			pz := dot(col, s.v) - along*s.mean
			if !(pii > 0) {
				return
			}
			// 1/Pᵢᵢ is the variance of observed less estimated, own error included.
			out[i] = Estimate{Value: f.points[i].V - pz/pii, Variance: max(0, 1/pii-f.points[i].E), Used: s.n - 1}
		}
	})
}
