package krige

import (
	"fmt"
	"math"
)

// Neighbours says which points an estimate rests on.
type Neighbours struct {
	Most   int     // nearest so many; 0: all. Equal distances: the point that comes first
	Radius float64 // and none farther than this; 0: any distance
	// Step rounds distances before they are compared, so that on a planting grid
	// neighbours at one distance are ties and not ordered by rounding errors. 0:
	// distances are compared as they are.
	Step float64
}

// Limits of one set of equations; chosen by us: their cost is the cube of the
// points, their memory the square.
const (
	mostWhole = 4000 // points, where all are used
	mostLocal = 1000 // neighbours, where a radius names them: the nearest count
)

// Field is a set of points with a model, ready to give estimates. It may be
// used by several goroutines at once, each through a Worker of its own.
type Field struct {
	points []Point   // those on one spot joined
	u, w   []float64 // the points as the kernel turns them
	kernel kernel
	near   Neighbours
	grid   *grid
	whole  *system // where all points are used: factored once
}

// NewField prepares ordinary kriging. Points on one spot are joined to their
// mean, since two values at one place make the equations singular.
//
// A point's own error E is added to the variance of its value alone, not to its
// covariances (N. Cressie, Statistics for Spatial Data, 1993, section 3.2.1;
// with errors that differ from point to point: W. F. Christensen, Environmetrics
// 22, 2011, filtered kriging): such points weigh less, and at the place of one
// the estimate leans on its neighbours too.
//
// Errors: ErrFewPoints under 2 points, ErrNoExtent where they are on one spot,
// ErrModel, ErrNotFinite, ErrTooMany above 4,000 points with neither a number
// nor a radius.
func NewField(points []Point, m Model, near Neighbours) (*Field, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	if near.Most < 0 || !(near.Radius >= 0) || !(near.Step >= 0) || math.IsInf(near.Step, 0) {
		return nil, fmt.Errorf("neighbours %+v: %w", near, ErrModel)
	}
	if len(points) < 2 {
		return nil, fmt.Errorf("kriging from %d points: %w", len(points), ErrFewPoints)
	}
	if _, err := diagonal(points); err != nil {
		return nil, err
	}
	f := &Field{points: joined(points), near: near}
	f.grid = newGrid(f.points)
	f.kernel = m.kernel(f.grid.x0, f.grid.y0)
	f.u, f.w = make([]float64, len(f.points)), make([]float64, len(f.points))
	for i, p := range f.points {
		f.u[i], f.w[i] = f.kernel.turned(p.X, p.Y)
	}
	if near.Most == 0 && near.Radius == 0 {
		return f, f.takeWhole()
	}
	return f, nil
}

func (f *Field) takeWhole() error {
	n := len(f.points)
	if n > mostWhole {
		return fmt.Errorf("kriging from all of %d points, at most %d: %w", n, mostWhole, ErrTooMany)
	}
	f.whole = &system{}
	if !f.whole.prepare(f, everyOne(n)) {
		return fmt.Errorf("kriging from %d points: the equations cannot be solved: %w", n, ErrModel)
	}
	return nil
}

// Points gives the points that estimates rest on, those on one spot joined. It
// is not to be changed.
func (f *Field) Points() []Point { return f.points }

// Model gives the field's variogram model.
func (f *Field) Model() Model { return f.kernel.Model }

func everyOne(n int) []found {
	all := make([]found, n)
	for i := range all {
		all[i].i = int32(i)
	}
	return all
}

// joined gives the points with those on one spot replaced by their mean, in
// order of first appearance.
func joined(points []Point) []Point {
	first := make(map[[2]float64]int, len(points))
	count := make([]float64, 0, len(points))
	out := make([]Point, 0, len(points))
	for _, p := range points {
		k := [2]float64{p.X, p.Y}
		i, ok := first[k]
		if !ok {
			first[k] = len(out)
			out, count = append(out, p), append(count, 1)
			continue
		}
		n := count[i] + 1
		out[i].V += (p.V - out[i].V) / n
		out[i].E = (out[i].E*count[i]*count[i] + p.E) / (n * n)
		count[i] = n
	}
	return out
}

// system is the kriging equations of one set of neighbours: the factor of their
// covariances, and the values and ones taken through it.
type system struct {
	n      int
	a      []float64
	v, u   []float64 // factor⁻¹ values, factor⁻¹ ones
	x, y   []float64 // turned places
	mean   float64   // best estimate of the local mean
	oneOne float64
}

// prepare sets the equations up and factors them.
func (s *system) prepare(f *Field, near []found) bool {
	n := len(near)
	s.n = n
	s.a, s.v, s.u, s.x, s.y = sized(s.a, n*n), sized(s.v, n), sized(s.u, n), sized(s.x, n), sized(s.y, n)
	for i, p := range near {
		s.x[i], s.y[i] = f.u[p.i], f.w[p.i]
	}
	// Where rounding makes near-equal places singular, a trace of nugget helps.
	for _, trace := range []float64{0, 1e-10, 1e-6} {
		if s.factor(f, near, trace) {
			break
		} else if trace == 1e-6 {
			return false
		}
	}
	for i, p := range near {
		s.v[i], s.u[i] = f.points[p.i].V, 1
	}
	forward(s.a, n, s.v)
	forward(s.a, n, s.u)
	s.oneOne = dot(s.u, s.u)
	s.mean = dot(s.u, s.v) / s.oneOne
	return true
}

func (s *system) factor(f *Field, near []found, trace float64) bool {
	n := s.n
	whole := f.kernel.whole()
	for i := range n {
		xi, yi := s.x[i], s.y[i]
		row := s.a[i*n : i*n+i+1]
		for j := range i {
			dx, dy := s.x[j]-xi, s.y[j]-yi
			row[j] = dx*dx + dy*dy
		}
		f.kernel.fillCovariance(row[:i])
		row[i] = whole*(1+trace) + f.points[near[i].i].E
	}
	return factor(s.a, n)
}

func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// estimate gives value and variance at a turned place from the prepared
// equations. at is the neighbour that lies there, -1 for none; noise is the
// part of the nugget that belongs to the thing estimated.
func (s *system) estimate(f *Field, u, w float64, at int, noise float64, c []float64) Estimate {
	for i := range s.n {
		dx, dy := s.x[i]-u, s.y[i]-w
		c[i] = dx*dx + dy*dy
	}
	f.kernel.fillCovariance(c)
	whole := f.kernel.Sill + noise
	if at >= 0 {
		c[at] = whole
	}
	forward(s.a, s.n, c)
	rest := 1 - dot(c, s.u)
	e := Estimate{
		Value:    dot(c, s.v) + s.mean*rest,
		Variance: max(0, whole-dot(c, c)+rest*rest/s.oneOne),
		Used:     s.n,
	}
	if math.IsNaN(e.Value) || math.IsInf(e.Value, 0) || math.IsNaN(e.Variance) || math.IsInf(e.Variance, 0) {
		return Estimate{}
	}
	return e
}

// Worker gives estimates of one field, one after the other, without allocating.
type Worker struct {
	f   *Field
	s   search
	own system
	c   []float64
}

// Worker makes a worker; one for each goroutine.
func (f *Field) Worker() *Worker {
	w := &Worker{f: f, s: search{g: f.grid, most: f.near.Most, radius: f.near.Radius, step: f.near.Step, skip: -1}}
	if w.s.most == 0 {
		w.s.most = mostLocal
		if f.whole != nil {
			w.s.most = len(f.points)
		}
	}
	w.s.most = min(w.s.most, len(f.points))
	return w
}

// At estimates the value at a place. At a point with a measured value it gives
// that value with variance 0. Where no point is near enough, or the place is no
// number, Used is 0.
func (w *Worker) At(x, y float64) Estimate { return w.estimate(x, y, false) }

// Smooth estimates the value at a place without what the nugget adds: the trend
// of the place, not the single point. Away from the points the value is that of
// At; at them it does not follow the point's own value alone. Its variance is
// that of the trend, which is what a statement about an area rests on.
func (w *Worker) Smooth(x, y float64) Estimate { return w.estimate(x, y, true) }

func (w *Worker) estimate(x, y float64, smooth bool) Estimate {
	f := w.f
	if !(Point{X: x, Y: y}).finite() {
		return Estimate{}
	}
	at, noise := -1, f.kernel.Nugget
	if smooth {
		noise = 0
	}
	sys, near := f.whole, []found(nil)
	if sys == nil || w.s.skip >= 0 {
		if near = w.s.near(x, y); len(near) == 0 {
			return Estimate{}
		}
		sys = &w.own
	}
	if i := f.grid.find(x, y); i >= 0 && i != w.s.skip {
		if p := f.points[i]; p.E == 0 && (!smooth || f.kernel.Nugget == 0) {
			return Estimate{Value: p.V, Used: max(len(near), f.wholeSize())}
		}
		at = indexOf(near, i)
	}
	if sys == &w.own && !sys.prepare(f, near) {
		return Estimate{}
	}
	w.c = sized(w.c, sys.n)
	u, v := f.kernel.turned(x, y)
	return sys.estimate(f, u, v, at, noise, w.c)
}

func (f *Field) wholeSize() int {
	if f.whole == nil {
		return 0
	}
	return f.whole.n
}

// indexOf gives where point i stands among the neighbours; without neighbours
// all points are meant.
func indexOf(near []found, i int32) int {
	if near == nil {
		return int(i)
	}
	for k, f := range near {
		if f.i == i {
			return k
		}
	}
	return -1
}
