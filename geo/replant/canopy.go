package replant

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
)

// Thin is a place whose canopy index lies far under its neighbours'.
type Thin struct {
	Vine   int32
	Score  float32 // 0.5 at the limit, 1 at twice the limit and beyond
	Value  float64
	Around float64 // median of the neighbours to the lower side
}

// Rests tells in words what the score rests on.
func (t *Thin) Rests() string {
	return fmt.Sprintf("%.4g, where the places beside it have %.4g", t.Value, t.Around)
}

// Chosen by us: as neighbours count up to 8 places to each side in the row, at
// least 4 of them, and a side with at least 2; and a drop of less than a fifth of their index is none,
// however even the block.
const (
	thinReach    = 8
	thinFewest   = 4
	thinSide     = 2
	thinLeastCut = 0.2
)

// outlier is the modified z-score beyond which a value is taken for an outlier:
// 3.5 (Iglewicz B., Hoaglin D., How to Detect and Handle Outliers, ASQC, 1993,
// from memory).
const outlier = 3.5

// ThinPlaces compares the canopy index of each place with the median of its
// neighbours along the row, on the side where that is lower: so that neither a weak
// corner of a block is a row of gaps nor its edge one. Runs of up to 4 gaps are
// found; longer ones look like weak ground. The differences of all places are made modified z-scores: 0.6745 × (difference -
// median) ÷ median absolute deviation; where that deviation is 0, difference ÷
// (1.2533 × mean absolute deviation). Places whose score is from or more are given,
// in order; 0.5 is -3.5. values has one value for each position, NaN where the image had none.
func ThinPlaces(g *stand.Ground, values []float64, from float64) (out []Thin) {
	var at []int32
	var diff, around []float64
	for _, row := range g.Rows {
		for k := range row.Count {
			i := row.First + k
			if m, ok := beside(values[row.First:row.First+row.Count], k); ok && !math.IsNaN(values[i]) {
				at, around, diff = append(at, int32(i)), append(around, m), append(diff, values[i]-m)
			}
		}
	}
	if len(at) == 0 {
		return nil
	}
	middle, spread := spreadOf(diff)
	if spread == 0 {
		return nil
	}
	for k, i := range at {
		z := (middle - diff[k]) / spread
		if z >= 2*outlier*from && -diff[k] >= thinLeastCut*math.Abs(around[k]) {
			out = append(out, Thin{Vine: i, Score: float32(min(1, z/(2*outlier))), Value: values[i], Around: around[k]})
		}
	}
	return out
}

// beside gives the lower of the medians of a place's neighbours to each side.
func beside(row []float64, k int) (m float64, ok bool) {
	m = math.Inf(1)
	n := 0
	for _, side := range [][]float64{row[max(0, k-thinReach):k], row[k+1 : min(len(row), k+1+thinReach)]} {
		values := slices.DeleteFunc(slices.Clone(side), math.IsNaN)
		n += len(values)
		if len(values) >= thinSide {
			m = min(m, median(values))
		}
	}
	return m, n >= thinFewest && !math.IsInf(m, 1)
}

// spreadOf gives the median and the spread around it, which is that of a normal
// error where the differences have one.
func spreadOf(values []float64) (middle, spread float64) {
	middle = median(slices.Clone(values))
	away, sum := make([]float64, len(values)), 0.0
	for i, v := range values {
		away[i] = math.Abs(v - middle)
		sum += away[i]
	}
	if spread = median(away) / 0.6745; spread > 0 {
		return middle, spread
	}
	return middle, 1.2533 * sum / float64(len(values))
}
