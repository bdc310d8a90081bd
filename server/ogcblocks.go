package server

import (
	"strconv"

	"courson/geo/vine"
)

func blockOwnFields() []ogcField {
	text := func(name, what string, of func(p *ogcPart) string) ogcField {
		return ogcField{name: name, what: what, of: func(p *ogcPart, _ int) ogcCell { return textCell(of(p)) }}
	}
	whole := func(name, what string, of func(p *ogcPart) int) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: func(p *ogcPart, _ int) ogcCell { return wholeCell(of(p), of(p) > 0) }}
	}
	length := func(name, what string, of func(p *ogcPart) float64) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: func(p *ogcPart, _ int) ogcCell { return lengthCell(of(p)) }}
	}
	fields := []ogcField{
		text("code", "Code of the block, first part of every address", func(p *ogcPart) string { return p.head.Code }),
		text("name", "Name of the block", func(p *ogcPart) string { return p.head.Name }),
		blockFields()[1],
		text("variety", "Variety", func(p *ogcPart) string { return p.head.Variety }),
		text("clone", "Clone", func(p *ogcPart) string { return p.head.Clone }),
		text("rootstock", "Rootstock", func(p *ogcPart) string { return p.head.Rootstock }),
		text("system", "Training system", func(p *ogcPart) string { return p.head.System }),
		whole("planted", "Season of the first leaf of its first planting", func(p *ogcPart) int { return p.head.Planted }),
		whole("leaf", "Which growing season of its life that planting is in", func(p *ogcPart) int { return vine.Leaf(p.head.Planted, p.season) }),
		length("row_spacing_m", "Distance between rows, m", func(p *ogcPart) float64 { return p.head.RowSpacingM }),
		length("vine_spacing_m", "Planting distance along the row, m", func(p *ogcPart) float64 { return p.head.VineSpacingM }),
		length("area_m2", "Area of the outline on the ground, m²", func(p *ogcPart) float64 { return p.totals.AreaM2 }),
		length("row_m", "Planted row in all, m", func(p *ogcPart) float64 { return p.totals.RowM }),
		{name: "rows", kind: ogcWhole, what: "Rows", of: func(p *ogcPart, _ int) ogcCell { return wholeCell(p.totals.Rows, true) }},
	}
	return append(fields, sumFields(func(p *ogcPart, _ int) ogcSum { return p.blockSum() })...)
}

// blockCollection has the blocks with their outlines; one of which only rows
// are known has no geometry.
func blockCollection() ogcCollection {
	return ogcCollection{id: "blocks", title: "Blocks", geometry: "MultiPolygon", blockField: "code",
		what:   "The blocks with their outlines, what is planted there, and sums over their vines in one season.",
		fields: blockOwnFields(),
		known:  func(*ogcPart) int { return 1 },
		count:  func(*ogcPart) int { return 1 },
		name:   func(p *ogcPart, _ int) string { return strconv.FormatInt(p.head.ID, 10) },
		find:   func(p *ogcPart, id string) (int, bool) { return 0, strconv.FormatInt(p.head.ID, 10) == id },
		within: func(p *ogcPart, _ int, boxes []ogcBox) bool {
			return len(p.head.Outline) == 0 || areaWithin(p.head.Outline, boxes)
		},
		shape: func(dst []byte, p *ogcPart, _ int) []byte { return appendAreas(dst, p.head.Outline) },
	}
}
