package replant

import (
	"maps"
	"slices"
)

// Rules say what makes a position a candidate.
type Rules struct {
	// WeakWinters in a row, the present one included, make a vine a candidate; 0:
	// never. Default 3 (chosen by us: one drought year is no reason).
	WeakWinters int `json:"weak_winters"`
	// WeakClass is the class of vigour up to which a vine is weak. Default 1 (chosen
	// by us).
	WeakClass int `json:"weak_class"`
	// WeakFromLeaf: younger plants are small by nature. Default 4 (common practice:
	// full crop from leaf 4 to 5).
	WeakFromLeaf int `json:"weak_from_leaf"`
	// Sick says what each kind of sickness leads to; kinds that are not listed are
	// watched.
	Sick map[string]SickRule `json:"sick"`
	// Along and Across are how many places in the row and how many rows away the
	// neighbours of an infected vine are tested. Defaults 2 and 1 (chosen by us;
	// that neighbours in and across the row are looked at: igws.co.za leafroll fact
	// sheets 9 and 11).
	Along  int `json:"test_along"`
	Across int `json:"test_across"`
}

// SickRule is what a kind of sickness leads to.
type SickRule struct {
	Replace bool   `json:"replace"`
	Test    bool   `json:"test_neighbours"` // it spreads from vine to vine
	Source  string `json:"source"`
}

// Kinds of sickness that the defaults know.
const (
	KindLeafroll   = "leafroll"
	KindRedBlotch  = "red blotch"
	KindEsca       = "esca"
	KindEutypa     = "eutypa"
	KindCrownGall  = "crown gall"
	KindFlavescens = "flavescence doree"
)

// DefaultRules gives the defaults. A vine with trunk disease is watched, not
// condemned: an arm may be retrained from a healthy cane, a trunk from a sucker.
func DefaultRules() Rules {
	return Rules{WeakWinters: 3, WeakClass: 1, WeakFromLeaf: 4, Along: 2, Across: 1, Sick: map[string]SickRule{
		KindLeafroll:   {Replace: true, Test: true, Source: srcLeafroll},
		KindRedBlotch:  {Replace: true, Test: true, Source: srcRedBlotch},
		KindFlavescens: {Replace: true, Test: true, Source: srcPractice},
		KindEsca:       {Source: srcPractice},
		KindEutypa:     {Source: srcPractice},
		KindCrownGall:  {Source: srcPractice},
	}}
}

// Check refuses rules out of range; the error wraps ErrSettings.
func (r Rules) Check() error {
	for _, c := range []struct {
		field       string
		v, low, top int
	}{
		{"weak_winters", r.WeakWinters, 0, 20}, {"weak_class", r.WeakClass, 1, 5}, {"weak_from_leaf", r.WeakFromLeaf, 1, 60},
		{"test_along", r.Along, 0, 20}, {"test_across", r.Across, 0, 20},
	} {
		if c.v < c.low || c.v > c.top {
			return wrong(ErrSettings, c.field, c.v, spanText(c.low, c.top))
		}
	}
	for _, k := range slices.Sorted(maps.Keys(r.Sick)) {
		if k == "" {
			return wrong(ErrSettings, "sick", "a kind without a name", "a name")
		}
	}
	return nil
}
