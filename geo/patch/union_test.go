package patch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// box is a rectangle between two corners.
func box(x0, y0, x1, y1 float64) []XY { return []XY{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

func TestUnion(t *testing.T) {
	for _, c := range []struct {
		name   string
		shapes [][]XY
		area   float64
		rings  []int // rings of each polygon
	}{
		{"nothing", nil, 0, nil},
		{"without ground", [][]XY{{{1, 1}, {2, 2}}, {{3, 3}}, {}}, 0, nil},
		{"one, clockwise", [][]XY{{{0, 0}, {0, 1}, {2, 1}, {2, 0}}}, 2, []int{1}},
		{"one, closed", [][]XY{append(box(0, 0, 2, 1), XY{0, 0})}, 2, []int{1}},
		{"one within another", [][]XY{box(0, 0, 9, 9), box(2, 2, 3, 3)}, 81, []int{1}},
		{"the same twice", [][]XY{box(0, 0, 2, 1), box(0, 0, 2, 1)}, 2, []int{1}},
		{"side by side", [][]XY{box(0, 0, 2, 1), box(2, 0, 4, 1)}, 4, []int{1}},
		{"side by side, half a step off", [][]XY{box(0, 0, 2, 1), box(1, 1, 3, 2)}, 4, []int{1}},
		{"overlapping", [][]XY{box(0, 0, 2, 2), box(1, 1, 3, 3)}, 7, []int{1}},
		{"across each other", [][]XY{box(0, 1, 3, 2), box(1, 0, 2, 3)}, 5, []int{1}},
		{"apart", [][]XY{box(0, 0, 1, 1), box(2, 0, 3, 1)}, 2, []int{1, 1}},
		{"touching at a corner", [][]XY{box(0, 0, 1, 1), box(1, 1, 2, 2)}, 2, []int{1, 1}},
		{"around a hole", [][]XY{box(0, 0, 4, 1), box(0, 3, 4, 4), box(0, 0, 1, 4), box(3, 0, 4, 4)}, 12, []int{2}},
		{"a hole that touches the rim", [][]XY{box(0, 0, 3, 1), box(0, 0, 1, 3), box(0, 2, 3, 3), box(2, 1, 3, 2), box(2, 1, 3, 3)}, 8, []int{2}},
		{"a hole that only a corner closes", [][]XY{box(0, 0, 3, 1), box(0, 0, 1, 3), box(0, 2, 2, 3), box(2, 0, 3, 2)}, 7, []int{2}},
		{"a patch in a hole", [][]XY{box(0, 0, 6, 1), box(0, 5, 6, 6), box(0, 0, 1, 6), box(5, 0, 6, 6), box(2.5, 2.5, 3.5, 3.5)}, 21, []int{2, 1}},
		{"a sliver of a hole", [][]XY{box(0, 0, 2, 1), box(0, 1.01, 2, 2), box(-1, 0, 0, 2), box(2, 0, 3, 2)}, 8, []int{1}},
		{"two kilometres", [][]XY{box(0, 0, 2000, 2), box(1000, 1, 3000, 3)}, 7000, []int{1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := union(c.shapes, 0.5)
			assert.InDelta(t, c.area, got.AreaM2(), 1e-9)
			var rings []int
			for _, p := range got {
				rings = append(rings, len(p))
			}
			assert.Equal(t, c.rings, rings)
			requireValid(t, got)
		})
	}
}

// requireValid holds an outline to the rules of OGC simple features: rings are
// closed, turn the right way, do not touch themselves and meet others only in
// single places.
func requireValid(t require.TestingT, o Outline) {
	type piece struct {
		a, b      XY
		ring, pos int
	}
	var pieces []piece
	ring := 0
	for _, p := range o {
		require.NotEmpty(t, p)
		for k, r := range p {
			require.GreaterOrEqual(t, len(r), 4)
			require.Equal(t, r[0], r[len(r)-1], "closed")
			require.Equal(t, k == 0, r.area() > 0, "outer rings run anticlockwise, holes clockwise")
			seen := map[XY]bool{}
			for i, q := range r[1:] {
				require.False(t, seen[q], "a ring passes %v twice", q)
				seen[q] = true
				pieces = append(pieces, piece{r[i], q, ring, i})
			}
			if k > 0 {
				require.True(t, Outline{Polygon{p[0]}}.Holds(insideOf(r)), "a hole lies in its outer ring")
			}
			ring++
		}
	}
	for i, p := range pieces {
		for _, q := range pieces[i+1:] {
			require.False(t, crossing(p.a, p.b, q.a, q.b), "%v to %v crosses %v to %v", p.a, p.b, q.a, q.b)
		}
	}
}

// insideOf is a place inside a ring, near the middle of its first piece.
func insideOf(r Ring) XY {
	m, d := between(r[0], r[1], 0.5), r[1].minus(r[0])
	step := d.left().times(1e-5 / d.length())
	if (Outline{Polygon{r}}).Holds(m.plus(step)) {
		return m.plus(step)
	}
	return m.minus(step)
}

// crossing tells whether the insides of two pieces meet, in whole millimetres.
func crossing(a, b, c, d XY) bool {
	side := func(p, q, r XY) float64 { return math.Round(q.minus(p).cross(r.minus(p)) * 1e6) }
	s, u := side(a, b, c), side(a, b, d)
	v, w := side(c, d, a), side(c, d, b)
	if s == 0 && u == 0 && v == 0 && w == 0 { // on one line
		e := b.minus(a)
		lo, hi := c.minus(a).dot(e)/e.dot(e), d.minus(a).dot(e)/e.dot(e)
		return max(lo, hi) > 1e-9 && min(lo, hi) < 1-1e-9
	}
	return s*u < 0 && v*w < 0
}

// anyCells draws ground cells here and there, turned and shifted.
func anyCells(t *rapid.T) [][]XY {
	var out [][]XY
	for range rapid.IntRange(1, 25).Draw(t, "cells") {
		x, y := rapid.IntRange(0, 12000).Draw(t, "x mm"), rapid.IntRange(0, 12000).Draw(t, "y mm")
		l, w := rapid.IntRange(1, 6000).Draw(t, "length mm"), rapid.IntRange(1, 3000).Draw(t, "width mm")
		turn := rapid.SampledFrom([]float64{0, 0, 90, 12, -33.3, 60}).Draw(t, "turn")
		s, c := math.Sincos(turn * math.Pi / 180)
		var cell []XY
		for _, p := range box(0, 0, float64(l)/1000, float64(w)/1000) {
			cell = append(cell, XY{float64(x)/1000 + p.X*c - p.Y*s, float64(y)/1000 + p.X*s + p.Y*c})
		}
		out = append(out, cell)
	}
	return out
}

// awayFrom is the distance of a place from the edges of the shapes.
func awayFrom(p XY, shapes [][]XY) float64 {
	least := math.Inf(1)
	for _, s := range shapes {
		for i, a := range s {
			b := s[(i+1)%len(s)]
			least = min(least, p.minus(nearestOn(p, a, b.minus(a))).length())
		}
	}
	return least
}

func TestUnion_HoldsWhatItsShapesHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shapes := anyCells(t)
		got := union(shapes, 0)
		requireValid(t, got)
		rng := rand.New(rand.NewPCG(1, 2))
		for range 200 {
			p := XY{rng.Float64()*18 - 3, rng.Float64()*18 - 3}
			if awayFrom(p, shapes) < 0.003 {
				continue
			}
			in := false
			for _, s := range shapes {
				in = in || (Outline{Polygon{append(Ring(s), s[0])}}).Holds(p)
			}
			require.Equal(t, in, got.Holds(p), "%v", p)
		}
	})
}

// The order of the shapes does not matter, nor do shapes given twice.
func TestUnion_Order(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shapes := anyCells(t)
		want := union(shapes, 0)
		shuffled := rapid.Permutation(shapes).Draw(t, "order")
		require.Equal(t, want, union(append(shuffled, shapes[0]), 0))
	})
}

// FuzzUnion joins any four-sided shapes, crossed ones too.
func FuzzUnion(f *testing.F) {
	f.Add([]byte{0, 0, 2, 0, 2, 2, 0, 2, 1, 1, 3, 1, 3, 3, 1, 3})
	f.Add([]byte{0, 0, 2, 2, 2, 0, 0, 2, 9, 9, 9, 9, 9, 9, 9, 9})
	f.Fuzz(func(t *testing.T, data []byte) {
		var shapes [][]XY
		for ; len(data) >= 8 && len(shapes) < 12; data = data[8:] {
			var s []XY
			for k := 0; k < 8; k += 2 {
				s = append(s, XY{float64(data[k]) / 1000, float64(data[k+1]) / 1000})
			}
			shapes = append(shapes, s)
		}
		requireValid(t, union(shapes, 0))
	})
}
