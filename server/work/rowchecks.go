package work

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format/csv"
	"courson/geo/layout"
)

// apart is how far apart two rows lie, m.
func (m *merge) apart(b *block, x, y orb.Geometry) float64 {
	p, errP := layout.NewRow(b.frame, x, layout.AsDrawn)
	q, errQ := layout.NewRow(b.frame, y, layout.AsDrawn)
	if errP != nil || errQ != nil {
		return 0
	}
	return layout.Distances([]layout.Row{p, q})[0]
}

// unused names row numbers that are missing in between, where rows are numbered.
func (m *merge) unused(b *block) string {
	numbers := map[int]bool{}
	least, most := math.MaxInt, 0
	see := func(label string) {
		if n, err := strconv.Atoi(label); err == nil {
			numbers[n] = true
			least, most = min(least, n), max(most, n)
		}
	}
	for i := range m.intake.rows {
		if r := &m.intake.rows[i]; r.block == b.Code || r.block == "" {
			see(r.label)
		}
	}
	var missing []string
	for n := least; n < most && len(missing) < 5; n++ {
		if !numbers[n] {
			missing = append(missing, strconv.Itoa(n))
		}
	}
	if len(missing) == 0 {
		return ""
	}
	return "; unused: " + strings.Join(missing, ", ")
}

// checkLabels refuses labels that may mean the same row: 7, 07 and 007.
func (m *merge) checkLabels(b *block, rows []*row) {
	bare := map[string][]*row{}
	for _, r := range b.rows {
		label := r.Label
		if r.in != nil && r.in.label != "" {
			label = r.in.label
		}
		key := strings.TrimLeft(strings.ToLower(label), "0")
		bare[key] = append(bare[key], r)
	}
	for _, r := range rows {
		if r.in.label == "" {
			continue
		}
		alike := bare[strings.TrimLeft(strings.ToLower(r.in.label), "0")]
		if len(alike) < 2 {
			continue
		}
		var others []string
		for _, k := range alike {
			if k == r {
				continue
			}
			if k.in != nil {
				others = append(others, fmt.Sprintf("%q (%s)", k.in.label, m.spot(k.in.where)))
			} else {
				others = append(others, fmt.Sprintf("%q (stored)", k.Label))
			}
		}
		m.problem(r.in.where, string(csv.Row), "different lines with labels that may mean one row", fmt.Sprintf("%q beside %s", r.in.label, strings.Join(others, ", ")), "one way of writing each number")
	}
}

// checkDrawing refuses new rows drawn in turn from either end where nobody says
// at which end vine 1 stands.
func (m *merge) checkDrawing(b *block, rows []*row, placed []layout.Row) {
	if m.job.NumberingEnd != "" || b.NumberingEnd != "" {
		return
	}
	var azimuth float64
	known := false
	for _, k := range b.rows {
		if k.placed && !known {
			azimuth, known = k.laid.AzimuthDeg(), true
		}
	}
	var other []string
	var at where
	for i, r := range rows {
		if r.in.end != "" || r.placed {
			continue
		}
		a := placed[i].AzimuthDeg()
		if !known {
			azimuth, known = a, true
			continue
		}
		if math.Abs(math.Remainder(a-azimuth, 360)) > 90 {
			if other == nil {
				at = r.in.where
			}
			other = append(other, r.in.label)
		}
	}
	if other != nil {
		m.problem(at, string(csv.NumberingEnd), "rows are drawn from either end, and it is not said at which end vine 1 stands",
			fmt.Sprintf("%d rows drawn against the others: %s", len(other), firstOf(other)), `the compass word of the end where vine 1 stands, as in "numbering_end": "S"`)
	}
}

func firstOf(list []string) string {
	if len(list) > 8 {
		return strings.Join(list[:8], ", ") + " …"
	}
	return strings.Join(list, ", ")
}

// rowTolerance is how near two rows must lie to be taken for one, m: a quarter
// of the row spacing, chosen by us.
func (m *merge) rowTolerance(b *block, placed []layout.Row) float64 {
	spacing := b.RowSpacingM
	if spacing == 0 {
		spacing = m.job.RowSpacingM
	}
	for _, r := range b.rows {
		if spacing == 0 && r.in != nil {
			spacing = r.in.rowSpacingM
		}
	}
	if spacing == 0 {
		spacing = medianDistance(placed)
	}
	if spacing == 0 {
		spacing = 1.6
	}
	return spacing / 4
}

// medianDistance is the median distance between neighbouring rows, m; 0 where
// there are fewer than two.
func medianDistance(rows []layout.Row) float64 {
	order, err := layout.Order(rows, layout.AsDrawn)
	if err != nil || len(rows) < 2 {
		return 0
	}
	sorted := make([]layout.Row, len(rows))
	for i, k := range order {
		sorted[i] = rows[k]
	}
	d := layout.Distances(sorted)
	slices.Sort(d)
	return d[len(d)/2]
}

// checkGround refuses rows outside their block, rows that lie on one another,
// and rows whose numbers would change places with those of stored rows.
func (m *merge) checkGround(b *block, rows []*row, placed []layout.Row) {
	tolerance := m.rowTolerance(b, placed)
	for i, r := range rows {
		m.checkInside(b, r, placed[i], tolerance)
	}
	for _, d := range layout.Duplicates(placed, tolerance) {
		x, y := rows[d.A], rows[d.B]
		m.problem(y.in.where, "geometry", fmt.Sprintf("row %s lies on row %s", y.in.label, x.in.label), fmt.Sprintf("%.2f m apart (%s)", d.ApartM, m.spot(x.in.where)), "each row once, in its own place")
	}
	if _, met := m.placeOf[rows[0].in]; m.problems == 0 && !met {
		m.checkPlaces(b, rows, placed, tolerance)
	}
}

// outsideShare is the share of a row that may lie outside its block; chosen by
// us, for outlines drawn by hand.
const outsideShare = 0.1

func (m *merge) checkInside(b *block, r *row, placed layout.Row, tolerance float64) {
	if len(b.outline) == 0 {
		return
	}
	share := layout.ShareOutside(placed, b.outline, max(1, 2*tolerance))
	switch {
	case share > outsideShare:
		m.problem(r.in.where, "geometry", fmt.Sprintf("row %s lies outside block %s", r.in.label, b.Code), fmt.Sprintf("%.0f %% of its length outside", 100*share), "rows inside the outline of their block; correct the line, the outline or the block's code")
	case share > 0:
		m.notice(r.in.where, "geometry", fmt.Sprintf("up to %.0f %% of the row lies outside the outline of block %s", math.Ceil(100*share), b.Code))
	}
}

// checkPlaces compares where rows lie with where the stored rows of the same
// number lie.
func (m *merge) checkPlaces(b *block, rows []*row, placed []layout.Row, tolerance float64) {
	var stored []layout.Row
	var which []*row
	for _, k := range b.rows {
		if k.placed {
			stored, which = append(stored, k.laid), append(which, k)
		}
	}
	if len(stored) == 0 {
		return
	}
	var swapped []string
	var first where
	for i, j := range layout.Match(placed, stored, tolerance) {
		r := rows[i]
		if j < 0 || which[j] == r {
			continue
		}
		if swapped == nil {
			first = r.in.where
		}
		swapped = append(swapped, fmt.Sprintf("row %s of the file lies on stored row %s", r.in.label, which[j].Label))
	}
	if swapped == nil {
		return
	}
	m.problem(first, string(csv.Row), fmt.Sprintf("rows of block %s have other numbers than are stored, for %d rows", b.Code, len(swapped)), firstOf(swapped),
		"a choice: to keep the stored numbers, number the file's rows like them; to renumber, export the rows, change the numbers in that file and import it (its courson_id keeps each row's history in place); or cancel")
}
