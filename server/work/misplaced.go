package work

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/vine"
)

// nearM is how far from each other the blocks of an estate may lie, m; chosen by
// us, only to tell swapped coordinates.
const nearM = 100_000

// swapped refuses new ground that lies far from the estate as written, but in it
// with longitude and latitude changed over.
func (m *merge) swapped(at where, p orb.Point) bool {
	turned := orb.Point{p[1], p[0]}
	near := false
	for _, b := range m.blocks {
		if !b.stored || len(b.Outline) == 0 || math.Abs(turned[1]) > 90 || math.Abs(p[1]) > 90 {
			continue
		}
		c := b.Outline.Bound().Center()
		if frame.WGS84.Distance(c, p) < nearM {
			return false
		}
		near = near || frame.WGS84.Distance(c, turned) < nearM
	}
	if near {
		m.problem(at, "coordinates", "far from the estate as written, within it if latitude comes first: the pairs look swapped", fmt.Sprintf("about %.5f, %.5f", p[0], p[1]), fmt.Sprintf("longitude first, about %.5f, %.5f", turned[0], turned[1]))
	}
	return near
}

// wentTo tells where a vine stands now that had the address before, for whoever wants
// to correct a file that was written before a block was split, joined or numbered anew;
// empty where none had it, or where it cannot be read.
func (m *merge) wentTo(was vine.Address) string {
	found, err := m.tx.FindLabel(m.ctx, was.String())
	if err != nil || len(found) != 1 {
		return ""
	}
	b := m.byID[found[0].Block]
	rows, err := m.tx.Rows(m.ctx, found[0].Block)
	if err != nil || b == nil {
		return ""
	}
	for _, r := range rows {
		if r.ID == found[0].Row {
			return fmt.Sprintf("%s, as %s is called now; ", vine.Address{Block: b.Code, Row: r.Label, Number: found[0].Number}, was)
		}
	}
	return ""
}

// leavesRows refuses an outline for a stored block that touches nothing of the old
// one, where the block has rows and the files bring none of them: they would stay
// behind, outside their block.
func (m *merge) leavesRows(b *block) (bool, error) {
	in := b.in
	if !b.stored || in.outline == nil || len(b.Outline) == 0 || in.outline.Bound().Intersects(b.Outline.Bound()) {
		return false, nil
	}
	to := in.outline.Bound().Center()
	if m.swapped(in.where, to) {
		return true, nil
	}
	for i := range m.intake.rows {
		if code := m.intake.rows[i].block; code == b.Code || code == in.code {
			return false, nil
		}
	}
	rows, err := m.tx.Rows(m.ctx, b.ID)
	if err != nil || len(rows) == 0 {
		return false, err
	}
	m.problem(in.where, "geometry", fmt.Sprintf("the outline lies elsewhere than block %s, whose %d rows would stay behind", format.Quote(b.Code), len(rows)),
		fmt.Sprintf("%.0f m from where the block is", frame.WGS84.Distance(b.Outline.Bound().Center(), to)), fmt.Sprintf("the outline around its rows, its rows in the same import, or, for another block, a code of its own in %q", csv.Block))
	return true, nil
}
