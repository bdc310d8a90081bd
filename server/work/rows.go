package work

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/store"
)

// row is a row during an import.
type row struct {
	store.Row
	stored         bool
	dirty          bool
	in             *rowIn // what the files say of it; nil for nothing
	laid           layout.Row
	placed         bool // laid is known
	moved          bool // its line or spacing changed: its vines are laid out anew
	before         layout.Row
	beforeSpacingM float64
}

// mergeRows makes and changes rows, block by block.
func (m *merge) mergeRows() error {
	lists := map[*block][]*rowIn{}
	var order []*block
	for i := range m.intake.rows {
		in := &m.intake.rows[i]
		b := m.blockOf(in.where, in.block, somePoints(in.line)...)
		if b == nil {
			continue
		}
		if lists[b] == nil {
			order = append(order, b)
		}
		lists[b] = append(lists[b], in)
	}
	if m.problems > 0 {
		return nil
	}
	for _, b := range order {
		if err := m.loadRows(b); err != nil {
			return err
		}
		m.rowsOf(b, lists[b])
	}
	if m.problems > 0 {
		return nil
	}
	if err := m.saveBlocks(); err != nil {
		return err
	}
	for _, b := range order {
		if err := m.saveRows(b); err != nil {
			return err
		}
	}
	return nil
}

// somePoints gives both ends of a row, to find the block around it.
func somePoints(g orb.Geometry) []orb.Point {
	var first, last orb.Point
	n := 0
	_ = frame.EachPoint(g, func(p orb.Point) error {
		if n == 0 {
			first = p
		}
		last = p
		n++
		return nil
	})
	if n == 0 {
		return nil
	}
	return []orb.Point{{first[0] + (last[0]-first[0])/4, first[1] + (last[1]-first[1])/4}, {first[0] + (last[0]-first[0])*3/4, first[1] + (last[1]-first[1])*3/4}}
}

// loadRows reads the stored rows of a block once.
func (m *merge) loadRows(b *block) error {
	if b.loaded {
		return nil
	}
	b.loaded, b.byLabel = true, map[string]*row{}
	rows, err := m.tx.Rows(m.ctx, b.ID)
	if err != nil {
		return err
	}
	if !b.framed {
		m.settleFrame(b)
	}
	for _, r := range rows {
		if !b.framed {
			if f, err := frame.ForGeometry(r.Line); err == nil {
				b.frame, b.framed = f, true
			}
		}
		next := &row{Row: r, stored: true}
		if b.framed && len(r.Line) > 0 {
			if laid, err := layout.NewRow(b.frame, r.Line, layout.AsDrawn); err == nil {
				next.laid, next.placed = laid, true
			}
		}
		b.rows = append(b.rows, next)
		b.byLabel[r.Label] = next
	}
	return nil
}

// rowsOf compares the rows that a file gives for a block with those stored.
func (m *merge) rowsOf(b *block, list []*rowIn) {
	if !b.framed {
		if f, err := frame.ForGeometry(list[0].line); err == nil {
			b.frame, b.framed = f, true
		}
	}
	var rows []*row
	for _, in := range list {
		if r := m.rowFor(b, in); r != nil {
			rows = append(rows, r)
		}
	}
	m.checkLabels(b, rows)
	if m.problems > 0 {
		return
	}
	placed := m.place(b, rows)
	if m.problems > 0 {
		return
	}
	m.checkDrawing(b, rows, placed)
	m.checkGround(b, rows, placed)
	if m.problems > 0 {
		return
	}
	for i, r := range rows {
		m.applyRow(b, r, placed[i])
	}
	m.settleBlock(b, rows)
	m.orderRows(b)
	m.tellAbsentRows(b)
}

// rowFor finds the stored row that a file means, or makes a new one.
func (m *merge) rowFor(b *block, in *rowIn) *row {
	var r *row
	for _, k := range b.rows {
		if in.id != 0 && k.ID == in.id {
			r = k
		}
	}
	if r == nil {
		m.meetForeign(in.where, in.id)
		r = b.byLabel[in.label]
	}
	switch {
	case r != nil && r.in != nil:
		m.problem(in.where, string(csv.Row), fmt.Sprintf("row %s used twice", r.in.label),
			fmt.Sprintf("%s and %s, %.1f m apart%s", m.spot(r.in.where), m.spot(in.where), m.apart(b, r.in.line, in.line), m.unused(b)), "a number of its own for each row; a row that a road cuts is one MultiLineString")
		return nil
	case r == nil && in.label == "":
		m.problem(in.where, string(csv.CoursonID), "an id that is not known here, and no row number", fmt.Sprint(in.id), "the row's number")
		return nil
	case r == nil:
		r = &row{Row: store.Row{Label: in.label, Block: b.ID}}
		b.rows = append(b.rows, r)
		b.byLabel[in.label] = r
	}
	r.in = in
	return r
}

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

// place lays the lines of a file on the block's ground.
func (m *merge) place(b *block, rows []*row) []layout.Row {
	out := make([]layout.Row, len(rows))
	for i, r := range rows {
		end, err := m.endOf(b, r)
		if err == nil {
			out[i], err = layout.NewRow(b.frame, r.in.line, end)
		}
		if err != nil {
			m.rowProblem(r.in, err)
		}
	}
	return out
}

// endOf gives the numbering end of a row: what the file says, else the job,
// else where the stored row begins, else what its block says, else as drawn.
func (m *merge) endOf(b *block, r *row) (layout.End, error) {
	switch {
	case r.in.end != "":
		return layout.ParseEnd(r.in.end)
	case m.job.NumberingEnd != "":
		return layout.ParseEnd(m.job.NumberingEnd)
	case r.placed:
		first, _ := r.laid.Ends()
		return layout.Toward(r.laid.Frame.LonLat(first)), nil
	}
	return layout.ParseEnd(b.NumberingEnd)
}

func (m *merge) rowProblem(in *rowIn, err error) {
	wanted := "a line along the row with its two ends"
	field := "geometry"
	switch {
	case errors.Is(err, layout.ErrEnd) || errors.Is(err, layout.ErrEndUnclear):
		field, wanted = string(csv.NumberingEnd), "the compass word of the end where vine 1 stands: N, NE, E, SE, S, SW, W or NW"
	case errors.Is(err, layout.ErrFar):
		wanted = "a line in its block"
	case errors.Is(err, layout.ErrOverlap):
		wanted = "parts that do not lie on each other"
	case errors.Is(err, layout.ErrShort) || errors.Is(err, layout.ErrTooMany) || errors.Is(err, layout.ErrSpacing):
		field, wanted = string(csv.VineSpacing), "the planting distance along the row in metres, and a row of at least two vines"
	}
	m.problem(in.where, field, fmt.Sprintf("row %s: %v", in.label, err), "", wanted)
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
	if m.problems == 0 {
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

// applyRow takes over what the file says of a row.
func (m *merge) applyRow(b *block, r *row, placed layout.Row) {
	in := r.in
	changed := !r.stored
	if in.label != "" && in.label != r.Label {
		delete(b.byLabel, r.Label)
		r.Label = in.label
		b.byLabel[r.Label] = r
		changed = true
	}
	line := drawn(in.line, placed)
	r.before, r.beforeSpacingM = r.laid, m.spacingOf(b, r)
	if !sameLine(r.Line, line) {
		r.Line, r.LengthM, changed, r.moved = line, placed.LengthM(), true, true
		r.laid, r.placed = placed, true
	}
	if setFloat(&r.SpacingM, in.spacingM) {
		changed, r.moved = true, true
	}
	changed = setExtra(&r.Extra, in.extra) || changed
	if placed.Repeated > 0 {
		m.notice(in.where, "geometry", "repeated positions of the line were left out")
	}
	r.dirty = r.dirty || changed
	m.became(&m.report.Rows, in.where, "row "+b.Code+"/"+r.Label, r.stored, changed)
}

// drawn gives the line from its numbering end with the file's own coordinates
// where it is in one part, else as the layout walks it.
func drawn(g orb.Geometry, placed layout.Row) orb.MultiLineString {
	l, single := g.(orb.LineString)
	if m, ok := g.(orb.MultiLineString); ok && len(m) == 1 {
		l, single = m[0], true
	}
	if !single || placed.Repeated > 0 {
		return placed.Lines()
	}
	first, _ := placed.Ends()
	if frame.Dist(placed.Frame.XY(l[0]), first) > frame.Dist(placed.Frame.XY(l[len(l)-1]), first) {
		l = l.Clone()
		l.Reverse()
	}
	return orb.MultiLineString{l}
}

// spacingOf is the planting distance of a row, m; 0 unknown.
func (m *merge) spacingOf(b *block, r *row) float64 {
	switch {
	case r.SpacingM > 0:
		return r.SpacingM
	case b.VineSpacingM > 0:
		return b.VineSpacingM
	}
	return m.job.VineSpacingM
}

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

// saveRows writes the rows of a block that changed.
func (m *merge) saveRows(b *block) error {
	var list []store.Row
	var which []*row
	for _, r := range b.rows {
		if r.dirty || r.ID == 0 {
			r.Block = b.ID
			list, which = append(list, r.Row), append(which, r)
		}
	}
	if len(list) == 0 {
		return nil
	}
	if err := m.tx.SaveRows(list); err != nil {
		return err
	}
	for i, r := range which {
		r.ID, r.dirty = list[i].ID, false
	}
	return nil
}
