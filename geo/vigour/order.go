package vigour

import (
	"cmp"
	"slices"

	"courson/geo/stand"
)

// byAddress gives the vines of a ground in the order of their addresses: rows by
// label, numbers in labels by their value ("2" before "10"), then numbers in the
// row. Everything is computed in this order, so that results do not depend on
// how rows happen to be stored.
func byAddress(g *stand.Ground) []int32 {
	rows := make([]int, len(g.Rows))
	for r := range rows {
		rows[r] = r
	}
	slices.SortStableFunc(rows, func(a, b int) int {
		if c := compareLabels(g.Rows[a].Label, g.Rows[b].Label); c != 0 {
			return c
		}
		return cmp.Compare(g.Rows[a].ID, g.Rows[b].ID)
	})
	out := make([]int32, 0, g.Len())
	for _, r := range rows {
		for i := g.Rows[r].First; i < g.Rows[r].First+g.Rows[r].Count; i++ {
			out = append(out, int32(i))
		}
	}
	return out
}

// compareLabels orders row labels, runs of digits as numbers.
func compareLabels(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		dx, dy := digits(x), digits(y)
		if dx == 0 || dy == 0 {
			if x[0] != y[0] {
				return cmp.Compare(x[0], y[0])
			}
			x, y = x[1:], y[1:]
			continue
		}
		nx, ny := trimZeros(x[:dx]), trimZeros(y[:dy])
		if c := cmp.Or(cmp.Compare(len(nx), len(ny)), cmp.Compare(nx, ny)); c != 0 {
			return c
		}
		x, y = x[dx:], y[dy:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

func trimZeros(s string) string {
	for len(s) > 1 && s[0] == '0' {
		s = s[1:]
	}
	return s
}
