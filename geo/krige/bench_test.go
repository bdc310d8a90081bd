package krige

import (
	"math"
	"math/rand/v2"
	"testing"
)

// scattered gives places on a square with a smooth, noisy value.
func scattered(n int, side float64, seed uint64) []Point {
	r := rand.New(rand.NewPCG(seed, 1))
	out := make([]Point, n)
	for i := range out {
		x, y := r.Float64()*side, r.Float64()*side
		out[i] = Point{X: x, Y: y, V: math.Sin(x/40) + math.Cos(y/25) + r.NormFloat64()}
	}
	return out
}

// vineGrid gives the places of n vines in rows 2.2 m apart, 1 m in the row.
func vineGrid(n int) (xs, ys []float64) {
	side := int(math.Sqrt(float64(n) * 2.2))
	for i := range n {
		xs, ys = append(xs, float64(i/side)*2.2), append(ys, float64(i%side))
	}
	return xs, ys
}

// The figure to reach: 100,000 vines from 2,000 measured ones, 24 nearest, in at
// most 0.6 s on two cores.
func BenchmarkMap_100000From2000(b *testing.B) {
	xs, ys := vineGrid(100_000)
	points := scattered(2000, 470, 7)
	for _, m := range []struct {
		name  string
		model Model
		near  Neighbours
	}{
		{"spherical", Model{Shape: Spherical, Nugget: 0.5, Sill: 0.5, Range: 60}, Neighbours{Most: 24}},
		{"exponential along rows", Model{Shape: Exponential, Nugget: 0.5, Sill: 0.5, Range: 30, Ratio: 0.6}, Neighbours{Most: 24}},
		{"spherical, ties to the centimetre", Model{Shape: Spherical, Nugget: 0.5, Sill: 0.5, Range: 60}, Neighbours{Most: 24, Step: 0.01}},
	} {
		b.Run(m.name, func(b *testing.B) {
			f, err := NewField(points, m.model, m.near)
			if err != nil {
				b.Fatal(err)
			}
			out := make([]Estimate, len(xs))
			b.ReportAllocs()
			for b.Loop() {
				if err := f.Map(xs, ys, out, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkLeaveOneOut_2000(b *testing.B) {
	f, err := NewField(scattered(2000, 470, 7), Model{Shape: Spherical, Nugget: 0.5, Sill: 0.5, Range: 60}, Neighbours{Most: 24})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := f.LeaveOneOut(nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFitAlong(b *testing.B) {
	for _, c := range []struct {
		name string
		n    int
	}{{"2000", 2000}, {"20000", 20_000}} {
		points := scattered(c.n, 470, 7)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := FitAlong(points, 12, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
