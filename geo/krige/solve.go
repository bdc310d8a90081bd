package krige

import "math"

// factor overwrites the lower triangle of the n × n matrix a (row by row) with
// its Cholesky factor. False where the matrix is not positive definite.
func factor(a []float64, n int) bool {
	for j := range n {
		rj := a[j*n : j*n+j+1]
		d := rj[j]
		for _, v := range rj[:j] {
			d -= v * v
		}
		if !(d > 0) {
			return false
		}
		d = math.Sqrt(d)
		rj[j] = d
		inv := 1 / d
		for i := j + 1; i < n; i++ {
			ri := a[i*n : i*n+j+1]
			s := ri[j]
			for k, v := range rj[:j] {
				s -= ri[k] * v
			}
			ri[j] = s * inv
		}
	}
	return true
}

// forward solves L y = b in place, L being the factor.
func forward(a []float64, n int, b []float64) {
	for i := range n {
		row := a[i*n : i*n+i+1]
		s := b[i]
		for k, v := range row[:i] {
			s -= v * b[k]
		}
		b[i] = s / row[i]
	}
}

// dot is the sum of products.
func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// forwardFrom is forward where b is 0 before its entry from.
func forwardFrom(a []float64, n int, b []float64, from int) {
	for i := from; i < n; i++ {
		row := a[i*n : i*n+i+1]
		s := b[i]
		for k := from; k < i; k++ {
			s -= row[k] * b[k]
		}
		b[i] = s / row[i]
	}
}
