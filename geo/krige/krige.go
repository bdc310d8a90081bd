// Package krige estimates values between points: it measures how alike points
// are at a distance (the variogram), fits a model to that, and gives for any
// place the best linear estimate from its neighbours (ordinary kriging) with
// the standard error of the estimate. It knows points and values, no vines.
//
// Distances are in the units of the points, usually metres. The model has a
// nugget: what differs between two points however close. A nugget near the sill
// means that the estimate tells the trend of the place and not the single point.
//
// Formulae as in Cressie, Statistics for Spatial Data, 1993, chapters 2 and 3;
// the definitions of bins, fits and neighbourhoods are those of R's gstat, whose
// results the tests repeat.
package krige

import (
	"errors"
	"math"
)

// Point is a place with a value.
type Point struct {
	X, Y, V float64
	// E is the variance of an error that the value carries besides the nugget,
	// independent from point to point: of a reading that was calibrated to the
	// quantity rather than measured. 0 for a measured value.
	E float64
}

// Estimate is what kriging says of one place.
type Estimate struct {
	Value    float64
	Variance float64 // of the error of the estimate; 0 at a point with a measured value
	Used     int     // neighbours used; 0: nothing near, Value and Variance are 0
}

// ProbabilityBelow is the probability that the true value lies below the limit,
// the error of the estimate being taken as normally distributed. It is 0 or 1
// where there is no error, and one half where there is no estimate.
func (e Estimate) ProbabilityBelow(limit float64) float64 {
	switch {
	case e.Used == 0 || math.IsNaN(limit):
		return 0.5
	case e.Variance > 0:
		return 0.5 * math.Erfc((e.Value-limit)/math.Sqrt(2*e.Variance))
	case e.Value < limit:
		return 1
	}
	return 0
}

// What can keep an estimate from being made.
var (
	ErrFewPoints = errors.New("too few points")
	ErrNoSpread  = errors.New("all values are equal")
	ErrNoExtent  = errors.New("all points lie on one spot")
	ErrNoFit     = errors.New("no variogram model fits")
	ErrModel     = errors.New("not a variogram model")
	ErrNotFinite = errors.New("a number is not finite or out of reach")
	ErrTooMany   = errors.New("too many points to use all of them at once")
	ErrCollinear = errors.New("the columns of the trend depend on each other")
	ErrLengths   = errors.New("columns differ in length")
	ErrStopped   = errors.New("stopped")
)

// Numbers beyond these are taken for slips: their squares would overflow.
const (
	farthest = 1e12
	largest  = 1e60
)

// finite tells whether a point can be computed with.
func (p Point) finite() bool {
	return math.Abs(p.X) <= farthest && math.Abs(p.Y) <= farthest && math.Abs(p.V) <= largest && p.E >= 0 && p.E <= largest
}

// Shape is the form of a variogram model.
type Shape string

// The shapes. For Exponential the range is the distance parameter, at which
// 63 % of the sill is reached; three times that is called the practical range.
const (
	Spherical   Shape = "spherical"
	Exponential Shape = "exponential"
)

// Model is a variogram: nugget + partial sill × shape(distance / range).
type Model struct {
	Shape  Shape   `json:"shape"`
	Nugget float64 `json:"nugget"` // in squared units of the values
	Sill   float64 `json:"sill"`   // partial sill: what the structured part adds to the nugget
	Range  float64 `json:"range"`  // along the direction of longest range
	// AngleDeg is the direction of the longest range, clockwise from north
	// (the y axis); Ratio is the range across it by the range along it, above 0
	// up to 1. A Ratio of 0 is taken for 1: alike in all directions.
	AngleDeg float64 `json:"angle_deg"`
	Ratio    float64 `json:"ratio"`
}

// NuggetShare is the nugget as a share of the whole sill, 0 to 1.
func (m Model) NuggetShare() float64 {
	if m.Nugget+m.Sill == 0 {
		return 1
	}
	return m.Nugget / (m.Nugget + m.Sill)
}

// Check refuses models that cannot be used.
func (m Model) Check() error {
	for _, v := range []float64{m.Nugget, m.Sill, m.Range, m.AngleDeg, m.Ratio} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ErrNotFinite
		}
	}
	known := m.Shape == Spherical || m.Shape == Exponential
	if !known || m.Nugget < 0 || m.Sill < 0 || m.Nugget+m.Sill <= 0 || m.Range <= 0 || m.Ratio < 0 || m.Ratio > 1 {
		return ErrModel
	}
	return nil
}

// shape is the structured part at a distance, 0 to 1.
func (s Shape) shape(h, rng float64) float64 {
	t := h / rng
	if s == Exponential {
		return -math.Expm1(-t)
	}
	if t >= 1 {
		return 1
	}
	return t * (1.5 - 0.5*t*t)
}

// Gamma is the semivariance at a distance along the longest range; 0 at 0.
func (m Model) Gamma(h float64) float64 {
	if h == 0 {
		return 0
	}
	return m.Nugget + m.Sill*m.Shape.shape(h, m.Range)
}

// kernel is a model made ready for many distances: places are turned and
// stretched once, so that it is alike in all directions.
type kernel struct {
	Model
	x0, y0, sin, cos, stretch float64
	isotropic                 bool
}

func (m Model) kernel(x0, y0 float64) kernel {
	k := kernel{Model: m, x0: x0, y0: y0, isotropic: m.Ratio == 0 || m.Ratio == 1}
	if !k.isotropic {
		k.sin, k.cos = math.Sincos(m.AngleDeg * math.Pi / 180)
		k.stretch = 1 / m.Ratio
	}
	return k
}

// turned gives a place along and across the longest range, the latter stretched.
func (k *kernel) turned(x, y float64) (u, w float64) {
	x, y = x-k.x0, y-k.y0
	if k.isotropic {
		return x, y
	}
	return x*k.sin + y*k.cos, (x*k.cos - y*k.sin) * k.stretch
}

// whole is the variance of a single value: nugget and sill.
func (k *kernel) whole() float64 { return k.Nugget + k.Sill }

// fillCovariance turns squared distances between different places into
// covariances: the sill less the semivariance.
func (k *kernel) fillCovariance(d2 []float64) {
	if k.Shape == Exponential {
		for i, v := range d2 {
			d2[i] = k.Sill * math.Exp(-math.Sqrt(v)/k.Range)
		}
		return
	}
	inv := 1 / k.Range
	for i, v := range d2 {
		t := math.Sqrt(v) * inv
		if t >= 1 {
			d2[i] = 0
			continue
		}
		d2[i] = k.Sill * (1 - t*(1.5-0.5*t*t))
	}
}
