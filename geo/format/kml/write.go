// Package kml writes places as KML 2.3 (OGC 12-007r2).
package kml

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// Writer writes one layer as a stream: a placemark for each thing, its values
// typed by a schema. The colours and marks of the map are not in it.
type Writer struct {
	w       *bufio.Writer
	layer   *format.Layer
	notices format.Notices
	err     error
}

// NewWriter begins a document. Nothing is complete before Close.
func NewWriter(w io.Writer, l *format.Layer) *Writer {
	k := &Writer{w: bufio.NewWriterSize(w, 1<<16), layer: l}
	k.put(xml.Header, `<kml xmlns="http://www.opengis.net/kml/2.2"><Document id="doc">`)
	k.element("name", l.Title)
	k.element("description", l.What)
	k.put(`<Schema name="`, escape(l.Name), `" id="`, schemaID(l), `">`)
	for _, c := range l.Columns {
		k.put("\n", `<SimpleField name="`, escape(fieldOf(c)), `" type="`, typeOf(c), `"><displayName>`, escape(titleOf(c)), `</displayName></SimpleField>`)
	}
	k.put("\n</Schema>\n<Folder>")
	k.element("name", l.Name)
	return k
}

// typeOf is the type of a column; whole numbers beyond 32 bits have none in KML
// and are texts.
func typeOf(c format.Column) string {
	if c.Kind == format.Number {
		return "double"
	}
	if c.Kind == format.Whole && !strings.HasSuffix(c.Name, "_id") {
		return "int"
	}
	return "string"
}

// fieldOf is the name of a column's values. Readers mix up a value called name
// with the placemark's own.
func fieldOf(c format.Column) string {
	if c.Name == "name" {
		return "own_name"
	}
	return c.Name
}

func titleOf(c format.Column) string {
	if c.Unit == "" || strings.HasSuffix(c.Title, ", "+c.Unit) {
		return c.Title
	}
	return c.Title + ", " + c.Unit
}

func schemaID(l *format.Layer) string { return "of_" + strings.ReplaceAll(l.Name, " ", "_") }

func (k *Writer) put(parts ...string) {
	for _, p := range parts {
		if k.err == nil {
			_, k.err = k.w.WriteString(p)
		}
	}
}

func (k *Writer) element(name, text string) {
	if text != "" {
		k.put("<", name, ">", escape(text), "</", name, ">")
	}
}

func escape(s string) string {
	if !strings.ContainsAny(s, "<>&'\"\n\r\t") {
		return s
	}
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return ""
	}
	return b.String()
}

// Write adds a thing. One that has no place becomes a placemark without.
func (k *Writer) Write(cells []format.Cell, g orb.Geometry) error {
	if err := k.layer.Check(cells, g); err != nil {
		return err
	}
	k.put("\n<Placemark>")
	k.element("name", format.Plain(k.layer.NameOf(cells)))
	k.put(`<ExtendedData><SchemaData schemaUrl="#`, schemaID(k.layer), `">`)
	for i, c := range k.layer.Columns {
		if v, ok := k.value(c, cells[i]); ok {
			k.put(`<SimpleData name="`, escape(fieldOf(c)), `">`, escape(v), `</SimpleData>`)
		}
	}
	k.put(`</SchemaData></ExtendedData>`)
	k.shape(g)
	k.put("</Placemark>")
	if k.err != nil {
		return fmt.Errorf("write a placemark: %w", k.err)
	}
	return nil
}

func (k *Writer) value(c format.Column, v format.Cell) (string, bool) {
	switch {
	case !v.Known:
		return "", false
	case c.Kind == format.Whole:
		return strconv.FormatInt(v.Whole, 10), true
	case c.Kind == format.Number:
		return strconv.FormatFloat(v.Num, 'f', -1, 64), !math.IsNaN(v.Num) && !math.IsInf(v.Num, 0)
	}
	text := format.Plain(v.Text)
	if text != v.Text {
		k.notices.Add("", c.Name, format.None, 0, "control characters are left out")
	}
	return text, true
}

func (k *Writer) shape(g orb.Geometry) {
	switch g := g.(type) {
	case orb.Point:
		k.put("<Point><coordinates>", position(g), "</coordinates></Point>")
	case orb.LineString:
		k.put("<LineString><tessellate>1</tessellate>")
		k.positions(g)
		k.put("</LineString>")
	case orb.Polygon:
		k.polygon(g)
	case orb.MultiLineString:
		k.put("<MultiGeometry>")
		for _, l := range g {
			k.shape(l)
		}
		k.put("</MultiGeometry>")
	case orb.MultiPolygon:
		k.put("<MultiGeometry>")
		for _, pg := range g {
			k.polygon(pg)
		}
		k.put("</MultiGeometry>")
	}
}

func (k *Writer) polygon(pg orb.Polygon) {
	k.put("<Polygon><tessellate>1</tessellate>")
	for i, r := range pg {
		name := "innerBoundaryIs"
		if i == 0 {
			name = "outerBoundaryIs"
		}
		if len(r) > 0 && r[0] != r[len(r)-1] {
			r = append(r[:len(r):len(r)], r[0])
		}
		k.put("<", name, "><LinearRing>")
		k.positions(r)
		k.put("</LinearRing></", name, ">")
	}
	k.put("</Polygon>")
}

func (k *Writer) positions(ps []orb.Point) {
	k.put("<coordinates>")
	for i, p := range ps {
		if i > 0 {
			k.put(" ")
		}
		k.put(position(p))
	}
	k.put("</coordinates>")
}

// position writes longitude and latitude to 8 places, 1.1 mm on the ground.
func position(p orb.Point) string {
	return strconv.FormatFloat(p[0], 'f', 8, 64) + "," + strconv.FormatFloat(p[1], 'f', 8, 64)
}

// Close ends the document.
func (k *Writer) Close() error {
	k.put("\n</Folder></Document></kml>\n")
	if k.err == nil {
		k.err = k.w.Flush()
	}
	if k.err != nil {
		return fmt.Errorf("end the document: %w", k.err)
	}
	return nil
}

// Notices tells what the document could not hold.
func (k *Writer) Notices() []format.Notice { return k.notices.List() }
