package work

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"courson/geo/format/csv"
	"courson/geo/layout"
)

// settleBlock fills in what rows tell of their block and nobody has said yet:
// spacings and the numbering end, where all rows agree.
func (m *merge) settleBlock(b *block, rows []*row) {
	rowSpacing, vineSpacing, end := map[float64]bool{}, map[float64]bool{}, map[string]bool{}
	for _, r := range rows {
		rowSpacing[r.in.rowSpacingM], vineSpacing[r.in.spacingM], end[r.in.end] = true, true, true
	}
	only := func(seen map[float64]bool, stated float64) float64 {
		if stated > 0 {
			return stated
		}
		for v := range seen {
			if len(seen) == 1 {
				return v
			}
		}
		return 0
	}
	if b.RowSpacingM == 0 {
		b.dirty = setFloat(&b.RowSpacingM, only(rowSpacing, m.job.RowSpacingM)) || b.dirty
	}
	if b.VineSpacingM == 0 {
		b.dirty = setFloat(&b.VineSpacingM, only(vineSpacing, m.job.VineSpacingM)) || b.dirty
	}
	said := m.job.NumberingEnd
	if said == "" && len(end) == 1 {
		said = rows[0].in.end
	}
	if e, err := layout.ParseEnd(said); err == nil && e != layout.AsDrawn && b.NumberingEnd == "" {
		b.dirty = set(&b.NumberingEnd, e.String()) || b.dirty
	}
	if b.RowSpacingM == 0 {
		m.measureSpacing(b)
	}
}

// measureSpacing takes the row spacing from the lines where nobody says it.
func (m *merge) measureSpacing(b *block) {
	var placed []layout.Row
	for _, r := range b.rows {
		if r.placed {
			placed = append(placed, r.laid)
		}
	}
	if d := math.Round(medianDistance(placed)*100) / 100; d >= 0.2 {
		b.RowSpacingM, b.dirty = d, true
		m.notices.Add("", string(csv.RowSpacing), -1, 0, fmt.Sprintf("block %s: %.2f m taken from the lines", b.Code, d))
	}
}

// orderRows numbers the places of a block's rows across it, the lowest row
// number first.
func (m *merge) orderRows(b *block) {
	var placed []layout.Row
	var which []*row
	for _, r := range b.rows {
		if r.placed {
			placed, which = append(placed, r.laid), append(which, r)
		}
	}
	order, err := layout.Order(placed, layout.AsDrawn)
	if err != nil {
		return // AsDrawn names no side that could be unclear
	}
	sorted := make([]*row, 0, len(b.rows))
	for _, k := range order {
		sorted = append(sorted, which[k])
	}
	if falling(sorted) {
		slices.Reverse(sorted)
	}
	for _, r := range b.rows {
		if !r.placed {
			sorted = append(sorted, r)
		}
	}
	for i, r := range sorted {
		if r.Ord != i+1 {
			r.Ord, r.dirty = i+1, true
		}
	}
	b.rows = sorted
}

// falling tells whether row numbers fall along the order rather than rise.
func falling(rows []*row) bool {
	rises := 0
	for i := 1; i < len(rows); i++ {
		rises += compareLabels(rows[i].Label, rows[i-1].Label)
	}
	return rises < 0
}

// compareLabels compares row labels by their leading number, then as texts.
func compareLabels(a, b string) int {
	if c := cmp.Compare(leading(a), leading(b)); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

func leading(label string) int {
	n := 0
	for _, r := range label {
		if r < '0' || r > '9' || n > 1<<20 {
			break
		}
		n = n*10 + int(r-'0')
	}
	return n
}

// tellAbsentRows says which stored rows a file that gives rows of their block
// does not have.
func (m *merge) tellAbsentRows(b *block) {
	var absent []string
	file := -1
	for _, r := range b.rows {
		if r.in == nil {
			absent = append(absent, r.Label)
		} else {
			file = r.in.file
		}
	}
	if absent != nil {
		m.notices.Add(m.fileName(file), string(csv.Row), -1, 0, fmt.Sprintf("%d stored rows of block %s are not in the file and stay as they are: %s", len(absent), b.Code, firstOf(absent)))
	}
}
