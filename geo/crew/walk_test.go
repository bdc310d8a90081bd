package crew_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// field is n rows of one length, 2 m apart; those whose number is in turned are
// numbered from the other side.
func field(n int, lengthM float64, turned ...int) (lines []crew.Line) {
	for i := range n {
		x := 2 * float64(i)
		l := crew.Line{Row: vine.ID(i + 1), Label: fmt.Sprint(i + 1), Near: [2]float64{x, 0}, Far: [2]float64{x, lengthM}}
		for _, k := range turned {
			if k == i+1 {
				l.Near, l.Far = l.Far, l.Near
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// path writes a walk: row and end at which it is entered.
func path(w crew.Walk) (out string) {
	for _, l := range w {
		out += l.Label + map[crew.End]string{crew.FromNear: "n ", crew.FromFar: "f "}[l.From]
	}
	return out
}

func TestUpAndDown(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []crew.Line
		from  crew.Corner
		way   crew.Way
		want  string
		m     float64
	}{
		{"every row from the first", field(4, 100), crew.Corner{}, crew.EveryRow, "1n 2f 3n 4f ", 406},
		{"from the far end of the first", field(3, 100), crew.Corner{End: crew.FromFar}, crew.EveryRow, "1f 2n 3f ", 304},
		{"from the last", field(3, 100), crew.Corner{Last: true}, crew.EveryRow, "3n 2f 1n ", 304},
		{"every other row, out and back", field(5, 100), crew.Corner{}, crew.EveryOtherRow, "1n 3f 5n 4f 2n ", 514},
		{"every other row, an even number", field(4, 100), crew.Corner{}, crew.EveryOtherRow, "1n 3f 4n 2f ", 410},
		{"every other row from the last", field(4, 100), crew.Corner{Last: true, End: crew.FromFar}, crew.EveryOtherRow, "4f 2n 1f 3n ", 410},
		{"a row numbered from the other side is entered at its own far end", field(3, 100, 2), crew.Corner{}, crew.EveryRow, "1n 2n 3n ", 304},
		{"one row", field(1, 80), crew.Corner{}, crew.EveryRow, "1n ", 80},
		{"none", nil, crew.Corner{}, crew.EveryRow, "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := crew.UpAndDown(c.lines, c.from, c.way)
			require.NoError(t, err)
			require.Equal(t, c.want, path(got))
			require.InDelta(t, c.m, got.DistanceM(), 1e-9)
		})
	}
	_, err := crew.UpAndDown(field(2, math.NaN()), crew.Corner{}, crew.EveryRow)
	require.ErrorIs(t, err, crew.ErrWalk)
	_, err = crew.UpAndDown(nil, crew.Corner{}, 2)
	require.ErrorIs(t, err, crew.ErrWalk)
}

// Each row once, each entered on the side where the one before was left; every
// other row never turns into the next one but where it comes back.
func TestUpAndDown_Alternates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "rows")
		turned := rapid.SliceOf(rapid.IntRange(1, n)).Draw(t, "turned")
		lines := field(n, 50, turned...)
		from := crew.Corner{Last: rapid.Bool().Draw(t, "last"), End: crew.End(rapid.IntRange(0, 1).Draw(t, "end"))}
		way := crew.Way(rapid.IntRange(0, 1).Draw(t, "way"))
		walk, err := crew.UpAndDown(lines, from, way)
		require.NoError(t, err)
		require.Len(t, walk, n)
		seen := map[vine.ID]bool{}
		next := 0
		var y float64
		for k, l := range walk {
			require.False(t, seen[l.Row])
			seen[l.Row] = true
			line := lines[l.Row-1]
			begin, end := line.Near, line.Far
			if l.From == crew.FromFar {
				begin, end = end, begin
			}
			if k > 0 {
				require.Equal(t, y, begin[1], "entered where the row before was left")
				if d := l.Row - walk[k-1].Row; d == 1 || d == -1 {
					next++
				}
			}
			y = end[1]
		}
		if way == crew.EveryOtherRow {
			require.LessOrEqual(t, next, 1)
		}
	})
}

// In a few rows of one length every order and direction is tried: none covers
// less ground than the shortest walk up and down.
func TestShortest_AgainstAllWalks(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 6} {
		lines := field(n, 30)
		at := [2]float64{2*float64(n-1) + 1, 31} // got off beyond the last row
		got, from, err := crew.Shortest(lines, at, crew.EveryRow)
		require.NoError(t, err)
		require.Equal(t, crew.Corner{Last: n > 1, End: crew.FromFar}, from)
		first := lines[n-1].Far
		require.InDelta(t, shortestOfAll(lines, at), got.DistanceM()+math.Hypot(first[0]-at[0], first[1]-at[1]), 1e-9)
	}
}

func shortestOfAll(lines []crew.Line, at [2]float64) float64 {
	best := math.Inf(1)
	used := make([]bool, len(lines))
	var walk func(at [2]float64, n int, m float64)
	walk = func(at [2]float64, n int, m float64) {
		if n == len(lines) {
			best = min(best, m)
			return
		}
		for i, l := range lines {
			if used[i] {
				continue
			}
			used[i] = true
			length := math.Hypot(l.Far[0]-l.Near[0], l.Far[1]-l.Near[1])
			for _, e := range [][2][2]float64{{l.Near, l.Far}, {l.Far, l.Near}} {
				walk(e[1], n+1, m+length+math.Hypot(e[0][0]-at[0], e[0][1]-at[1]))
			}
			used[i] = false
		}
	}
	walk(at, 0, 0)
	return best
}

func TestLinesOf(t *testing.T) {
	got := crew.LinesOf(field(4, 10), crew.Order{Pieces: []crew.Piece{{Row: 2}, {Row: 4}, {Row: 4}}})
	require.Len(t, got, 2)
	require.Equal(t, []string{"2", "4"}, []string{got[0].Label, got[1].Label})
}

func TestLines(t *testing.T) {
	lines, err := crew.Lines(block(t, "ooo", "oooo").Ground)
	require.NoError(t, err)
	require.Equal(t, []crew.Line{{Row: 11, Label: "1", Near: [2]float64{0, 0}, Far: [2]float64{0, 2}}, {Row: 12, Label: "2", Near: [2]float64{2, 0}, Far: [2]float64{2, 3}}}, lines)
}
