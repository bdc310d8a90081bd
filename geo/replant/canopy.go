package replant

import (
	"math"
	"slices"

	"courson/geo/stand"
)

// Thin is a place whose canopy index lies far under its neighbours'.
type Thin struct {
	Vine   int32
	Score  float32 // 0.5 at the limit, 1 at twice the limit and beyond
	Value  float64
	Around float64 // median of its neighbours
}

// Chosen by us: as neighbours count up to 5 places to each side in the row, at
// least 4 of them; and a drop of less than a fifth of their index is none,
// however even the block.
const (
	thinReach    = 5
	thinFewest   = 4
	thinLeastCut = 0.2
)

// outlier is the modified z-score beyond which a value is taken for an outlier:
// 3.5 (Iglewicz B., Hoaglin D., How to Detect and Handle Outliers, ASQC, 1993,
// from memory).
const outlier = 3.5

// ThinPlaces compares the canopy index of each place with the median of its
// neighbours along the row: so that a weak corner of a block is no row of gaps. The
// differences of all places are made modified z-scores: 0.6745 × (difference -
// median) ÷ median absolute deviation; where that deviation is 0, difference ÷
// (1.2533 × mean absolute deviation). Places that lie beyond -3.5 are given, in
// order. values has one value for each position, NaN where the image had none.
func ThinPlaces(g *stand.Ground, values []float64) (out []Thin) {
	var at []int32
	var diff, around []float64
	var nearby []float64
	for _, row := range g.Rows {
		for k := range row.Count {
			i := row.First + k
			if math.IsNaN(values[i]) {
				continue
			}
			nearby = nearby[:0]
			for j := max(0, k-thinReach); j <= min(row.Count-1, k+thinReach); j++ {
				if v := values[row.First+j]; j != k && !math.IsNaN(v) {
					nearby = append(nearby, v)
				}
			}
			if len(nearby) >= thinFewest {
				m := median(nearby)
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
		if z >= outlier && -diff[k] >= thinLeastCut*math.Abs(around[k]) {
			out = append(out, Thin{Vine: i, Score: float32(min(1, z/(2*outlier))), Value: values[i], Around: around[k]})
		}
	}
	return out
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
