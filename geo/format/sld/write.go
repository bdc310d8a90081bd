// Package sld writes legends as styles that other programs draw by: Styled Layer
// Descriptor 1.1.0 (OGC 05-078r4) with Symbology Encoding 1.1.0 (OGC 05-077r4).
package sld

import (
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"courson/geo/format"
	"courson/geo/tile"
)

// By is how a thing's class is told from its column.
type By uint8

// The ways.
const (
	ByKey   By = iota // the column has the legend's key
	ByCode            // the column has the legend's code
	ByRange           // the column has the number that the class bounds, from inclusive
	ByNone            // there is one class for all
)

// Style is a layer drawn by a legend. The class of code 0 is for what has no
// value, unless ranges or ByNone say otherwise.
type Style struct {
	Layer  string // name of the table or file
	Name   string
	Shape  format.Shape
	Legend tile.Legend
	Column string
	By     By
	Label  string // column that is written on the thing; "" none
}

// Write writes a style on the light ground. Marks that Symbology Encoding has no
// name for (half, tick, plus, bar) are put together from those that it has.
func Write(w io.Writer, s Style) error {
	if len(s.Legend.Classes) == 0 || s.Shape == format.NoShape {
		return fmt.Errorf("style %s of layer %s: nothing to draw", s.Name, s.Layer)
	}
	d := &document{}
	d.put(xml.Header, `<StyledLayerDescriptor version="1.1.0" xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc"`,
		` xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://www.opengis.net/sld http://schemas.opengis.net/sld/1.1.0/StyledLayerDescriptor.xsd">`)
	d.put("\n<NamedLayer>")
	d.leaf("se:Name", s.Layer)
	d.put("<UserStyle>")
	d.leaf("se:Name", s.Name)
	title := s.Legend.Title
	if s.Legend.Unit != "" {
		title += ", " + s.Legend.Unit
	}
	d.describe(title)
	d.put("<se:FeatureTypeStyle>")
	for _, c := range s.Legend.Classes {
		d.rule(s, c)
	}
	d.put("\n</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n")
	if _, err := io.WriteString(w, d.String()); err != nil {
		return fmt.Errorf("write style %s: %w", s.Name, err)
	}
	return nil
}

type document struct{ strings.Builder }

func (d *document) put(parts ...string) {
	for _, p := range parts {
		d.WriteString(p)
	}
}

func (d *document) leaf(name, text string) {
	d.put("<", name, ">")
	_ = xml.EscapeText(d, []byte(text)) // into memory
	d.put("</", name, ">")
}

func (d *document) describe(title string) {
	d.put("<se:Description>")
	d.leaf("se:Title", title)
	d.put("</se:Description>")
}

func (d *document) rule(s Style, c tile.Class) {
	d.put("\n<se:Rule>")
	d.leaf("se:Name", c.Key)
	d.describe(c.Label)
	d.filter(s, c)
	switch s.Shape {
	case format.PointShape:
		d.marks(c)
	case format.LineShape:
		d.put("<se:LineSymbolizer>")
		d.stroke(c.Light, "2.5", c.Line)
		d.put("</se:LineSymbolizer>")
	default:
		d.put("<se:PolygonSymbolizer><se:Fill>")
		d.parameter("fill", c.Light)
		d.parameter("fill-opacity", "0.35")
		d.put("</se:Fill>")
		d.stroke(c.Light, "2", c.Line)
		d.put("</se:PolygonSymbolizer>")
	}
	if s.Label != "" {
		d.label(s.Label)
	}
	d.put("</se:Rule>")
}

// filter says which things are of a class.
func (d *document) filter(s Style, c tile.Class) {
	compare := func(op, value string) {
		d.put("<ogc:", op, ">")
		d.leaf("ogc:PropertyName", s.Column)
		d.leaf("ogc:Literal", value)
		d.put("</ogc:", op, ">")
	}
	ranged := s.By == ByRange && (c.From != nil || c.To != nil)
	switch {
	case s.By == ByNone:
	case c.Code == 0 && !ranged:
		d.put("<se:ElseFilter/>")
	case ranged:
		d.put("<ogc:Filter>")
		both := c.From != nil && c.To != nil
		if both {
			d.put("<ogc:And>")
		}
		if c.From != nil {
			compare("PropertyIsGreaterThanOrEqualTo", strconv.FormatFloat(*c.From, 'f', -1, 64))
		}
		if c.To != nil {
			compare("PropertyIsLessThan", strconv.FormatFloat(*c.To, 'f', -1, 64))
		}
		if both {
			d.put("</ogc:And>")
		}
		d.put("</ogc:Filter>")
	case s.By == ByCode:
		d.put("<ogc:Filter>")
		compare("PropertyIsEqualTo", strconv.Itoa(int(c.Code)))
		d.put("</ogc:Filter>")
	default:
		d.put("<ogc:Filter>")
		compare("PropertyIsEqualTo", c.Key)
		d.put("</ogc:Filter>")
	}
}

func (d *document) parameter(name, value string) {
	d.put(`<se:SvgParameter name="`, name, `">`, value, `</se:SvgParameter>`)
}

// stroke draws a line; its dashes are those of the page.
func (d *document) stroke(colour, width, line string) {
	d.put("<se:Stroke>")
	d.parameter("stroke", colour)
	d.parameter("stroke-width", width)
	if dashes := map[string]string{"dashed": "8 4", "dotted": "1 4", "dashdot": "8 4 1 4"}[line]; dashes != "" {
		d.parameter("stroke-dasharray", dashes)
	}
	d.put("</se:Stroke>")
}

func (d *document) label(column string) {
	d.put("<se:TextSymbolizer><se:Label>")
	d.leaf("ogc:PropertyName", column)
	d.put("</se:Label><se:Font>")
	d.parameter("font-size", "12")
	d.put("</se:Font><se:Halo><se:Radius>1.5</se:Radius><se:Fill>")
	d.parameter("fill", tile.GlyphHalo)
	d.put("</se:Fill></se:Halo><se:Fill>")
	d.parameter("fill", tile.GlyphInk)
	d.put("</se:Fill></se:TextSymbolizer>")
}
