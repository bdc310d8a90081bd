package vigour

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Oddity is a value that is possible but not likely: to be looked at again, not
// to be left out.
type Oddity struct {
	Vine     int           `json:"-"` // index in the ground
	Quantity vine.Quantity `json:"quantity"`
	Value    float64       `json:"value"` // in the base unit
	Why      string        `json:"why"`
}

// usual is the range beyond which a value is unlikely anywhere, in the unit given.
type usual struct {
	least, most float64
	unit        string
	perMetre    bool
}

// usualOf gives the wide marks beyond which a value is asked about, chosen by us
// around published ranges:
//
//   - weight up to 2 kg/m: above 1.0 is excessive (from memory: Smart and
//     Robinson, Sunlight into Wine, 1991)
//   - canes up to 60 per metre: about 15 shoots per metre are usual (common
//     practice)
//   - cane diameter 3 to 20 mm: canes are scored by diameter between 7 and 15 mm
//     (Practical Winery & Vineyard, June 2017)
//   - shoot length 10 to 400 cm: 0.9 to 2.1 m is normal (extension handbooks)
//   - trunk girth 20 to 800 mm: 160 mm is a trunk 5 cm thick
//   - yield up to 40 kg per vine: A. G. Strickland's 125 vines of 1930 bore at
//     most 7.5 kg
//   - NDVI from -1 to 1 by its formula (NIR - R) / (NIR + R)
func usualOf(q vine.Quantity, scale string, rule stand.Rule) (usual, bool) {
	switch q {
	case vine.PruningWeight:
		return usual{0, 2000, "g/m", true}, true
	case vine.CaneCount:
		return usual{0, 60, "canes/m", true}, true
	case vine.CaneDiameter:
		return usual{3, 20, "mm", false}, true
	case vine.ShootLength:
		return usual{10, 400, "cm", false}, true
	case vine.TrunkGirth:
		return usual{20, 800, "mm", false}, true
	case vine.Yield:
		return usual{0, 40_000, "g", false}, true
	case vine.VisualScore:
		return usual{rule.Scale.Min, rule.Scale.Max, "score", false}, scale == ""
	}
	return usual{-1, 1, "index", false}, scale == "NDVI"
}

// Mean weights of a cane that are asked about, g: under 10 g is very weak, over
// 60 g excessive (from memory); the marks are chosen by us.
const (
	leastCaneG = 2
	mostCaneG  = 150
)

// farOut is the robust deviate beyond which a value is an outlier to be looked
// at: 0.6745 (x − median) / MAD above 3.5 (B. Iglewicz, D. C. Hoaglin, How to
// Detect and Handle Outliers, 1993; NIST/SEMATECH e-Handbook, 1.3.5.17).
const farOut = 3.5

// fewestToJudge is how many vines of a leaf class a value is compared with;
// chosen by us.
const fewestToJudge = 10

// Unlikely finds the values of a stand and of further columns that are possible
// but not likely: beyond what is usual anywhere, or far from the other vines of
// the same age in the block.
func Unlikely(s *stand.Stand, columns []Column) ([]Oddity, error) {
	cols, err := allColumns(s, columns)
	if err != nil {
		return nil, err
	}
	if err := checkColumn("weight", s.WeightG, nil, s.Ground.Len()); err != nil {
		return nil, err
	}
	return unlikely(s, cols, OccupiedM(s), leafClasses(s), byAddress(s.Ground)), nil
}

func unlikely(s *stand.Stand, columns []Column, occupiedM []float32, class []uint8, order []int32) []Oddity {
	all := append([]Column{{Quantity: vine.PruningWeight, Values: s.WeightG}}, columns...)
	rank := make([]int32, len(order))
	for at, i := range order {
		rank[i] = int32(at)
	}
	out := canesAgainstWeight(s, all, order)
	for _, c := range all {
		out = append(out, oddIn(s, c, occupiedM, class, order)...)
	}
	slices.SortStableFunc(out, func(a, b Oddity) int { return cmp.Compare(rank[a.Vine], rank[b.Vine]) })
	return out
}

// oddIn looks through one column.
func oddIn(s *stand.Stand, c Column, occupiedM []float32, class []uint8, order []int32) (out []Oddity) {
	limits, limited := usualOf(c.Quantity, c.Scale, s.Rule)
	byClass := map[uint8][]reading{}
	for _, i := range order {
		if !c.known(int(i)) || !s.Condition[i].Living() {
			continue
		}
		r := reading{i, float64(c.Values[i])}
		if limited && limits.perMetre {
			if occupiedM[i] <= 0 {
				continue
			}
			r.v /= float64(occupiedM[i])
		}
		if limited && (r.v < limits.least || r.v > limits.most) {
			out = append(out, Oddity{int(i), c.Quantity, float64(c.Values[i]),
				fmt.Sprintf("%.4g %s; %g to %g is usual", r.v, limits.unit, limits.least, limits.most)})
			continue
		}
		byClass[class[i]] = append(byClass[class[i]], r)
	}
	for k := range uint8(grownUp + 1) {
		for _, r := range outlying(byClass[k]) {
			out = append(out, Oddity{int(r.vine), c.Quantity, float64(c.Values[r.vine]),
				fmt.Sprintf("far from the %d vines of the block in their %s", len(byClass[k]), leafWords(k))})
		}
	}
	return out
}

type reading struct {
	vine int32
	v    float64
}

// outlying gives the readings whose robust deviate is beyond farOut. Where half
// of the readings are equal, and the MAD is 0, the mean deviation stands in for it
// (the same authors: divisor 1.253314 × mean deviation).
func outlying(readings []reading) (out []reading) {
	if len(readings) < fewestToJudge {
		return nil
	}
	values := make([]float64, len(readings))
	for k, r := range readings {
		values[k] = r.v
	}
	middle := median(values)
	sum := 0.0
	for k, r := range readings {
		values[k] = math.Abs(r.v - middle)
		sum += values[k]
	}
	spread := median(values) / 0.6745
	if spread == 0 {
		spread = 1.253314 * sum / float64(len(values))
	}
	for _, r := range readings {
		if spread > 0 && math.Abs(r.v-middle)/spread > farOut {
			out = append(out, r)
		}
	}
	return out
}

// median sorts its argument.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// canesAgainstWeight holds weights against the number of canes.
func canesAgainstWeight(s *stand.Stand, columns []Column, order []int32) (out []Oddity) {
	at := slices.IndexFunc(columns, func(c Column) bool { return c.Quantity == vine.CaneCount })
	if at < 0 {
		return nil
	}
	canes := columns[at]
	for _, i := range order {
		g := float64(s.WeightG[i])
		if g < 0 || !canes.known(int(i)) || !s.Condition[i].Living() {
			continue
		}
		n := float64(canes.Values[i])
		switch {
		case n == 0 && g > 0:
			out = append(out, Oddity{int(i), vine.CaneCount, n, fmt.Sprintf("no canes, but %g g of prunings", g)})
		case n > 0 && (g/n < leastCaneG || g/n > mostCaneG):
			out = append(out, Oddity{int(i), vine.PruningWeight, g, fmt.Sprintf("%.3g g a cane; %d to %d g is usual", g/n, leastCaneG, mostCaneG)})
		}
	}
	return out
}
