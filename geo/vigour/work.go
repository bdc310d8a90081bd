package vigour

import (
	"fmt"
	"math"

	"courson/geo/stand"
)

// work is a result in the making.
type work struct {
	*Result
	s        *stand.Stand
	o        Options
	in       Input
	order    []int32 // vines by address
	columns  []Column
	class    []uint8 // leaf class of each vine
	stopped  func() bool
	progress func(float64)

	known []known // vines with a value, for kriging, in order
}

// known is what kriging rests on: a value of a vine and the variance of the
// error that it carries beyond the nugget.
type known struct {
	vine  int32
	v, e  float64
	exact bool // weighed
}

// begin checks the input and makes an empty result.
func begin(in Input) (*work, error) {
	if in.Stand == nil || in.Stand.Ground == nil {
		return nil, fmt.Errorf("%w: there is no stand", ErrInput)
	}
	s, g := in.Stand, in.Stand.Ground
	n := g.Len()
	if len(g.X) != n || len(g.Y) != n {
		return nil, fmt.Errorf("%w: the ground of block %s has no positions in metres", ErrInput, g.Code)
	}
	o, err := in.Options.withDefaults(s.Rule)
	if err != nil {
		return nil, err
	}
	for i := range n {
		if v := float64(g.X[i]) + float64(g.Y[i]); math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%w: vine %s stands nowhere", ErrInput, g.Address(i))
		}
	}
	if err := checkColumn("weight", s.WeightG, nil, n); err != nil {
		return nil, err
	}
	cols, err := allColumns(s, in.Columns)
	if err != nil {
		return nil, err
	}
	if c := in.Covariate; c != nil {
		if err := checkColumn(c.Name, c.Values, c.Known, n); err != nil {
			return nil, err
		}
	}
	w := &work{s: s, o: o, in: in, order: byAddress(g), columns: cols, class: leafClasses(s), stopped: in.Stop, progress: in.Progress}
	if w.stopped == nil {
		w.stopped = func() bool { return false }
	}
	if w.progress == nil {
		w.progress = func(float64) {}
	}
	w.Result = &Result{Season: s.Season, KgPerM: filled(n), SE: filled(n), Basis: make([]Basis, n), From: make([]uint8, n),
		OccupiedM: OccupiedM(s), CaneG: filled(n), Class: make([]uint8, n), Limits: o.Limits}
	return w, nil
}

// filled is a column of so many vines without values.
func filled(n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

// living tells whether vine i has row to put a weight to.
func (w *work) living(i int32) bool { return w.s.Condition[i].Living() && w.OccupiedM[i] > 0 }

// put writes a value; weights below 0, which lines and kriging can give for very
// weak vines, count as 0.
func (w *work) put(i int32, basis Basis, kgPerM, variance float64) {
	w.KgPerM[i], w.SE[i], w.Basis[i] = float32(max(0, kgPerM)), float32(math.Sqrt(max(0, variance))), basis
}

// measure takes over what was weighed.
func (w *work) measure() {
	rounding := w.o.WeighingStepG / 1000 / math.Sqrt(12)
	for _, i := range w.order {
		g, m := w.s.WeightG[i], float64(w.OccupiedM[i])
		if g < 0 || !w.living(i) {
			continue
		}
		v := float64(g) / 1000 / m
		w.put(i, Measured, v, rounding*rounding/(m*m))
		w.known = append(w.known, known{vine: i, v: float64(w.KgPerM[i]), exact: true})
	}
}

// judge fills in what follows from the values.
func (w *work) judge() {
	canes, hasCanes := w.column("cane_count")
	for _, i := range w.order {
		w.Counts[w.Basis[i]]++
		if w.Basis[i] != None {
			w.Class[i] = w.Limits.Class(float64(w.KgPerM[i]))
		}
		if w.Basis[i] == Measured && hasCanes && canes.known(int(i)) && canes.Values[i] > 0 {
			w.CaneG[i] = w.s.WeightG[i] / canes.Values[i]
		}
	}
	w.Unlikely = unlikely(w.s, w.columns, w.OccupiedM, w.class, w.order)
	w.note()
}

// column finds the first column of a quantity.
func (w *work) column(quantity string) (Column, bool) {
	for _, c := range w.columns {
		if string(c.Quantity) == quantity {
			return c, true
		}
	}
	return Column{}, false
}
