package stand

import (
	"math"
	"strconv"
	"strings"
)

// VigourLimits are the pruning weights per metre of occupied row, in kg/m, at
// which the classes 2, 3, 4 and 5 begin.
type VigourLimits [4]float64

// DefaultVigourLimits gives the limits for a single vertical canopy:
//
//   - from 0.15: half the limit below; chosen by us, to tell vines that need
//     rebuilding from those that are only below balance
//   - from 0.30 (0.2 lb/ft): good for a single canopy, below it is weak with gaps
//     in the canopy (from memory: Smart and Robinson, Sunlight into Wine, 1991;
//     eastern US handbooks)
//   - from 0.60 (0.4 lb/ft): the upper end of good for a single canopy (from
//     memory, the same; warm-climate balance reaches 0.5 to 1.0)
//   - from 1.00 (0.67 lb/ft): excessive, shaded; consider a divided canopy (from
//     memory, the same)
//
// They are planning figures: a divided canopy or another climate has its own.
func DefaultVigourLimits() VigourLimits { return VigourLimits{0.15, 0.30, 0.60, 1.00} }

// Class gives the class 1 (weakest) to 5 of a pruning weight per metre, judged
// to the tenth of a gram.
func (l VigourLimits) Class(kgPerM float64) uint8 {
	kgPerM = math.Round(kgPerM*1e4) / 1e4
	class := uint8(1)
	for _, limit := range l {
		if kgPerM >= limit {
			class++
		}
	}
	return class
}

// Scale is a scale of visual scores; its lowest score is the weakest vine.
type Scale struct{ Min, Max float64 }

// DefaultScale is the scale where the estate names none.
func DefaultScale() Scale { return Scale{1, 5} }

// ParseScale reads "1-5" or "0-10"; ok is false for any other text.
func ParseScale(text string) (s Scale, ok bool) {
	low, high, found := strings.Cut(strings.TrimSpace(text), "-")
	if !found {
		return Scale{}, false
	}
	var errLow, errHigh error
	s.Min, errLow = strconv.ParseFloat(strings.TrimSpace(low), 64)
	s.Max, errHigh = strconv.ParseFloat(strings.TrimSpace(high), 64)
	ok = errLow == nil && errHigh == nil && s.Min < s.Max && !math.IsInf(s.Min, 0) && !math.IsInf(s.Max, 0)
	if !ok {
		return Scale{}, false
	}
	return s, true
}

// Class gives the class 1 to 5 of a score: the scale cut into five equal parts.
// A score beside the scale counts as its nearest end.
func (s Scale) Class(score float64) uint8 {
	part := math.Floor(5 * (score - s.Min) / (s.Max - s.Min))
	return uint8(1 + max(0, min(4, part)))
}

// Convert brings a score from another scale to this one, in proportion.
func (s Scale) Convert(score float64, from Scale) float64 {
	if s == from {
		return score
	}
	return s.Min + (score-from.Min)/(from.Max-from.Min)*(s.Max-s.Min)
}

// Rule says how measures become a class of vigour.
type Rule struct {
	Limits VigourLimits
	Scale  Scale // of visual scores on this estate
}

// DefaultRule is the rule of a new stand.
func DefaultRule() Rule { return Rule{DefaultVigourLimits(), DefaultScale()} }

// Class judges by the pruning weight where the vine was weighed and the metres
// of row it occupies are known, else by the score; 0 where there is neither.
// Weight (g) and score are below 0 where not known.
func (r Rule) Class(weightG, occupiedM, score float64) uint8 {
	switch {
	case weightG >= 0 && occupiedM > 0:
		return r.Limits.Class(weightG / 1000 / occupiedM)
	case score >= 0:
		return r.Scale.Class(score)
	}
	return 0
}
