package vine

import (
	"fmt"
	"math"
)

// Quantity names what was measured. Values are kept in the base unit named here.
type Quantity string

// The quantities.
const (
	PruningWeight Quantity = "pruning_weight" // g of one-year wood cut off one vine
	CaneCount     Quantity = "cane_count"     // canes of one vine
	ShootCount    Quantity = "shoot_count"    // shoots of one vine, counted some weeks after budburst
	CaneDiameter  Quantity = "cane_diameter"  // mm, mean of one vine
	ShootLength   Quantity = "shoot_length"   // cm, mean of one vine
	TrunkGirth    Quantity = "trunk_girth"    // mm around the trunk
	VisualScore   Quantity = "visual_score"   // a score on the scale named with it, 1 weakest
	Yield         Quantity = "yield"          // g of fruit of one vine
	CanopyIndex   Quantity = "canopy_index"   // of an image, on the scale named with it
)

// limit is the base unit of a quantity and the range beyond which a value is
// impossible. The ranges are wide guards against slips, chosen by us.
type limit struct {
	unit     string
	min, max float64
}

func limitOf(q Quantity) (limit, bool) {
	switch q {
	case PruningWeight:
		return limit{"g", 0, 20_000}, true
	case CaneCount:
		return limit{"canes", 0, 300}, true
	case ShootCount:
		return limit{"shoots", 0, 300}, true
	case CaneDiameter:
		return limit{"mm", 0, 60}, true
	case ShootLength:
		return limit{"cm", 0, 1_000}, true
	case TrunkGirth:
		return limit{"mm", 0, 3_000}, true
	case VisualScore:
		return limit{"score", 0, 100}, true
	case Yield:
		return limit{"g", 0, 200_000}, true
	case CanopyIndex:
		return limit{"index", -1_000_000, 1_000_000}, true
	}
	return limit{}, false
}

// Unit gives the base unit of a quantity, "" for one that is not known.
func (q Quantity) Unit() string {
	l, _ := limitOf(q)
	return l.unit
}

// Limits gives the range in base units beyond which a value is impossible, two
// zeros for a quantity that is not known.
func (q Quantity) Limits() (least, most float64) {
	l, _ := limitOf(q)
	return l.min, l.max
}

// Measure is the body of a measure event: one value for every vine of the
// target, or one value per vine in the order of the target's vines.
type Measure struct {
	Quantity Quantity  `json:"quantity"`
	Unit     string    `json:"unit"`            // the base unit of the quantity
	Scale    string    `json:"scale,omitempty"` // of a score or index: "1-5", "NDVI" …; of a converted value: the unit it was written in
	Value    *float64  `json:"value,omitempty"`
	Values   []float64 `json:"values,omitempty"`
	// Classes and Counts keep a count that was made by classes as it was made,
	// such as canes by diameter ("6-8 mm"): for each vine, in the order of Values,
	// how many fell into each class. Its value is their sum.
	Classes []string `json:"classes,omitempty"`
	Counts  [][]int  `json:"counts,omitempty"`
}

// Kind is KindMeasure.
func (Measure) Kind() Kind { return KindMeasure }

// Check refuses an unknown quantity, a foreign unit, values that do not match
// the vines in number, and values that are impossible.
func (m Measure) Check(n int) error {
	l, ok := limitOf(m.Quantity)
	switch {
	case !ok:
		return fmt.Errorf("%w: quantity %q is not known", ErrBadEvent, m.Quantity)
	case m.Unit != l.unit:
		return fmt.Errorf("%w: %s is kept in %s, not in %q", ErrBadEvent, m.Quantity, l.unit, m.Unit)
	case (m.Value == nil) == (len(m.Values) == 0):
		return fmt.Errorf("%w: a measure has either value or values", ErrBadEvent)
	case len(m.Values) > 0 && len(m.Values) != n:
		return fmt.Errorf("%w: %d values for %d vines", ErrBadEvent, len(m.Values), n)
	}
	if m.Value != nil {
		if len(m.Classes)+len(m.Counts) > 0 {
			return fmt.Errorf("%w: counts by classes go with values, one for each vine", ErrBadEvent)
		}
		return l.check(m.Quantity, *m.Value)
	}
	for _, v := range m.Values {
		if err := l.check(m.Quantity, v); err != nil {
			return err
		}
	}
	return m.checkClasses()
}

// mostClasses is how many classes a count may have; chosen by us.
const mostClasses = 50

// checkClasses refuses counts that do not add up to the value.
func (m Measure) checkClasses() error {
	switch {
	case len(m.Classes) == 0 && len(m.Counts) == 0:
		return nil
	case m.Quantity != CaneCount:
		return fmt.Errorf("%w: %s is not counted by classes", ErrBadEvent, m.Quantity)
	case len(m.Classes) == 0 || len(m.Classes) > mostClasses:
		return fmt.Errorf("%w: %d classes (1 to %d)", ErrBadEvent, len(m.Classes), mostClasses)
	case len(m.Counts) != len(m.Values):
		return fmt.Errorf("%w: counts of %d vines for %d values", ErrBadEvent, len(m.Counts), len(m.Values))
	}
	for i, counts := range m.Counts {
		if len(counts) != len(m.Classes) {
			return fmt.Errorf("%w: %d counts for %d classes", ErrBadEvent, len(counts), len(m.Classes))
		}
		sum := 0.0
		for _, n := range counts {
			if n < 0 {
				return fmt.Errorf("%w: a count of %d is impossible", ErrBadEvent, n)
			}
			sum += float64(n)
		}
		if sum != m.Values[i] {
			return fmt.Errorf("%w: the counts by classes add up to %g, not %g", ErrBadEvent, sum, m.Values[i])
		}
	}
	return nil
}

func (l limit) check(q Quantity, v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < l.min || v > l.max {
		return fmt.Errorf("%w: %s of %g %s is impossible (%g to %g)", ErrBadEvent, q, v, l.unit, l.min, l.max)
	}
	return nil
}

// For gives the value for the i-th vine of the target.
func (m Measure) For(i int) float64 {
	if m.Value != nil {
		return *m.Value
	}
	return m.Values[i]
}

// at is For without trust in the length of Values.
func (m Measure) at(i int) (v float64, ok bool) {
	if m.Value == nil && i >= len(m.Values) {
		return 0, false
	}
	return m.For(i), true
}
