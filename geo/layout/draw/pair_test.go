package draw_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
)

// at gives northward rows at these places to the east.
func at(xs ...float64) []layout.Row {
	rows := make([]layout.Row, len(xs))
	for i, x := range xs {
		rows[i] = layout.Row{Frame: here, Parts: []frame.Line{{{X: x, Y: 0}, {X: x + 0.2, Y: 50}}}}
	}
	return rows
}

func TestPair(t *testing.T) {
	for _, c := range []struct {
		name            string
		surveyed, drawn []layout.Row
		want            []int
	}{
		{"a little aside", at(0.3, 2.4, 4.2), at(0, 2, 4), []int{0, 1, 2}},
		{"given in another order", at(4.2, 0.3, 2.4), at(0, 2, 4), []int{2, 0, 1}},
		{"one fewer", at(0.3, 4.2), at(0, 2, 4), []int{0, 2}},
		{"one more", at(-2.2, 0.1, 2, 4), at(0, 2, 4), []int{-1, 0, 1, 2}},
		{"all nearly half a spacing aside", at(0.9, 2.9, 4.9), at(0, 2, 4), []int{0, 1, 2}},
		{"nearer to the next: order kept, each once", at(1.2, 1.9, 3.9), at(0, 2, 4), []int{0, 1, 2}},
		{"far away", at(50, 52), at(0, 2), []int{-1, -1}},
		{"nothing drawn", at(1), nil, []int{-1}},
	} {
		assert.Equal(t, c.want, draw.Pair(c.surveyed, c.drawn, 2), c.name)
	}
	crossing := []layout.Row{{Frame: here, Parts: []frame.Line{{{X: 0, Y: 10}, {X: 50, Y: 10}}}}}
	assert.Equal(t, []int{-1}, draw.Pair(crossing, at(0, 2, 4), 2), "rows of another bearing")
}

// Each drawn row once, in order, never a spacing away; and rows moved by less than
// half a spacing are all found, those that are missing apart.
func TestPair_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "rows")
		rowM := rapid.Float64Range(1, 4).Draw(t, "spacing")
		var drawn, surveyed []float64
		var of []int
		for i := range n {
			drawn = append(drawn, float64(i)*rowM)
			if rapid.IntRange(0, 9).Draw(t, "there") > 0 {
				surveyed = append(surveyed, float64(i)*rowM+rapid.Float64Range(-0.24, 0.24).Draw(t, "aside")*rowM)
				of = append(of, i)
			}
		}
		got := draw.Pair(at(surveyed...), at(drawn...), rowM)
		if !slices.Equal(got, append([]int{}, of...)) {
			t.Fatalf("%v, wanted %v", got, of)
		}
		wild := make([]float64, rapid.IntRange(1, 12).Draw(t, "wild"))
		for i := range wild {
			wild[i] = rapid.Float64Range(-10, 60).Draw(t, "at")
		}
		slices.Sort(wild)
		last := -1
		for i, k := range draw.Pair(at(wild...), at(drawn...), rowM) {
			if k < 0 {
				continue
			}
			if k <= last || math.Abs(wild[i]-drawn[k]) > rowM+0.01 {
				t.Fatalf("row at %g paired with %d after %d", wild[i], k, last)
			}
			last = k
		}
	})
}
