package vigour

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Column is one quantity measured on some vines of a block, in the quantity's
// base unit.
type Column struct {
	Quantity vine.Quantity
	Scale    string // of an index or a score, where one is named: "NDVI"; else ""
	Values   []float32
	Known    []bool // nil: where Values is 0 or above
}

func (c Column) known(i int) bool {
	if c.Known == nil {
		return c.Values[i] >= 0
	}
	return c.Known[i]
}

// Columns gathers readings of a block's vines into columns, one for each
// quantity and scale.
type Columns struct {
	n    int
	cols []Column
}

// NewColumns begins columns for so many vines.
func NewColumns(vines int) *Columns { return &Columns{n: vines} }

// Set puts in what was read on vine i. Pruning weights are left out: those are
// the stand's; so are shoots counted in spring, which tell of this winter's nodes
// and not of last year's growth; so is a reading that is no number. The unit that a value was
// written in makes no column of its own: values are in the base unit.
func (c *Columns) Set(i int, q vine.Quantity, r vine.Reading) {
	if q != vine.CanopyIndex && q != vine.VisualScore {
		r.Scale = ""
	}
	v := float32(r.Value)
	if q == vine.PruningWeight || q == vine.ShootCount || math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return
	}
	at := slices.IndexFunc(c.cols, func(o Column) bool { return o.Quantity == q && o.Scale == r.Scale })
	if at < 0 {
		at = len(c.cols)
		c.cols = append(c.cols, Column{Quantity: q, Scale: r.Scale, Values: make([]float32, c.n), Known: make([]bool, c.n)})
	}
	c.cols[at].Values[i], c.cols[at].Known[i] = v, true
}

// SetState puts in all that a vine's state holds. A visual score is left to the
// stand, which has it on the estate's scale.
func (c *Columns) SetState(i int, st vine.State) {
	for q, r := range st.Measures {
		if q != vine.VisualScore {
			c.Set(i, q, r)
		}
	}
}

// All gives the columns, by quantity and scale.
func (c *Columns) All() []Column {
	sortColumns(c.cols)
	return c.cols
}

func sortColumns(cols []Column) {
	slices.SortStableFunc(cols, func(a, b Column) int {
		if a.Quantity != b.Quantity {
			return compare(string(a.Quantity), string(b.Quantity))
		}
		return compare(a.Scale, b.Scale)
	})
}

func compare(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// allColumns gives the input's columns and the stand's own, checked.
func allColumns(s *stand.Stand, given []Column) ([]Column, error) {
	n := s.Ground.Len()
	has := func(q vine.Quantity) bool {
		return slices.ContainsFunc(given, func(c Column) bool { return c.Quantity == q })
	}
	out := slices.Clone(given)
	if !has(vine.VisualScore) {
		out = append(out, Column{Quantity: vine.VisualScore, Values: s.Score})
	}
	if !has(vine.Yield) {
		out = append(out, Column{Quantity: vine.Yield, Values: s.YieldG})
	}
	for _, c := range out {
		if err := checkColumn(string(c.Quantity), c.Values, c.Known, n); err != nil {
			return nil, err
		}
		if c.Quantity.Unit() == "" || c.Quantity == vine.PruningWeight {
			return nil, fmt.Errorf("%w: %q is not a quantity to calibrate from", ErrInput, c.Quantity)
		}
	}
	sortColumns(out)
	return out, nil
}

func checkColumn(name string, values []float32, known []bool, n int) error {
	if len(values) != n || known != nil && len(known) != n {
		return fmt.Errorf("%w: column %s has %d values for %d vines", ErrInput, name, len(values), n)
	}
	for i, v := range values {
		if f := float64(v); (known == nil || known[i]) && (math.IsNaN(f) || math.IsInf(f, 0)) {
			return fmt.Errorf("%w: column %s, vine %d: %g is not a number", ErrInput, name, i, v)
		}
	}
	return nil
}
