// Package patch tells weak and strong areas from chance, and what changed since
// another season.
//
// Find compares each vine with what its leaf and cultivar lead one to expect,
// asks of each whether its surroundings differ from the block (the local statistic
// Gi*), corrects for the number of vines looked at (false discovery rate), takes
// sound vines off the rim and joins the rest to patches with an outline on the
// ground. Moran's I says for the whole block whether there is structure at all.
// It is meant for values seen vine by vine: kriged values are smooth by
// construction, and tested like this they give patches in pure noise. For
// sampled blocks Likely gives areas of another type. Change pairs two seasons
// vine by vine, by leaf and cultivar.
//
// Formulae: J. K. Ord and A. Getis, Geographical Analysis 27, 1995 (Gi*, with
// the vine itself counted and the variance divided by n); A. D. Cliff and J. K.
// Ord, Spatial Processes, 1981 (Moran's I); Y. Benjamini and Y. Hochberg, J. R.
// Stat. Soc. B 57, 1995 (false discovery rate); F. Wilcoxon, Biometrics Bulletin
// 1, 1945; J. L. Hodges and E. L. Lehmann, Ann. Math. Stat. 34, 1963. The tests
// repeat the results of R and its package spdep.
package patch

import (
	"errors"
	"fmt"
	"math"
)

// What can keep a test from being made.
var (
	ErrFewValues = errors.New("too few values")
	ErrNoSpread  = errors.New("all values are equal")
	ErrReach     = errors.New("not a neighbourhood")
	ErrNotFinite = errors.New("a number is not finite")
	ErrColumn    = errors.New("a column does not fit the vines")
	ErrSampled   = errors.New("a sample, not every vine")
	ErrOption    = errors.New("an option is out of range")
)

// Reach is the neighbourhood of a vine: an ellipse in metres along and across
// the rows. With both equal it is a circle.
type Reach struct {
	AlongM, AcrossM float64
	// AzimuthDeg is the direction of the rows, clockwise from north.
	AzimuthDeg float64
}

func (r Reach) check() error {
	for _, v := range []float64{r.AlongM, r.AcrossM, r.AzimuthDeg} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("reach %+v: %w", r, ErrNotFinite)
		}
	}
	if r.AlongM <= 0 || r.AcrossM <= 0 {
		return fmt.Errorf("reach of %g m along and %g m across rows: %w", r.AlongM, r.AcrossM, ErrReach)
	}
	return nil
}

// fewest values for which the normal approximation is worth anything; chosen by us.
const fewest = 8

// check refuses what cannot be tested.
func check(x, y, v []float64, r Reach) error {
	if err := r.check(); err != nil {
		return err
	}
	if len(x) != len(v) || len(y) != len(v) {
		return fmt.Errorf("%d places and %d values: %w", len(x), len(v), ErrFewValues)
	}
	if len(v) < fewest {
		return fmt.Errorf("%d values, at least %d are needed: %w", len(v), fewest, ErrFewValues)
	}
	for i := range v {
		if s := x[i] + y[i] + v[i]; math.IsNaN(s) || math.IsInf(s, 0) {
			return fmt.Errorf("value %d: %w", i, ErrNotFinite)
		}
	}
	for _, w := range v[1:] {
		if w != v[0] {
			return nil
		}
	}
	return ErrNoSpread
}
