package rings_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"courson/geo/rings"
)

// borderOf gives the border of unit cells, each walked with the cell on its left.
func borderOf(cells map[rings.Spot]bool) (out []rings.Step) {
	for c := range cells {
		corner := func(x, y int64) rings.Spot { return rings.Spot{X: c.X + x, Y: c.Y + y} }
		for _, side := range []struct{ beside, from, to rings.Spot }{
			{corner(0, -1), corner(0, 0), corner(1, 0)},
			{corner(1, 0), corner(1, 0), corner(1, 1)},
			{corner(0, 1), corner(1, 1), corner(0, 1)},
			{corner(-1, 0), corner(0, 1), corner(0, 0)},
		} {
			if !cells[side.beside] {
				out = append(out, rings.Step{From: side.from, To: side.to})
			}
		}
	}
	return out
}

// cellsOf reads a drawing, its last line at Y 0.
func cellsOf(lines ...string) map[rings.Spot]bool {
	out := map[rings.Spot]bool{}
	for k, line := range lines {
		for x, c := range line {
			if c == '#' {
				out[rings.Spot{X: int64(x), Y: int64(len(lines) - 1 - k)}] = true
			}
		}
	}
	return out
}

func TestTraceAndNest(t *testing.T) {
	for name, c := range map[string]struct {
		drawn []string
		holes []int // of each outer ring, by its first spot
		twice int64
	}{
		"one cell":                 {[]string{"#"}, []int{0}, 2},
		"none":                     {nil, nil, 0},
		"a ring round a hole":      {[]string{"###", "#.#", "###"}, []int{1}, 16},
		"cells that touch":         {[]string{".#", "#."}, []int{0, 0}, 4},
		"holes that touch":         {[]string{"####", "#.##", "##.#", "####"}, []int{2}, 28},
		"an island in a hole":      {[]string{"#####", "#...#", "#.#.#", "#...#", "#####"}, []int{1, 0}, 34},
		"a hole at its outer ring": {[]string{"##", "#.", "##"}, []int{0}, 10},
	} {
		t.Run(name, func(t *testing.T) {
			nests := rings.Nest(rings.Trace(borderOf(cellsOf(c.drawn...))))
			var holes []int
			var twice int64
			for _, n := range nests {
				holes = append(holes, len(n)-1)
				for _, r := range n {
					twice += rings.TwiceArea(r)
				}
			}
			assert.Equal(t, c.holes, holes)
			assert.Equal(t, c.twice, twice)
		})
	}
}

// Whatever the cells, the outlines hold as much ground, run the right way round,
// and pass no spot twice.
func TestTrace_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := map[rings.Spot]bool{}
		wide := rapid.IntRange(1, 9).Draw(t, "wide")
		for i, on := range rapid.SliceOfN(rapid.Bool(), 1, 81).Draw(t, "cells") {
			if on {
				cells[rings.Spot{X: int64(i % wide), Y: int64(i / wide)}] = true
			}
		}
		traced := rings.Trace(borderOf(cells))
		placed := 0
		var twice int64
		for _, nest := range rings.Nest(traced) {
			for k, r := range nest {
				placed++
				twice += rings.TwiceArea(r)
				if outer := rings.TwiceArea(r) > 0; outer != (k == 0) {
					t.Fatalf("ring %d of its outline runs the wrong way round: %v", k, r)
				}
				seen := map[rings.Spot]bool{}
				for _, s := range r {
					if seen[s] {
						t.Fatalf("%v is passed twice: %v", s, r)
					}
					seen[s] = true
				}
			}
		}
		if placed != len(traced) || twice != 2*int64(len(cells)) {
			t.Fatalf("%d of %d rings are placed, with %d half cells; there are %d cells", placed, len(traced), twice, len(cells))
		}
	})
}
