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
}

// Estimate is what kriging says of one place.
type Estimate struct {
	Value    float64
	Variance float64 // of the error of the estimate; 0 at a point with a value
	Used     int     // neighbours used; 0: nothing near, Value and Variance are 0
}

// What can keep an estimate from being made.
var (
	ErrFewPoints = errors.New("too few points")
	ErrNoSpread  = errors.New("all values are equal")
	ErrNoExtent  = errors.New("all points lie on one spot")
	ErrNoFit     = errors.New("no variogram model fits")
	ErrModel     = errors.New("not a variogram model")
	ErrNotFinite = errors.New("a number is not finite")
)

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
	Shape  Shape
	Nugget float64 // in squared units of the values
	Sill   float64 // partial sill: what the structured part adds to the nugget
	Range  float64 // along the direction of longest range
	// AngleDeg is the direction of the longest range, clockwise from north
	// (the y axis); Ratio is the range across it by the range along it, above 0
	// up to 1. A Ratio of 0 is taken for 1: alike in all directions.
	AngleDeg float64
	Ratio    float64
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

// kernel is a model made ready for many distances.
type kernel struct {
	Model
	sin, cos, stretch float64
	isotropic         bool
}

func (m Model) kernel() kernel {
	k := kernel{Model: m, isotropic: m.Ratio == 0 || m.Ratio == 1, stretch: 1}
	if !k.isotropic {
		k.sin, k.cos = math.Sincos(m.AngleDeg * math.Pi / 180)
		k.stretch = 1 / m.Ratio
	}
	return k
}

// covariance of two points dx, dy apart: the sill less the semivariance.
func (k *kernel) covariance(dx, dy float64) float64 {
	if dx == 0 && dy == 0 {
		return k.Nugget + k.Sill
	}
	if !k.isotropic {
		along := dx*k.sin + dy*k.cos
		across := (dx*k.cos - dy*k.sin) * k.stretch
		dx, dy = along, across
	}
	return k.Sill * (1 - k.Shape.shape(math.Sqrt(dx*dx+dy*dy), k.Range))
}
