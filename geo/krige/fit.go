package krige

import (
	"fmt"
	"math"
)

// Fit is a fitted model and how far it lies from the bins.
type Fit struct {
	Model
	Objective float64 `json:"objective"` // weighted sum of squares that was made least
}

// FitModel fits a model of the given shape to the bins by weighted least
// squares, weights pairs / distance² (method 7 of R's gstat; Zhang, van Eijkeren
// and Heemink, 1995). Nugget and sill are not let below 0. For a given range
// nugget and sill follow in closed form, so that only the range is searched,
// between a tenth of the first and thrice the last bin distance.
//
// Errors: ErrFewPoints under 3 bins, ErrNoSpread where all bins are 0, ErrNoFit,
// ErrNotFinite.
func FitModel(shape Shape, bins []Bin) (Fit, error) {
	lags := make([]lag, len(bins))
	for i, b := range bins {
		lags[i] = lag{b.Dist, b.Gamma, float64(b.Pairs) / (b.Dist * b.Dist)}
	}
	return fitLags(shape, lags, 0, 1)
}

// FitBest fits both shapes and gives the one with the lesser objective.
func FitBest(bins []Bin) (Fit, error) {
	return best(func(s Shape) (Fit, error) { return FitModel(s, bins) })
}

func best(fit func(Shape) (Fit, error)) (Fit, error) {
	a, errA := fit(Spherical)
	b, errB := fit(Exponential)
	switch {
	case errA != nil && errB != nil:
		return Fit{}, errA
	case errA != nil || errB == nil && b.Objective < a.Objective:
		return b, nil
	}
	return a, nil
}

// lag is a bin with its weight and its distance as the model sees it.
type lag struct {
	h, gamma, weight float64
}

// fitLags fits one shape to the lags.
func fitLags(shape Shape, lags []lag, angle, ratio float64) (Fit, error) {
	if len(lags) < 3 {
		return Fit{}, fmt.Errorf("variogram of %d distance classes: %w", len(lags), ErrFewPoints)
	}
	first, last, spread := math.Inf(1), 0.0, 0.0
	for _, l := range lags {
		if !(l.h > 0) || math.IsInf(l.h, 0) || !(l.gamma >= 0) || math.IsInf(l.gamma, 0) || !(l.weight > 0) || math.IsInf(l.weight, 0) {
			return Fit{}, fmt.Errorf("variogram: distance %g, semivariance %g: %w", l.h, l.gamma, ErrNotFinite)
		}
		first, last = min(first, l.h), max(last, l.h)
		spread = max(spread, l.gamma)
	}
	if spread == 0 {
		return Fit{}, fmt.Errorf("variogram: %w", ErrNoSpread)
	}
	fit := leastOver(first/10, last*3, func(rng float64) Fit { return linear(shape, lags, rng) })
	fit.AngleDeg, fit.Ratio = angle, ratio
	if fit.Check() != nil || math.IsInf(fit.Objective, 1) || math.IsNaN(fit.Objective) {
		return Fit{}, ErrNoFit
	}
	return fit, nil
}

// linear gives nugget and sill that fit best at a given range, neither below 0.
func linear(shape Shape, lags []lag, rng float64) Fit {
	var w, s, ss, g, sg float64
	for _, l := range lags {
		f := shape.shape(l.h, rng)
		w += l.weight
		s += l.weight * f
		ss += l.weight * f * f
		g += l.weight * l.gamma
		sg += l.weight * l.gamma * f
	}
	nugget, sill := 0.0, 0.0
	if det := w*ss - s*s; det > 1e-12*w*ss {
		nugget, sill = (g*ss-s*sg)/det, (w*sg-s*g)/det
	} else {
		nugget = g / w
	}
	if nugget < 0 {
		nugget, sill = 0, max(0, sg/ss)
	}
	if sill < 0 {
		nugget, sill = g/w, 0
	}
	fit := Fit{Model: Model{Shape: shape, Nugget: nugget, Sill: sill, Range: rng}}
	for _, l := range lags {
		d := l.gamma - nugget - sill*shape.shape(l.h, rng)
		fit.Objective += l.weight * d * d
	}
	return fit
}

// leastOver finds the range with the least objective: a fine look over the whole
// span on a logarithmic scale, then golden section around the best.
func leastOver(lo, hi float64, at func(float64) Fit) Fit {
	const looks = 240
	step := math.Log(hi/lo) / looks
	bestFit, bestAt := at(lo), 0
	for i := 1; i <= looks; i++ {
		if f := at(lo * math.Exp(step*float64(i))); f.Objective < bestFit.Objective {
			bestFit, bestAt = f, i
		}
	}
	a, b := float64(bestAt-1)*step, float64(bestAt+1)*step
	golden := (math.Sqrt(5) - 1) / 2
	for range 90 {
		c, d := b-golden*(b-a), a+golden*(b-a)
		fc, fd := at(lo*math.Exp(c)), at(lo*math.Exp(d))
		if fc.Objective <= fd.Objective {
			b = d
		} else {
			a = c
		}
		for _, f := range []Fit{fc, fd} {
			if f.Objective < bestFit.Objective {
				bestFit = f
			}
		}
	}
	return bestFit
}
