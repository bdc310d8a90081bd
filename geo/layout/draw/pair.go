package draw

import (
	"math"
	"sort"

	"courson/geo/frame"
	"courson/geo/layout"
)

// parallelDeg is how far the common bearings of drawn and surveyed rows may differ;
// beyond it they are rows of another layout. Chosen by us.
const parallelDeg = 15

// Pair finds for each surveyed row the drawn row that it takes the place of: the
// nearest parallel one, each once, in the order in which they lie across the block; -1
// where there is none within a row spacing. Of all such pairings it takes the one with
// the least sum of distances, where a row left alone counts half a row spacing: so two
// rows left alone cost as much as a pair one spacing apart.
//
// Work is surveyed × drawn rows.
func Pair(surveyed, drawn []layout.Row, rowM float64) []int {
	out := make([]int, len(surveyed))
	for i := range out {
		out[i] = -1
	}
	if len(surveyed) == 0 || len(drawn) == 0 {
		return out
	}
	bearing := layout.CommonBearing(drawn)
	if angle(layout.CommonBearing(surveyed), bearing) > parallelDeg {
		return out
	}
	a, b := acrossRows(surveyed, bearing), acrossRows(drawn, bearing)
	for _, p := range align(a, b, rowM) {
		out[a[p[0]].row] = b[p[1]].row
	}
	return out
}

// laneOf is where a row lies across a block.
type laneOf struct {
	row    int
	across float64 // m
	along  float64 // m, of rows that lie one behind the other
}

// acrossRows gives rows in their order across a bearing.
func acrossRows(rows []layout.Row, bearing float64) []laneOf {
	s, c := math.Sincos(bearing * math.Pi / 180)
	out := make([]laneOf, len(rows))
	for i, r := range rows {
		first, last := r.Ends()
		mid := frame.Between(first, last, 0.5)
		out[i] = laneOf{i, mid.X*c - mid.Y*s, mid.X*s + mid.Y*c}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if math.Abs(out[i].across-out[j].across) > sameLaneM {
			return out[i].across < out[j].across
		}
		return out[i].along < out[j].along
	})
	return out
}

// sameLaneM is how far rows that lie one behind the other may be out of line, m.
const sameLaneM = 0.3

// align pairs two lists in order at the least cost, by dynamic programming (the
// alignment of S. B. Needleman, C. D. Wunsch, Journal of Molecular Biology 48, 1970,
// with distances in place of scores).
func align(a, b []laneOf, rowM float64) (pairs [][2]int) {
	alone := rowM / 2
	n, m := len(a), len(b)
	cost := make([][]float64, n+1)
	for i := range cost {
		cost[i] = make([]float64, m+1)
		cost[i][0] = float64(i) * alone
	}
	for k := range m + 1 {
		cost[0][k] = float64(k) * alone
	}
	together := func(i, k int) float64 {
		d := math.Abs(a[i-1].across - b[k-1].across)
		if d >= rowM {
			return math.Inf(1)
		}
		return d
	}
	for i := 1; i <= n; i++ {
		for k := 1; k <= m; k++ {
			cost[i][k] = min(cost[i-1][k-1]+together(i, k), cost[i-1][k]+alone, cost[i][k-1]+alone)
		}
	}
	for i, k := n, m; i > 0 && k > 0; {
		switch cost[i][k] {
		case cost[i-1][k-1] + together(i, k):
			i, k = i-1, k-1
			pairs = append(pairs, [2]int{i, k})
		case cost[i-1][k] + alone:
			i--
		default:
			k--
		}
	}
	return pairs
}
