package format

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"
)

// Shape is what the things of a layer look like on the map.
type Shape uint8

// The shapes. Of lines and areas a thing may have several.
const (
	NoShape Shape = iota
	PointShape
	LineShape
	AreaShape
)

// Of gives the shape that a geometry has; false for one that no layer holds.
func Of(g orb.Geometry) (Shape, bool) {
	switch g.(type) {
	case nil:
		return NoShape, true
	case orb.Point:
		return PointShape, true
	case orb.LineString, orb.MultiLineString:
		return LineShape, true
	case orb.Polygon, orb.MultiPolygon:
		return AreaShape, true
	}
	return NoShape, false
}

// ValueKind is what values a column has.
type ValueKind uint8

// The kinds.
const (
	Text ValueKind = iota
	Whole
	Number
)

// Column is one column of a layer, as every writer takes it.
type Column struct {
	Name  string // small letters, digits and underscores; the unit at its end
	Title string // what it means, in words
	Unit  string // "" where there is none
	Kind  ValueKind
}

// Layer says what the things of a file have in common. Coordinates are
// longitude and latitude on WGS 84.
type Layer struct {
	Name    string // of the table or file: vines_2027
	Title   string // for people: Vines, season 2027
	What    string // a sentence on what it holds
	Shape   Shape
	Columns []Column // the first is the id
}

// Cell is one value of a thing; which part of it counts is the column's kind.
type Cell struct {
	Known bool
	Text  string
	Whole int64
	Num   float64
}

// Sink takes the things of a layer one after another. Cells are in the order of
// the columns and are not kept; the geometry may be nil. Only after Close is the
// file whole.
type Sink interface {
	Write(cells []Cell, g orb.Geometry) error
	Close() error
}

// Check refuses cells and shapes that do not belong into a layer.
func (l *Layer) Check(cells []Cell, g orb.Geometry) error {
	if len(cells) != len(l.Columns) {
		return fmt.Errorf("layer %s has %d columns, found %d values", l.Name, len(l.Columns), len(cells))
	}
	if s, ok := Of(g); !ok || s != NoShape && s != l.Shape {
		return fmt.Errorf("a %s does not belong into layer %s", g.GeoJSONType(), l.Name)
	}
	return nil
}

// NameOf gives what a person would call a thing: its address, else the value of
// its first column of text, else its id.
func (l *Layer) NameOf(cells []Cell) string {
	name := ""
	for i, c := range l.Columns {
		if !cells[i].Known || c.Kind != Text {
			continue
		}
		if c.Name == "address" {
			return cells[i].Text
		}
		if name == "" {
			name = cells[i].Text
		}
	}
	if name == "" && len(cells) > 0 && l.Columns[0].Kind == Whole {
		return fmt.Sprint(cells[0].Whole)
	}
	return name
}

// Plain takes characters off a text that XML 1.0 cannot hold, and bytes that are
// not UTF-8.
func Plain(s string) string {
	ok := func(r rune) bool {
		return r == '\t' || r == '\n' || r == '\r' || r >= 0x20 && r <= 0xd7ff || r >= 0xe000 && r <= 0xfffc || r >= 0x10000
	}
	if strings.IndexFunc(s, func(r rune) bool { return !ok(r) }) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if !ok(r) {
			return -1
		}
		return r
	}, s)
}
