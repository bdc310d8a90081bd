package patch

import (
	"math"
	"runtime"
)

// Global is Moran's I of a whole block.
type Global struct {
	I        float64
	Expected float64 // by chance: -1/(n-1)
	Variance float64 // by chance, under randomisation
	Z, P     float64 // standard deviates, and two-sided probability of as much by chance
	N, Links int     // values, and ordered pairs of neighbours
}

// Structured tells whether the values of the block hang together in space more
// than chance would have it, at the given level.
func (g Global) Structured(level float64) bool { return g.Z > 0 && g.P <= level }

// Moran gives Moran's I with rows of weights summing to 1 (style W of R's
// spdep); vines without neighbours count in n, as with zero.policy there.
// Errors as GiStar, and ErrReach where no vine has a neighbour.
func Moran(x, y, v []float64, r Reach) (Global, error) {
	if err := check(x, y, v, r); err != nil {
		return Global{}, err
	}
	return moran(x, y, v, r, nil)
}

func moran(x, y, v []float64, r Reach, along []XY) (Global, error) {
	mean, _ := moments(v)
	z := make([]float64, len(v))
	for i := range v {
		z[i] = v[i] - mean
	}
	f := newField(x, y, z, r, along)
	w := weigh(f)
	if w.s0 == 0 {
		return Global{}, ErrReach
	}
	var m2, m4 float64
	for _, d := range z {
		m2 += d * d
		m4 += d * d * d * d
	}
	n := float64(len(v))
	g := Global{N: len(v), Links: w.links, I: n / w.s0 * w.zz / m2, Expected: -1 / (n - 1)}
	g.Variance = w.randomisation(n, n*m4/(m2*m2)) - g.Expected*g.Expected
	if g.Variance > 0 {
		g.Z = (g.I - g.Expected) / math.Sqrt(g.Variance)
	}
	g.P = TwoSided(g.Z)
	return g, nil
}

// weights are the sums that the moments of I need.
type weights struct {
	s0, s1, s2, zz float64
	links          int
}

// weigh takes row-standardised weights over the field's neighbours.
func weigh(f *field) weights {
	n := len(f.v)
	inv := make([]float64, n) // 1 / number of neighbours
	count := make([]int32, n)
	f.inParallel(runtime.GOMAXPROCS(0), func(line int) {
		f.sums(line, func(k, c int, _ float64) {
			count[k] = int32(c - 1)
			if c > 1 {
				inv[k] = 1 / float64(c-1)
			}
		})
	})
	parts := make([]weights, f.lines)
	f.inParallel(runtime.GOMAXPROCS(0), func(line int) {
		p := &parts[line]
		last, column := -1, 0.0
		end := func() {
			if last >= 0 {
				row := inv[last] * float64(count[last])
				p.s2 += (row + column) * (row + column)
			}
		}
		f.neighbours(line, func(k, j int) {
			if k != last {
				end()
				last, column = k, 0
			}
			p.links++
			p.s0 += inv[k]
			both := inv[k] + inv[j]
			p.s1 += both * both / 2
			column += inv[j]
			p.zz += inv[k] * f.v[k] * f.v[j]
		})
		end()
	})
	var w weights
	for _, p := range parts {
		w.s0, w.s1, w.s2, w.zz, w.links = w.s0+p.s0, w.s1+p.s1, w.s2+p.s2, w.zz+p.zz, w.links+p.links
	}
	return w
}

// randomisation is the second moment of I when values are dealt out at random;
// b2 is their kurtosis.
func (w weights) randomisation(n, b2 float64) float64 {
	s02 := w.s0 * w.s0
	top := n*((n*n-3*n+3)*w.s1-n*w.s2+3*s02) - b2*((n*n-n)*w.s1-2*n*w.s2+6*s02)
	return top / ((n - 1) * (n - 2) * (n - 3) * s02)
}
