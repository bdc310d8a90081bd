package patch

import (
	"math"
	"sync"
)

// field is places turned and stretched so that the reach is the unit circle,
// sorted into cells one unit wide: neighbours are in the nine cells around.
type field struct {
	columns, lines int
	start          []int32
	order          []int32   // places by cell
	u, w           []float64 // turned places, in order
	v              []float64 // values, in order
	// form is the reach of each place where rows turn, in order; nil where the
	// reach is the unit circle everywhere.
	form []form
}

// form is an ellipse: places with uu du² + 2 uw du dw + ww dw² up to 1.
type form struct{ uu, uw, ww float64 }

// newField makes a field. Where along is not nil it gives each place's own
// direction of the row, length 1; the reach is then turned with it.
func newField(x, y, v []float64, r Reach, along []XY) *field {
	n := len(x)
	s, c := math.Sincos(r.AzimuthDeg * math.Pi / 180)
	u, w := make([]float64, n), make([]float64, n)
	u0, w0, u1, w1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range x {
		u[i] = (x[i]*s + y[i]*c) / r.AlongM
		w[i] = (x[i]*c - y[i]*s) / r.AcrossM
		u0, u1 = min(u0, u[i]), max(u1, u[i])
		w0, w1 = min(w0, w[i]), max(w1, w[i])
	}
	forms, far := formsOf(r, XY{s, c}, along)
	// Cells wider than the reach where places lie far apart, to bound their number.
	cell := max(far, math.Sqrt((u1-u0+1)*(w1-w0+1)/float64(4*n+16)))
	f := &field{columns: int((u1-u0)/cell) + 1, lines: int((w1-w0)/cell) + 1}
	f.fill(u, w, v, func(i int) int { return int((w[i]-w0)/cell)*f.columns + int((u[i]-u0)/cell) })
	if forms != nil {
		f.form = make([]form, n)
		for k, i := range f.order {
			f.form[k] = forms[i]
		}
	}
	return f
}

// formsOf gives each place's reach in units of the block's, and how far the
// longest stretches.
func formsOf(r Reach, block XY, along []XY) (forms []form, far float64) {
	if along == nil {
		return nil, 1
	}
	forms, far = make([]form, len(along)), 1
	ratio := r.AcrossM / r.AlongM
	for i, d := range along {
		c, s := d.dot(block), -block.cross(d)
		forms[i] = form{c*c + s*s/(ratio*ratio), c * s * (ratio - 1/ratio), c*c + s*s*ratio*ratio}
		far = max(far, math.Sqrt(forms[i].uu), math.Sqrt(forms[i].ww))
	}
	return forms, far
}

func (f *field) fill(u, w, v []float64, cell func(i int) int) {
	n := len(u)
	f.start = make([]int32, f.columns*f.lines+1)
	at := make([]int32, n)
	for i := range u {
		at[i] = int32(cell(i))
		f.start[at[i]+1]++
	}
	for i := 1; i < len(f.start); i++ {
		f.start[i] += f.start[i-1]
	}
	next := append([]int32(nil), f.start[:len(f.start)-1]...)
	f.order, f.u, f.w, f.v = make([]int32, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range u {
		k := next[at[i]]
		next[at[i]]++
		f.order[k], f.u[k], f.w[k], f.v[k] = int32(i), u[i], w[i], v[i]
	}
}

// slack widens the reach a little: distances on a planting grid are equal but
// for rounding, and a neighbour at the very edge counts.
const slack = 1 + 1e-9

// near tells whether j is in the reach of k. Where reaches differ it is their
// mean that counts, so that neighbours are neighbours either way.
func (f *field) near(k, j int) bool {
	du, dw := f.u[j]-f.u[k], f.w[j]-f.w[k]
	if f.form == nil {
		return du*du+dw*dw <= slack
	}
	a, b := f.form[k], f.form[j]
	return (a.uu+b.uu)*du*du+2*(a.uw+b.uw)*du*dw+(a.ww+b.ww)*dw*dw <= 2*slack
}

// eachCell calls do for the places lo to hi of every cell of line l.
func (f *field) eachCell(l int, do func(column, lo, hi int)) {
	for c := range f.columns {
		k := l*f.columns + c
		if lo, hi := int(f.start[k]), int(f.start[k+1]); lo < hi {
			do(c, lo, hi)
		}
	}
}

// around gives the runs of places in the three cells of each of the three lines
// around a cell.
func (f *field) around(column, line int, runs *[3][2]int) int {
	n := 0
	for l := max(0, line-1); l <= min(f.lines-1, line+1); l++ {
		base := l * f.columns
		runs[n] = [2]int{int(f.start[base+max(0, column-1)]), int(f.start[base+min(f.columns-1, column+1)+1])}
		n++
	}
	return n
}

// inParallel shares lines of cells among workers. Each line is done by one.
func (f *field) inParallel(workers int, do func(line int)) {
	var wg sync.WaitGroup
	workers = max(1, min(workers, f.lines))
	for k := range workers {
		wg.Go(func() {
			for l := k; l < f.lines; l += workers {
				do(l)
			}
		})
	}
	wg.Wait()
}

// sums calls found for every place k with the number of its neighbours, itself
// counted, and the sum of their values.
func (f *field) sums(line int, found func(k, count int, sum float64)) {
	var runs [3][2]int
	f.eachCell(line, func(column, lo, hi int) {
		n := f.around(column, line, &runs)
		for k := lo; k < hi; k++ {
			count, sum := 0, 0.0
			uk, wk := f.u[k], f.w[k]
			for _, run := range runs[:n] {
				if f.form != nil {
					for j := run[0]; j < run[1]; j++ {
						if f.near(k, j) {
							count++
							sum += f.v[j]
						}
					}
					continue
				}
				for j := run[0]; j < run[1]; j++ {
					du, dw := f.u[j]-uk, f.w[j]-wk
					if du*du+dw*dw <= slack {
						count++
						sum += f.v[j]
					}
				}
			}
			found(k, count, sum)
		}
	})
}

// neighbours calls found for every neighbour j of place k, itself left out.
func (f *field) neighbours(line int, found func(k, j int)) {
	var runs [3][2]int
	f.eachCell(line, func(column, lo, hi int) {
		n := f.around(column, line, &runs)
		for k := lo; k < hi; k++ {
			for _, run := range runs[:n] {
				for j := run[0]; j < run[1]; j++ {
					if j != k && f.near(k, j) {
						found(k, j)
					}
				}
			}
		}
	})
}
