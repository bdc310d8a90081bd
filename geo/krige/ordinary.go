package krige

import (
	"fmt"
	"math"
)

// Neighbours says which points an estimate rests on.
type Neighbours struct {
	Most   int     // nearest so many; 0: all. Equal distances: the point that comes first
	Radius float64 // and none farther than this; 0: any distance
}

// Field is a set of points with a model, ready to give estimates. It may be
// used by several goroutines at once, each through a Worker of its own.
type Field struct {
	points []Point
	kernel kernel
	near   Neighbours
	grid   *grid
	whole  *system // where all points are used: factored once
}

// NewField prepares ordinary kriging. Points on one spot are joined to their
// mean, since two values at one place make the equations singular. Errors:
// ErrFewPoints under 2 points, ErrModel, ErrNotFinite.
func NewField(points []Point, m Model, near Neighbours) (*Field, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	if near.Most < 0 || near.Radius < 0 || math.IsNaN(near.Radius) {
		return nil, fmt.Errorf("neighbours %+v: %w", near, ErrModel)
	}
	points = joined(points)
	if len(points) < 2 {
		return nil, fmt.Errorf("kriging from %d points: %w", len(points), ErrFewPoints)
	}
	if _, err := diagonal(points); err != nil {
		return nil, err
	}
	f := &Field{points: points, kernel: m.kernel(), near: near, grid: newGrid(points)}
	if near.Most == 0 && near.Radius == 0 {
		f.whole = &system{}
		all := make([]found, len(points))
		for i := range all {
			all[i].i = int32(i)
		}
		if !f.whole.prepare(f, all) {
			return nil, fmt.Errorf("kriging from %d points: equations cannot be solved: %w", len(points), ErrModel)
		}
	}
	return f, nil
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
		count[i]++
		out[i].V += (p.V - out[i].V) / count[i]
	}
	return out
}

// system is the kriging equations of one set of neighbours: the factor of their
// covariances, and the values and ones taken through it.
type system struct {
	n      int
	a      []float64
	v, u   []float64 // factor⁻¹ values, factor⁻¹ ones
	c      []float64
	mean   float64 // best estimate of the local mean
	oneOne float64
}

// prepare sets the equations up and factors them.
func (s *system) prepare(f *Field, near []found) bool {
	n := len(near)
	s.n = n
	s.a, s.v, s.u, s.c = sized(s.a, n*n), sized(s.v, n), sized(s.u, n), sized(s.c, n)
	whole := f.kernel.Nugget + f.kernel.Sill
	for i := range n {
		p := &f.points[near[i].i]
		s.v[i], s.u[i] = p.V, 1
		for j := range i {
			q := &f.points[near[j].i]
			s.a[i*n+j] = f.kernel.covariance(p.X-q.X, p.Y-q.Y)
		}
		s.a[i*n+i] = whole
	}
	if !factor(s.a, n) {
		return false
	}
	forward(s.a, n, s.v)
	forward(s.a, n, s.u)
	s.oneOne = dot(s.u, s.u)
	s.mean = dot(s.u, s.v) / s.oneOne
	return true
}

func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// estimate gives value and variance at a place from the prepared equations.
func (s *system) estimate(f *Field, near []found, x, y float64, c []float64) Estimate {
	for i := range s.n {
		p := &f.points[near[i].i]
		c[i] = f.kernel.covariance(p.X-x, p.Y-y)
	}
	forward(s.a, s.n, c)
	rest := 1 - dot(c, s.u)
	return Estimate{
		Value:    dot(c, s.v) + s.mean*rest,
		Variance: max(0, f.kernel.Nugget+f.kernel.Sill-dot(c, c)+rest*rest/s.oneOne),
		Used:     s.n,
	}
}

// Worker gives estimates of one field, one after the other, without allocating.
type Worker struct {
	f   *Field
	s   search
	own system
	c   []float64
	all []found
}

// Worker makes a worker; one for each goroutine.
func (f *Field) Worker() *Worker {
	w := &Worker{f: f, s: search{g: f.grid, most: f.near.Most, radius: f.near.Radius, skip: -1}}
	if w.s.most == 0 || w.s.most > len(f.points) {
		w.s.most = len(f.points)
	}
	if f.whole != nil {
		w.c = make([]float64, len(f.points))
		w.all = make([]found, len(f.points))
		for i := range w.all {
			w.all[i].i = int32(i)
		}
	}
	return w
}

// At estimates the value at a place. At a point with a value it gives that value
// with variance 0. Where no point is near enough, Used is 0.
func (w *Worker) At(x, y float64) Estimate {
	if w.f.whole != nil && w.s.skip < 0 {
		return w.settle(w.f.whole.estimate(w.f, w.all, x, y, w.c), x, y)
	}
	near := w.s.near(x, y)
	if len(near) == 0 {
		return Estimate{}
	}
	if near[0].d2 == 0 {
		return Estimate{Value: w.f.points[near[0].i].V, Used: len(near)}
	}
	if !w.own.prepare(w.f, near) {
		return Estimate{}
	}
	w.c = sized(w.c, len(near))
	return w.own.estimate(w.f, near, x, y, w.c)
}

// settle puts exact values at the points themselves, where rounding would leave
// some 1e-16.
func (w *Worker) settle(e Estimate, x, y float64) Estimate {
	c := w.f.grid
	if x < c.x0 || y < c.y0 || int((x-c.x0)/c.cell) >= c.columns || int((y-c.y0)/c.cell) >= c.lines {
		return e
	}
	cell := c.at(Point{X: x, Y: y})
	for _, i := range c.order[c.start[cell]:c.start[cell+1]] {
		if p := w.f.points[i]; p.X == x && p.Y == y {
			return Estimate{Value: p.V, Used: e.Used}
		}
	}
	return e
}
