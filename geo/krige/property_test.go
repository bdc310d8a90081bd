package krige

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyPoints draws points in a block, some in the same places, some with an
// error of their own.
func anyPoints(t *rapid.T, least int) []Point {
	n := rapid.IntRange(least, 40).Draw(t, "points")
	out := make([]Point, n)
	for i := range out {
		out[i] = Point{X: float64(rapid.IntRange(0, 60).Draw(t, "x")), Y: float64(rapid.IntRange(0, 60).Draw(t, "y")),
			V: rapid.Float64Range(-3, 3).Draw(t, "v")}
		if rapid.IntRange(0, 4).Draw(t, "erring") == 0 {
			out[i].E = rapid.Float64Range(0.01, 2).Draw(t, "e")
		}
	}
	return out
}

func anyModel(t *rapid.T) Model {
	return Model{Shape: rapid.SampledFrom([]Shape{Spherical, Exponential}).Draw(t, "shape"),
		Nugget: rapid.Float64Range(0.01, 2).Draw(t, "nugget"), Sill: rapid.Float64Range(0, 2).Draw(t, "sill"),
		Range: rapid.Float64Range(1, 100).Draw(t, "range"), AngleDeg: rapid.Float64Range(-180, 360).Draw(t, "angle"),
		Ratio: rapid.Float64Range(0.1, 1).Draw(t, "ratio")}
}

// anyNear draws a neighbourhood; all, so many nearest, within a radius, or both.
func anyNear(t *rapid.T) Neighbours {
	return Neighbours{Most: rapid.SampledFrom([]int{0, 1, 2, 8, 24}).Draw(t, "most"), Radius: rapid.SampledFrom([]float64{0, 0, 10, 30}).Draw(t, "radius"),
		Step: rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "step")}
}

func anyField(t *rapid.T) *Field {
	for {
		f, err := NewField(anyPoints(t, 2), anyModel(t), anyNear(t))
		if err == nil {
			return f
		}
		require.ErrorIs(t, err, ErrNoExtent)
	}
}

// anyPlace draws a place that is none of the points', not by a rounding either:
// there the nugget makes estimates jump.
func anyPlace(t *rapid.T) (x, y float64) {
	return 0.3 + float64(rapid.IntRange(-20, 80).Draw(t, "at x")), 0.6 + float64(rapid.IntRange(-20, 80).Draw(t, "at y"))
}

func close(t *rapid.T, what string, want, got, scale float64) {
	if d := math.Abs(want - got); !(d <= 1e-7*(1+scale)) {
		t.Fatalf("%s: %.12g, not %.12g", what, got, want)
	}
}

// A measured point is what was measured, without error.
func TestProperty_ExactAtPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyField(t)
		w := f.Worker()
		for _, p := range f.Points() {
			got := w.At(p.X, p.Y)
			if p.E == 0 && (got.Value != p.V || got.Variance != 0 || got.Used == 0) {
				t.Fatalf("%+v is estimated as %+v", p, got)
			}
			if p.E > 0 && !(got.Variance > 0 && got.Variance <= p.E+1e-9) {
				t.Fatalf("%+v, variance %g, is estimated with variance %g", p, p.E, got.Variance)
			}
		}
	})
}

// Nothing but numbers, no negative variance, and no estimate without neighbours.
func TestProperty_Numbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyField(t)
		x, y := anyPlace(t)
		for _, got := range []Estimate{f.Worker().At(x, y), f.Worker().Smooth(x, y)} {
			sum := got.Value + got.Variance
			if math.IsNaN(sum) || math.IsInf(sum, 0) || got.Variance < 0 || (got.Used == 0) != (got == Estimate{}) {
				t.Fatalf("%+v", got)
			}
			if p := got.ProbabilityBelow(0.5); !(p >= 0 && p <= 1) {
				t.Fatalf("probability %g", p)
			}
		}
	})
}

// Values on another level or scale, places moved or turned with the model: the
// estimate moves with them, its variance stays or scales.
func TestProperty_MovesWithTheData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyField(t)
		near := f.near
		if near.Radius > 0 || near.Most > 0 {
			near.Step = 0.01 // turned places are rounded differently; ties must stay ties
		}
		x, y := anyPlace(t)
		base, err := NewField(f.Points(), f.Model(), near)
		require.NoError(t, err)
		want := base.Worker().At(x, y)

		level, scale := rapid.Float64Range(-5, 5).Draw(t, "level"), rapid.Float64Range(0.1, 10).Draw(t, "scale")
		dx, dy := rapid.Float64Range(-500, 500).Draw(t, "dx"), rapid.Float64Range(-500, 500).Draw(t, "dy")
		turn := rapid.SampledFrom([]float64{0, 90, 180, 270}).Draw(t, "turn")
		s, c := math.Sincos(turn * math.Pi / 180)
		s, c = math.Round(s), math.Round(c)
		move := func(x, y float64) (float64, float64) { return x*c + y*s + math.Round(dx), y*c - x*s + math.Round(dy) }

		moved := make([]Point, len(f.Points()))
		for i, p := range f.Points() {
			moved[i] = Point{V: level + scale*p.V, E: p.E * scale * scale}
			moved[i].X, moved[i].Y = move(p.X, p.Y)
		}
		m := f.Model()
		m.Nugget, m.Sill, m.AngleDeg = m.Nugget*scale*scale, m.Sill*scale*scale, m.AngleDeg+turn
		other, err := NewField(moved, m, near)
		require.NoError(t, err)
		mx, my := move(x, y)
		got := other.Worker().At(mx, my)
		if got.Used != want.Used {
			t.Fatalf("%d neighbours, not %d", got.Used, want.Used)
		}
		if want.Used > 0 {
			close(t, "value", level+scale*want.Value, got.Value, scale*10)
			close(t, "variance", scale*scale*want.Variance, got.Variance, scale*scale*10)
		}
	})
}

// Any angle, where no neighbour is chosen by distance.
func TestProperty_TurnsWithTheModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, m := anyPoints(t, 2), anyModel(t)
		f, err := NewField(points, m, Neighbours{})
		if err != nil {
			t.Skip(err)
		}
		x, y := anyPlace(t)
		want := f.Worker().At(x, y)
		turn := rapid.Float64Range(-180, 180).Draw(t, "turn")
		s, c := math.Sincos(turn * math.Pi / 180)
		for i, p := range points {
			points[i].X, points[i].Y = p.X*c+p.Y*s, p.Y*c-p.X*s
		}
		m.AngleDeg += turn
		other, err := NewField(points, m, Neighbours{})
		require.NoError(t, err)
		got := other.Worker().At(x*c+y*s, y*c-x*s)
		close(t, "value", want.Value, got.Value, 10)
		close(t, "variance", want.Variance, got.Variance, 10)
	})
}

// One more measured point never makes an estimate less sure, where all are used.
func TestProperty_MorePointsMoreSure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, m := anyPoints(t, 3), anyModel(t)
		more, err := NewField(points, m, Neighbours{})
		if err != nil {
			t.Skip(err)
		}
		fewer, err := NewField(points[:len(points)-1], m, Neighbours{})
		if err != nil || len(fewer.Points()) == len(more.Points()) {
			t.Skip("nothing added")
		}
		x, y := anyPlace(t)
		a, b := fewer.Worker().At(x, y), more.Worker().At(x, y)
		if b.Variance > a.Variance*(1+1e-9)+1e-12 {
			t.Fatalf("%g from fewer points, %g from more", a.Variance, b.Variance)
		}
		// The trend of a place is never less sure than a single point there.
		if smooth := more.Worker().Smooth(x, y); smooth.Variance > b.Variance+1e-9 && b.Variance > 0 {
			t.Fatalf("trend %g, point %g", smooth.Variance, b.Variance)
		}
	})
}

// Equal values are estimated as that value: the weights sum to 1. And with no
// structure at all an estimate lies within its neighbours' values.
func TestProperty_WeightsSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, m, near := anyPoints(t, 2), anyModel(t), anyNear(t)
		x, y := anyPlace(t)
		least, most := math.Inf(1), math.Inf(-1)
		for _, p := range points {
			least, most = min(least, p.V), max(most, p.V)
		}
		m.Sill = 0
		f, err := NewField(points, m, near)
		if err != nil {
			t.Skip(err)
		}
		if got := f.Worker().At(x, y); got.Used > 0 && (got.Value < least-1e-9 || got.Value > most+1e-9) {
			t.Fatalf("%g is beyond %g to %g", got.Value, least, most)
		}
		m.Sill = 1
		for i := range points {
			points[i].V = 2.5
		}
		f, err = NewField(points, m, near)
		require.NoError(t, err)
		if got := f.Worker().At(x, y); got.Used > 0 {
			close(t, "value", 2.5, got.Value, 1)
		}
	})
}

// The search finds what looking at every point finds, in the same order.
func TestProperty_NearestOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyField(t)
		x, y := anyPlace(t)
		if rapid.Bool().Draw(t, "far away") {
			x, y = x*1000, y-50_000
		}
		s := f.Worker().s
		got := append([]found{}, s.near(x, y)...)
		want := []found{}
		for i, p := range f.Points() {
			d2 := (p.X-x)*(p.X-x) + (p.Y-y)*(p.Y-y)
			if s.step > 0 {
				d := math.Round(math.Sqrt(d2)/s.step) * s.step
				d2 = d * d
			}
			if s.radius > 0 && d2 > s.radius*s.radius*(1+1e-12) {
				continue
			}
			at := len(want)
			for at > 0 && less(found{d2, int32(i)}, want[at-1]) {
				at--
			}
			want = append(want[:at], append([]found{{d2, int32(i)}}, want[at:]...)...)
		}
		want = want[:min(len(want), s.most)]
		require.Equal(t, want, got)
	})
}

// A map is what a single worker gives, place by place, and leaving one out by
// the short way is leaving it out the long way.
func TestProperty_ManyAsOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyField(t)
		n := rapid.IntRange(0, 700).Draw(t, "places")
		xs, ys, out := make([]float64, n), make([]float64, n), make([]Estimate, n)
		for i := range xs {
			xs[i], ys[i] = float64(i%30)*2.1, float64(i/30)*1.7
		}
		require.NoError(t, f.Map(xs, ys, out, nil))
		w := f.Worker()
		for i := range xs {
			require.Equal(t, w.At(xs[i], ys[i]), out[i])
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		points, m := anyPoints(t, 4), anyModel(t)
		f, err := NewField(points, m, Neighbours{})
		if err != nil || len(f.Points()) < 3 {
			t.Skip("too few")
		}
		left, ok := f.leftOut(nil, nil)
		require.True(t, ok)
		for i, p := range f.Points() {
			rest := append(append([]Point{}, f.Points()[:i]...), f.Points()[i+1:]...)
			g, err := NewField(rest, m, Neighbours{})
			require.NoError(t, err)
			want := g.Worker().At(p.X, p.Y)
			close(t, "value", want.Value, left[i].Value, 10)
			close(t, "variance", want.Variance, left[i].Variance, 10)
		}
	})
}

// A variogram does not depend on the order of the points.
func TestProperty_VariogramWithoutOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := anyPoints(t, 3)
		bins, err := Empirical(points, Bins{})
		if err != nil {
			require.ErrorIs(t, err, ErrNoExtent)
			return
		}
		turned := rapid.Permutation(points).Draw(t, "order")
		again, err := Empirical(turned, Bins{})
		require.NoError(t, err)
		require.Len(t, again, len(bins))
		for k, b := range bins {
			require.Equal(t, b.Pairs, again[k].Pairs)
			close(t, "semivariance", b.Gamma, again[k].Gamma, 10)
		}
		require.ElementsMatch(t, Sample(points, 5), Sample(points, 5))
		seen := map[Point]bool{}
		for _, p := range Sample(points, len(points)/2) {
			seen[p] = true
		}
		places := map[[2]float64]bool{}
		for _, p := range points {
			places[[2]float64{p.X, p.Y}] = true
		}
		if len(places) == len(points) {
			for _, p := range Sample(turned, len(points)/2) {
				require.True(t, seen[p], "another sample in another order")
			}
		}
	})
}
