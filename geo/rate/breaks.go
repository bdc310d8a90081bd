package rate

import (
	"math"
	"slices"
)

// Natural are the classes of one column of values with the least sum of squares
// within them.
type Natural struct {
	Upper    []float64 // the largest value of each class, rising; the last is the maximum
	Means    []float64
	Sizes    []int
	WithinSS float64
	TotalSS  float64
}

// Explained is the share of the variance between the classes, 0 to 1: one less
// within over total (goodness of variance fit).
func (n *Natural) Explained() float64 {
	if n.TotalSS <= 0 {
		return 0
	}
	return max(0, 1-n.WithinSS/n.TotalSS)
}

// Class gives the class 0 to k-1 of a value: the first class whose largest value
// is not below it, the last for values above all.
func (n *Natural) Class(v float64) int {
	c := 0
	for c+1 < len(n.Upper) && v > n.Upper[c] {
		c++
	}
	return c
}

// NaturalBreaks gives the best partition of values into k classes, exactly, and
// those into fewer: entry j has j+1 classes. Equal values are one point with a
// weight; values lie where they are, nothing is rounded (W. D. Fisher, J. Am.
// Stat. Assoc. 53, 1958; G. F. Jenks, Int. Yearbook of Cartography 7, 1967). The
// best last border rises with the number of points, so that each layer is solved
// by halves in n log n steps. Errors: ErrOption for k below 1, ErrFewValues,
// ErrNotFinite, ErrDistinct.
func NaturalBreaks(values []float64, k int) ([]Natural, error) {
	if k < 1 || k > mostClasses {
		return nil, refuse(ErrOption, "%d classes asked for: 1 to %d are possible", k, mostClasses)
	}
	if len(values) == 0 {
		return nil, refuse(ErrFewValues, "no values to cut into classes")
	}
	for i, v := range values {
		if !finite(v) {
			return nil, refuse(ErrNotFinite, "value %d is not a number", i)
		}
	}
	p := newPoints(values)
	if len(p.v) < k {
		return nil, refuse(ErrDistinct, "%d classes asked for, but there are only %d different values: ask for fewer", k, len(p.v))
	}
	return p.solve(k), nil
}

const mostClasses = 254

// points are the different values with sums over all up to each.
type points struct {
	v           []float64
	n           []int // values up to and including point i-1; n[0] = 0
	sum, square []float64
	centre      float64
}

func newPoints(values []float64) *points {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	p := &points{n: []int{0}, sum: []float64{0}, square: []float64{0}}
	var total float64
	for _, v := range sorted {
		total += v / float64(len(sorted))
	}
	p.centre = total
	for i, v := range sorted {
		d := v - p.centre
		if i > 0 && v == sorted[i-1] {
			last := len(p.v)
			p.n[last]++
			p.sum[last] += d
			p.square[last] += d * d
			continue
		}
		last := len(p.v)
		p.v = append(p.v, v)
		p.n = append(p.n, p.n[last]+1)
		p.sum = append(p.sum, p.sum[last]+d)
		p.square = append(p.square, p.square[last]+d*d)
	}
	return p
}

// within is the sum of squares of points lo to hi-1 about their mean.
func (p *points) within(lo, hi int) float64 {
	n := float64(p.n[hi] - p.n[lo])
	s := p.sum[hi] - p.sum[lo]
	return max(0, p.square[hi]-p.square[lo]-s*s/n)
}

// solve fills one layer after the other: best[i] is the least sum of squares of
// the first i points in so many classes, from[i] where the last class begins.
func (p *points) solve(k int) []Natural {
	m := len(p.v)
	best := make([]float64, m+1)
	from := make([][]int32, k)
	for i := 1; i <= m; i++ {
		best[i] = p.within(0, i)
	}
	out := []Natural{p.natural([]int{0, m})}
	for c := 1; c < k; c++ {
		next := make([]float64, m+1)
		from[c] = make([]int32, m+1)
		p.layer(best, next, from[c], c+1, m, c, m-1)
		best = next
		out = append(out, p.natural(trace(from[:c+1], m)))
	}
	return out
}

// layer solves for the first lo to hi points, the last class beginning at a to b.
func (p *points) layer(best, next []float64, from []int32, lo, hi, a, b int) {
	if lo > hi {
		return
	}
	mid := (lo + hi) / 2
	least, at := math.Inf(1), a
	for j := a; j <= min(b, mid-1); j++ {
		if s := best[j] + p.within(j, mid); s < least {
			least, at = s, j
		}
	}
	next[mid], from[mid] = least, int32(at)
	p.layer(best, next, from, lo, mid-1, a, at)
	p.layer(best, next, from, mid+1, hi, at, b)
}

// trace gives where the classes begin, and the end.
func trace(from [][]int32, m int) []int {
	starts := []int{m}
	for c := len(from) - 1; c >= 1; c-- {
		m = int(from[c][m])
		starts = append(starts, m)
	}
	starts = append(starts, 0)
	slices.Reverse(starts)
	return starts
}

func (p *points) natural(starts []int) Natural {
	n := Natural{TotalSS: p.within(0, len(p.v))}
	for c := 0; c+1 < len(starts); c++ {
		lo, hi := starts[c], starts[c+1]
		size := p.n[hi] - p.n[lo]
		n.Upper = append(n.Upper, p.v[hi-1])
		n.Sizes = append(n.Sizes, size)
		n.Means = append(n.Means, p.centre+(p.sum[hi]-p.sum[lo])/float64(size))
		n.WithinSS += p.within(lo, hi)
	}
	return n
}
