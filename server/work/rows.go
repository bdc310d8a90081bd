package work

import (
	"errors"
	"fmt"
	"maps"

	"github.com/paulmach/orb"

	"courson/geo/format"
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
	drawn          bool // made and not surveyed, and about to be replaced
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
	m.meetDrawn(b, list)
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
	r, met := m.placeOf[in]
	for _, k := range b.rows {
		if !met && in.id != 0 && k.ID == in.id && (k.Label == in.label || m.renames(b, k, in)) {
			r = k
		}
	}
	if r == nil && !met {
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
	if ends := somePoints(in.line); errors.Is(err, layout.ErrFar) && len(ends) > 0 && m.swapped(in.where, ends[0]) {
		return
	}
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
	if field == string(csv.NumberingEnd) {
		ask := format.Question{Option: "numbering_end", Choices: []string{"N", "NE", "E", "SE", "S", "SW", "W", "NW", "first"}}
		m.ask(in.where, ask, field, fmt.Sprintf("row %s: %v", in.label, err), "", wanted)
		return
	}
	m.problem(in.where, field, fmt.Sprintf("row %s: %v", in.label, err), "", wanted)
}

// applyRow takes over what the file says of a row.
func (m *merge) applyRow(b *block, r *row, placed layout.Row) {
	in := r.in
	changed := !r.stored
	if in.label != "" && in.label != r.Label {
		if b.byLabel[r.Label] == r { // else another took it already
			delete(b.byLabel, r.Label)
		}
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
	if r.drawn {
		r.Extra, changed = maps.Clone(r.Extra), true
		delete(r.Extra, ExtraDrawn)
	}
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

// renames tells whether a file means to give a stored row, named by its id,
// another label: its line lies on that row, or no row has the label yet. An id
// of another store must not rename anything.
func (m *merge) renames(b *block, r *row, in *rowIn) bool {
	if b.byLabel[in.label] == nil {
		return true
	}
	line, err := layout.NewRow(b.frame, in.line, layout.AsDrawn)
	if err != nil || !r.placed {
		return false
	}
	return layout.Match([]layout.Row{line}, []layout.Row{r.laid}, m.rowTolerance(b, nil))[0] == 0
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
