package work

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/vine"
)

// computed tells whether a column holds what our exports work out for their
// readers: it says nothing new.
func (in *intake) computed(it *itemIn, c *colInfo) bool {
	if !in.ours[it.file] {
		return false
	}
	switch c.name {
	case "area_m2", "length_m", "length_ft", "leaf", "walk", "range", "why":
		return true
	}
	return false
}

// takeBlock takes up a block.
func (in *intake) takeBlock(it *itemIn) {
	b := blockIn{where: it.where}
	in.report.Blocks.Read++
	before := in.problems
	for i := range it.cells {
		in.blockCell(it, &it.cells[i], &b)
	}
	switch g := it.geometry.(type) {
	case orb.Polygon:
		b.outline = orb.MultiPolygon{g}
	case orb.MultiPolygon:
		b.outline = g
	}
	if b.code == "" && b.id == 0 {
		in.missing(it, "a block needs its code", csv.Block, csv.Block, csv.Name)
		return
	}
	if before == in.problems {
		in.blocks = append(in.blocks, b)
	}
}

// missing says that a field is missing, and which name may have been meant.
func (in *intake) missing(it *itemIn, what string, field csv.Field, near ...csv.Field) {
	wanted := fmt.Sprintf("a %s %q", in.columnWord(it), string(field))
	ask := format.Question{Option: "column", Of: string(field)}
	for _, c := range it.cells {
		ask.Choices = append(ask.Choices, c.col.name)
		if c.col.known {
			continue
		}
		if n := format.Nearest(c.col.name, in.reco.Known(near...)); n != "" {
			wanted += fmt.Sprintf("; %q is not known, %q may be meant", c.col.name, n)
		}
	}
	in.ask(it.where, ask, string(field), what, "nothing", wanted)
}

func (in *intake) columnWord(it *itemIn) string {
	if it.table {
		return "column"
	}
	return "property"
}

// blockCell takes up one property of a block.
func (in *intake) blockCell(it *itemIn, c *cell, b *blockIn) {
	if c.kind == geojson.Null || c.col.wkt || in.computed(it, c.col) {
		return
	}
	switch f := c.col.field; {
	case !c.col.known:
		b.extra = keep(b.extra, c)
	case f == csv.CoursonID:
		b.id = in.idCell(it, c)
	case f == csv.Block:
		b.code = c.label()
	case f == csv.Name:
		b.name = c.label()
	case f == csv.Variety:
		b.variety = c.label()
	case f == csv.Clone:
		b.clone = c.label()
	case f == csv.Rootstock:
		b.rootstock = c.label()
	case f == csv.System:
		b.system = c.label()
	case f == csv.NumberingEnd:
		b.end = c.label()
	case f == csv.Planted:
		b.planted = in.seasonCell(it, c)
	case f == csv.RowSpacing:
		b.rowSpacingM = in.spacingCell(it, c)
	case f == csv.VineSpacing:
		b.vineSpacingM = in.spacingCell(it, c)
	default:
		b.extra = keep(b.extra, c)
	}
}

func keep(extra map[string]any, c *cell) map[string]any {
	if extra == nil {
		extra = map[string]any{}
	}
	extra[c.col.name] = c.any()
	return extra
}

// takeRow takes up a row.
func (in *intake) takeRow(it *itemIn) {
	r := rowIn{where: it.where, line: it.geometry}
	in.report.Rows.Read++
	before := in.problems
	for i := range it.cells {
		in.rowCell(it, &it.cells[i], &r)
	}
	if r.label == "" && r.id == 0 {
		in.missing(it, "a row needs its number", csv.Row, csv.Row)
		return
	}
	if r.line == nil {
		in.report.Rows.LeftOut++
		in.notice(it.where, "geometry", "no place; the row is left out")
		in.item(it.where, "row "+r.block+"/"+r.label, "left out", "it has no place")
		return
	}
	if n, length := extent(r.line); !length {
		in.problem(it.where, "geometry", fmt.Sprintf("row %s has no length", r.label), fmt.Sprintf("%d positions at one place", n), "a line along the row with its two ends")
		return
	}
	if before == in.problems {
		in.rows = append(in.rows, r)
	}
}

// extent counts the positions of a line and tells whether any two differ.
func extent(g orb.Geometry) (n int, length bool) {
	var first orb.Point
	_ = frame.EachPoint(g, func(p orb.Point) error {
		if n == 0 {
			first = p
		}
		length = length || p != first
		n++
		return nil
	})
	return n, length
}

// rowCell takes up one property of a row.
func (in *intake) rowCell(it *itemIn, c *cell, r *rowIn) {
	if c.kind == geojson.Null || c.col.wkt || in.computed(it, c.col) {
		return
	}
	switch f := c.col.field; {
	case !c.col.known:
		r.extra = keep(r.extra, c)
	case f == csv.CoursonID:
		r.id = in.idCell(it, c)
	case f == csv.Block:
		r.block = c.label()
	case f == csv.Row:
		r.label = in.rowLabel(it, c)
	case f == csv.NumberingEnd:
		r.end = c.label()
	case f == csv.VineSpacing:
		r.spacingM = in.spacingCell(it, c)
	case f == csv.RowSpacing:
		r.rowSpacingM = in.spacingCell(it, c)
	case f == csv.Offset:
		r.offsetM, r.hasOffset = in.lengthCell(it, c, 0, 1000), true
	case f == csv.Vines:
		r.vines = in.wholeCell(it, c, 0, stand.MaxNumber)
	case f == csv.Season:
		in.takeSeason(it, c)
	default:
		r.extra = keep(r.extra, c)
	}
}

// rowLabel gives the label of a row. A word for row before it, as in names that
// people give to lines, is not part of it.
func (in *intake) rowLabel(it *itemIn, c *cell) string {
	label := c.label()
	word, rest, two := strings.Cut(label, " ")
	if two && slices.Contains(csv.RowWords(), strings.ToLower(word)) && strings.TrimSpace(rest) != "" {
		in.notice(it.where, c.col.name, "the word for row before its label was left out")
		return strings.TrimSpace(rest)
	}
	return label
}

// takeSeason takes up a season that the file itself names.
func (in *intake) takeSeason(it *itemIn, c *cell) int {
	s := in.seasonCell(it, c)
	if s == 0 {
		return 0
	}
	if in.job.Season != 0 && s != in.job.Season {
		in.problem(it.where, c.col.name, "another season than was stated", fmt.Sprint(s), fmt.Sprint(in.job.Season))
		return 0
	}
	if _, known := in.seasons[s]; !known {
		in.seasons[s] = it.where
	}
	return s
}

// seasonCell reads a season.
func (in *intake) seasonCell(it *itemIn, c *cell) int {
	return in.wholeCell(it, c, vine.MinSeason, vine.MaxSeason)
}
