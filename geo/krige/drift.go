package krige

import (
	"fmt"
	"math"
)

// Drift is a trend: a value that depends linearly on what else is known of a
// place, fitted by ordinary least squares. A column of ones must be among the
// covariates where a constant is wanted.
type Drift struct {
	Coef  []float64 // one for each covariate
	SE    []float64 // standard errors of the coefficients
	N     int
	Sigma float64 // standard error of the regression: root of residual squares by N − coefficients
	R2    float64 // share of the variance around the mean that is explained, 0 to 1
	r     []float64
}

// FitDrift fits values to rows of covariates. Errors: ErrLengths, ErrNotFinite,
// ErrFewPoints with fewer than one value more than covariates, ErrCollinear
// where one covariate follows from the others (or is 0 everywhere).
func FitDrift(values []float64, covariates [][]float64) (*Drift, error) {
	n, p, err := shapeOf(values, covariates)
	if err != nil {
		return nil, err
	}
	q := make([][]float64, p)
	for j := range q {
		q[j] = make([]float64, n)
		for i := range n {
			q[j][i] = covariates[i][j]
		}
	}
	d := &Drift{N: n, Coef: make([]float64, p), SE: make([]float64, p), r: make([]float64, p*p)}
	if !orthogonal(q, d.r) {
		return nil, fmt.Errorf("trend on %d covariates: %w", p, ErrCollinear)
	}
	rest := append([]float64(nil), values...)
	for range 2 { // twice: the second pass takes off what rounding left
		for j := range q {
			c := dot(q[j], rest)
			d.Coef[j] += c
			subtract(rest, c, q[j])
		}
	}
	d.backward(d.Coef)
	d.judge(values, rest)
	return d, nil
}

// judge fills in how well the trend fits.
func (d *Drift) judge(values, rest []float64) {
	n, p := d.N, len(d.Coef)
	mean := 0.0
	for _, v := range values {
		mean += v / float64(n)
	}
	total := 0.0
	for _, v := range values {
		total += (v - mean) * (v - mean)
	}
	left := dot(rest, rest)
	d.Sigma = math.Sqrt(left / float64(n-p))
	if total > 0 {
		d.R2 = max(0, 1-left/total)
	}
	unit := make([]float64, p)
	for j := range p {
		clear(unit)
		unit[j] = 1
		d.SE[j] = d.Sigma * math.Sqrt(d.leverage(unit))
	}
}

func shapeOf(values []float64, covariates [][]float64) (n, p int, err error) {
	n = len(values)
	if n != len(covariates) {
		return 0, 0, fmt.Errorf("trend of %d values on %d rows: %w", n, len(covariates), ErrLengths)
	}
	if n == 0 || n < len(covariates[0])+1 || len(covariates[0]) == 0 {
		return 0, 0, fmt.Errorf("trend of %d values: %w", n, ErrFewPoints)
	}
	p = len(covariates[0])
	for i, row := range covariates {
		if len(row) != p {
			return 0, 0, fmt.Errorf("trend: row %d has %d covariates, not %d: %w", i, len(row), p, ErrLengths)
		}
		for _, v := range append([]float64{values[i]}, row...) {
			if !(math.Abs(v) <= largest) {
				return 0, 0, fmt.Errorf("trend: row %d: %w", i, ErrNotFinite)
			}
		}
	}
	return n, p, nil
}

// orthogonal makes the columns orthonormal (modified Gram-Schmidt, each column
// taken twice) and fills the p × p triangle r, row by row, with columns = q r.
func orthogonal(q [][]float64, r []float64) bool {
	p := len(q)
	for j, col := range q {
		before := math.Sqrt(dot(col, col))
		for range 2 {
			for k := range j {
				c := dot(q[k], col)
				r[k*p+j] += c
				subtract(col, c, q[k])
			}
		}
		norm := math.Sqrt(dot(col, col))
		if !(norm > 1e-10*before) {
			return false
		}
		r[j*p+j] = norm
		for i := range col {
			col[i] /= norm
		}
	}
	return true
}

func subtract(from []float64, c float64, what []float64) {
	for i, v := range what {
		from[i] -= c * v
	}
}

// backward solves r x = b in place.
func (d *Drift) backward(b []float64) {
	p := len(b)
	for j := p - 1; j >= 0; j-- {
		for k := j + 1; k < p; k++ {
			b[j] -= d.r[j*p+k] * b[k]
		}
		b[j] /= d.r[j*p+j]
	}
}

// leverage is x' (X'X)⁻¹ x.
func (d *Drift) leverage(x []float64) float64 {
	p := len(x)
	t := make([]float64, p)
	sum := 0.0
	for j := range p { // r' t = x
		t[j] = x[j]
		for k := range j {
			t[j] -= d.r[k*p+j] * t[k]
		}
		t[j] /= d.r[j*p+j]
		sum += t[j] * t[j]
	}
	return sum
}

// At gives the trend where the covariates are x, and the variance of that trend
// (of its line, not of single values around it).
func (d *Drift) At(x []float64) (value, variance float64) {
	return dot(x, d.Coef), d.Sigma * d.Sigma * d.leverage(x)
}

// Residuals gives values less their trend.
func (d *Drift) Residuals(values []float64, covariates [][]float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v - dot(covariates[i], d.Coef)
	}
	return out
}

// Regression is regression-kriging: a trend on covariates, and a field of what
// the trend leaves over. The variance of its estimates is the kriging variance
// of the residuals and the variance of the trend together (T. Hengl, G. Heuvelink,
// D. Rossiter, Computers & Geosciences 33, 2007, 1301-1315). The trend being
// fitted by ordinary least squares, its part takes the residuals as independent;
// where they hang together it is somewhat too small.
type Regression struct {
	Drift *Drift
	Field *Field // of residuals
}

// Map estimates many places as Field.Map does; covariates has a row for each.
// Where no residual is near, Used is 0.
func (r *Regression) Map(xs, ys []float64, covariates [][]float64, out []Estimate, stop func() bool) error {
	return r.mapBy(r.Field.Map, xs, ys, covariates, out, stop)
}

// MapSmooth is Map without what the nugget adds, as Field.MapSmooth is.
func (r *Regression) MapSmooth(xs, ys []float64, covariates [][]float64, out []Estimate, stop func() bool) error {
	return r.mapBy(r.Field.MapSmooth, xs, ys, covariates, out, stop)
}

type mapper func(xs, ys []float64, out []Estimate, stop func() bool) error

func (r *Regression) mapBy(do mapper, xs, ys []float64, covariates [][]float64, out []Estimate, stop func() bool) error {
	if len(covariates) != len(xs) {
		return fmt.Errorf("%d places and %d rows of covariates: %w", len(xs), len(covariates), ErrLengths)
	}
	for i, row := range covariates {
		if len(row) != len(r.Drift.Coef) {
			return fmt.Errorf("place %d has %d covariates, the trend %d: %w", i, len(row), len(r.Drift.Coef), ErrLengths)
		}
	}
	if err := do(xs, ys, out, stop); err != nil {
		return err
	}
	for i := range out {
		if out[i].Used == 0 {
			continue
		}
		value, variance := r.Drift.At(covariates[i])
		if out[i].Value += value; math.IsNaN(out[i].Value) || math.IsInf(out[i].Value, 0) || math.IsNaN(variance) || math.IsInf(variance, 0) {
			out[i] = Estimate{}
			continue
		}
		if out[i].Variance > 0 { // at a measured point the trend's error is in the residual
			out[i].Variance += variance
		}
	}
	return nil
}
