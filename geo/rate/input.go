package rate

import (
	"fmt"
	"math"
	"strings"

	"courson/geo/stand"
)

// Column is one value for each vine: vigour of a season in kg/m, or samples of
// an image. Seasons and images whose scales differ may stand side by side: each
// column is brought to mean 0 and standard deviation 1 within the block.
type Column struct {
	Name   string // as people know it: "vigour of 2027"
	Unit   string // "kg/m"; empty for an index
	Values []float32
	SE     []float32 // standard errors in the same unit, below 0 where not known; nil: none
	Known  []bool    // nil: where Values is 0 or above
	Weight float64   // against the other columns; 0 counts as 1
}

func (c *Column) known(i int) bool {
	if c.Known == nil {
		return c.Values[i] >= 0
	}
	return c.Known[i]
}

func (c *Column) weight() float64 {
	if c.Weight == 0 {
		return 1
	}
	return c.Weight
}

// check refuses a column that does not fit n vines or holds no numbers.
func (c *Column) check(n int) error {
	if len(c.Values) != n || c.Known != nil && len(c.Known) != n || c.SE != nil && len(c.SE) != n {
		return refuse(ErrInput, "column %q has %d values, %d standard errors and %d marks for %s", c.Name, len(c.Values), len(c.SE), len(c.Known), vines(n))
	}
	if !(c.Weight >= 0) || math.IsInf(c.Weight, 0) {
		return refuse(ErrOption, "column %q: weight %g is not a number from 0 up", c.Name, c.Weight)
	}
	for i, v := range c.Values {
		bad := c.Known == nil && v != v || c.known(i) && !finite(float64(v))
		if bad || c.SE != nil && c.known(i) && !finite(float64(c.SE[i])) {
			return refuse(ErrNotFinite, "column %q, vine %d: the value or its standard error is not a number; mark the vine as not known", c.Name, i)
		}
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Scaling is how a column was brought to one scale: z = (value - Mean) / SD.
type Scaling struct {
	Name   string  `json:"name"`
	Vines  int     `json:"vines"` // living vines with a value
	Mean   float64 `json:"mean"`
	SD     float64 `json:"sd"` // divisor n
	Weight float64 `json:"weight"`
	Used   bool    `json:"used"` // false: all its values are equal
}

// features are the columns of the vines that have a value in all of them, on one
// scale, each times the root of its weight, d numbers for each vine.
type features struct {
	d     int
	vines []int32
	z     []float64
	scale []Scaling // of all columns, used or not
	cols  []int     // columns used
	in    []Column
	notes []string
}

// read standardises the columns of a stand. Only living vines count: what an
// image sees where no vine stands is not vigour.
func read(s *stand.Stand, columns []Column) (*features, error) {
	if s == nil || s.Ground == nil || s.Ground.Len() == 0 {
		return nil, refuse(ErrInput, "no vines were given")
	}
	if len(columns) == 0 {
		return nil, refuse(ErrFewValues, "no column of values was given")
	}
	f := &features{in: columns}
	for k := range columns {
		if err := columns[k].check(s.Ground.Len()); err != nil {
			return nil, err
		}
		sc := scaling(s, &columns[k])
		f.scale = append(f.scale, sc)
		switch {
		case sc.Used:
			f.cols = append(f.cols, k)
		case sc.Vines == 0:
			return nil, refuse(ErrFewValues, "column %q has no value of a living vine; leave it out or give it values", sc.Name)
		default:
			f.notes = append(f.notes, fmt.Sprintf("Column %q was left out: its values are all equal.", sc.Name))
		}
	}
	if len(f.cols) == 0 {
		return nil, refuse(ErrNoSpread, "the values of all living vines are equal (%s): there is nothing to tell zones apart by", names(columns))
	}
	f.d = len(f.cols)
	f.fill(s)
	if len(f.vines) < 2 {
		return nil, refuse(ErrFewValues, "%s with a value in each of %s: zones need at least 2; leave a column out", vines(len(f.vines)), names(columns))
	}
	return f, nil
}

func names(columns []Column) string {
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = fmt.Sprintf("%q", c.Name)
	}
	return strings.Join(out, ", ")
}

// scaling takes mean and deviation in two passes, about the first value, so that
// large values with little spread lose no digits.
func scaling(s *stand.Stand, c *Column) Scaling {
	sc := Scaling{Name: c.Name, Weight: c.weight()}
	var base, sum, square float64
	least, most := math.Inf(1), math.Inf(-1)
	for i, v := range c.Values {
		if !s.Condition[i].Living() || !c.known(i) {
			continue
		}
		if sc.Vines == 0 {
			base = float64(v)
		}
		sc.Vines++
		d := float64(v) - base
		sum, square = sum+d, square+d*d
		least, most = min(least, float64(v)), max(most, float64(v))
	}
	if sc.Vines == 0 {
		return sc
	}
	n := float64(sc.Vines)
	sc.Mean = base + sum/n
	sc.SD = math.Sqrt(max(0, square/n-sum/n*(sum/n)))
	sc.Used = most > least && sc.SD > 0
	return sc
}

func (f *features) fill(s *stand.Stand) {
	row := make([]float64, f.d)
	for i := range s.Condition {
		if s.Condition[i].Living() && f.at(i, row) == f.d {
			f.vines = append(f.vines, int32(i))
			f.z = append(f.z, row...)
		}
	}
}

// at writes the standardised values of vine i, NaN where not known, and gives
// how many are known.
func (f *features) at(i int, row []float64) (known int) {
	for j, k := range f.cols {
		row[j] = math.NaN()
		if c := &f.in[k]; c.known(i) {
			row[j] = (float64(c.Values[i]) - f.scale[k].Mean) / f.scale[k].SD * math.Sqrt(f.scale[k].Weight)
			known++
		}
	}
	return known
}

// se writes the standard errors of vine i on the scale of at, 0 where not known;
// ok is false where none is.
func (f *features) se(i int, row []float64) (ok bool) {
	for j, k := range f.cols {
		row[j] = 0
		if c := &f.in[k]; c.SE != nil && c.known(i) && c.SE[i] >= 0 {
			row[j] = float64(c.SE[i]) / f.scale[k].SD * math.Sqrt(f.scale[k].Weight)
			ok = true
		}
	}
	return ok
}

// blend is one number for a vine or a centre: the weighted mean of its
// standardised values, of those that are known.
func (f *features) blend(row []float64) float64 {
	var sum, weight float64
	for j, k := range f.cols {
		if w := f.scale[k].Weight; row[j] == row[j] {
			sum, weight = sum+math.Sqrt(w)*row[j], weight+w
		}
	}
	if weight == 0 {
		return 0
	}
	return sum / weight
}
