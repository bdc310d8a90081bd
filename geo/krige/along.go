package krige

import (
	"fmt"
	"math"
)

// mostPairwise is how many points a variogram is measured from; of more, a
// Sample of so many is taken. Chosen by us: 4.5 million pairs, some 50 ms.
const mostPairwise = 3000

// FitAlong fits both shapes with a longest range along or across the given
// direction (degrees clockwise from north), from the variograms of the pairs
// within 45° of the one and of the other, and gives the best. Of more than 3,000
// points a Sample of 3,000 is used.
//
// The ratio of ranges is searched from 1 down to 0.25 in steps of 0.05; it stays
// 1 unless that lowers the objective by a tenth. Both are chosen by us: ranges
// alike in all directions are the simpler belief, and single fields in a block
// of a few ranges' width often look longer drawn than they are. (Common practice
// for vines is a range along the row 1.5 to 2 times that across it.) Without edges they are those of
// Empirical. Errors as Empirical and FitModel.
func FitAlong(points []Point, angleDeg float64, edges []float64) (Fit, error) {
	if math.IsNaN(angleDeg) || math.IsInf(angleDeg, 0) {
		return Fit{}, fmt.Errorf("variogram along %g°: %w", angleDeg, ErrNotFinite)
	}
	points = Sample(points, mostPairwise)
	edges, err := Bins{Edges: edges}.edges(points)
	if err != nil {
		return Fit{}, err
	}
	sides := twoWays(points, angleDeg, edges)
	out, err := best(func(s Shape) (Fit, error) { return fitLags(s, sides.lags(1, false), angleDeg, 1) })
	if err != nil {
		return Fit{}, err
	}
	for _, across := range []bool{false, true} {
		angle := angleDeg
		if across {
			angle = math.Mod(angleDeg+90, 360)
		}
		for step := 19; step >= 5; step-- {
			ratio := float64(step) / 20
			got, err := best(func(s Shape) (Fit, error) { return fitLags(s, sides.lags(ratio, across), angle, ratio) })
			if err == nil && got.Objective < out.Objective*unlessAlike(out.Ratio) {
				out = got
			}
		}
	}
	return out, nil
}

// unlessAlike is how much better than a fit of the given ratio another must be.
func unlessAlike(ratio float64) float64 {
	if ratio == 1 {
		return 0.9
	}
	return 1
}

// ways are distance classes with the mean squares of the pairs' distances along
// and across a direction, so that a ratio can be tried without the pairs.
type ways []struct {
	Bin
	along2, across2 float64
}

// justSo lets pairs at 45° belong to both ways whatever their rounding.
const justSo = 1 - 1e-9

// twoWays measures the classes along and across the direction. A pair at 45°
// belongs to both.
func twoWays(points []Point, angleDeg float64, edges []float64) ways {
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	n := len(edges)
	tallies := [2]*tally{newTally(edges), newTally(edges)}
	var along2, across2 [2][]float64
	for d := range 2 {
		along2[d], across2[d] = make([]float64, n), make([]float64, n)
	}
	for i, p := range points {
		for _, q := range points[:i] {
			dx, dy := p.X-q.X, p.Y-q.Y
			k, h := tallies[0].class(dx, dy)
			if k < 0 {
				continue
			}
			a, c := dx*sin+dy*cos, dx*cos-dy*sin
			a, c = a*a, c*c
			for d := range 2 {
				if d == 0 && a >= c*justSo || d == 1 && c >= a*justSo {
					tallies[d].add(k, h, p, q)
					along2[d][k] += a
					across2[d][k] += c
				}
			}
		}
	}
	var out ways
	for d, t := range tallies {
		k := 0
		for _, b := range t.bins() {
			for t.pairs[k] == 0 {
				k++
			}
			out = append(out, struct {
				Bin
				along2, across2 float64
			}{b, along2[d][k], across2[d][k]})
			k++
		}
	}
	return out
}

// lags gives the classes with distances as a model of the given ratio sees them,
// its longest range along the direction or across it.
func (w ways) lags(ratio float64, across bool) []lag {
	out := make([]lag, len(w))
	for i, b := range w {
		long, short := b.along2, b.across2
		if across {
			long, short = short, long
		}
		stretch := math.Sqrt((long + short/(ratio*ratio)) / (long + short))
		out[i] = lag{b.Dist * stretch, b.Gamma, float64(b.Pairs) / (b.Dist * b.Dist)}
	}
	return out
}
