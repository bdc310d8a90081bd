package patch

import (
	"fmt"
	"math"

	"courson/geo/stand"
)

// Column is one value for each vine of a stand. Seen says which vines have one;
// what stands in Value for the others is not looked at.
type Column struct {
	Value []float64
	Seen  []bool
}

// NewColumn makes a column of n vines without a value.
func NewColumn(n int) Column { return Column{make([]float64, n), make([]bool, n)} }

// ColumnOf makes a column of one of the stand's, in which below 0 is no value.
func ColumnOf(values []float32) Column {
	c := NewColumn(len(values))
	for i, v := range values {
		if v >= 0 {
			c.Set(i, float64(v))
		}
	}
	return c
}

// Set gives vine i a value.
func (c Column) Set(i int, v float64) { c.Value[i], c.Seen[i] = v, true }

// empty tells whether the column was left out.
func (c Column) empty() bool { return c.Value == nil && c.Seen == nil }

// tooLarge is beyond anything measured, and still small enough to be squared.
const tooLarge = 1e100

// check refuses columns of another length than the stand's and numbers that are
// none, or beyond all measure.
func (c Column) check(name string, s *stand.Stand) error {
	n := s.Ground.Len()
	if len(c.Value) != n || len(c.Seen) != n {
		return fmt.Errorf("block %s: %s: %d values and %d marks for %d vines: %w", s.Ground.Code, name, len(c.Value), len(c.Seen), n, ErrColumn)
	}
	for i, seen := range c.Seen {
		if v := c.Value[i]; seen && !(math.Abs(v) < tooLarge) {
			return fmt.Errorf("%s of vine %s: %w", name, s.Ground.Address(i), ErrNotFinite)
		}
	}
	return nil
}
