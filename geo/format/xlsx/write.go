// Package xlsx writes tables as workbooks (ISO/IEC 29500, Office Open XML).
package xlsx

import (
	"fmt"
	"io"
	"math"
	"unicode/utf8"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/xuri/excelize/v2"

	"courson/geo/format"
)

// What a workbook can hold.
const (
	mostRows     = excelize.TotalRows // of a sheet, with its heading
	mostText     = excelize.TotalCellChars
	mostDigits   = 1e15 // whole numbers from here lose digits: they are written as texts
	columnsSheet = "columns"
)

// Writer writes one layer: a sheet of things, a further one where it is full, and
// a sheet that says what the columns mean. Texts are never formulas. Points have
// their longitude and latitude in two columns, lines and areas their well-known
// text (OGC 06-103r4) where a cell can hold it.
type Writer struct {
	w       io.Writer
	layer   *format.Layer
	file    *excelize.File
	sheet   *excelize.StreamWriter
	sheets  int
	row     int
	cells   []any
	notices format.Notices
	most    int // rows of a sheet
}

// NewWriter begins a workbook; nothing is written before Close.
func NewWriter(w io.Writer, l *format.Layer) (*Writer, error) {
	x := &Writer{w: w, layer: l, file: excelize.NewFile(), most: mostRows}
	return x, x.next()
}

// heading is the first line of every sheet.
func (x *Writer) heading() (out []any) {
	for _, c := range x.layer.Columns {
		out = append(out, c.Name)
	}
	switch x.layer.Shape {
	case format.PointShape:
		return append(out, "longitude", "latitude")
	case format.LineShape, format.AreaShape:
		return append(out, "wkt")
	}
	return out
}

// next begins a sheet.
func (x *Writer) next() (err error) {
	if x.sheet != nil {
		if err = x.sheet.Flush(); err != nil {
			return fmt.Errorf("end a sheet: %w", err)
		}
	}
	x.sheets++
	name := sheetName(x.layer.Name, x.sheets)
	if x.sheets == 1 {
		err = x.file.SetSheetName("Sheet1", name)
	} else {
		_, err = x.file.NewSheet(name)
	}
	if err != nil {
		return fmt.Errorf("begin sheet %s: %w", name, err)
	}
	if x.sheet, err = x.file.NewStreamWriter(name); err != nil {
		return fmt.Errorf("begin sheet %s: %w", name, err)
	}
	if err := x.sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return fmt.Errorf("begin sheet %s: %w", name, err)
	}
	x.row = 0
	return x.line(x.heading())
}

func sheetName(layer string, n int) string {
	name := layer
	if n > 1 {
		name = fmt.Sprintf("%s %d", layer, n)
	}
	return name[:min(len(name), excelize.MaxSheetNameLength)]
}

func (x *Writer) line(cells []any) error {
	x.row++
	at, err := excelize.CoordinatesToCellName(1, x.row)
	if err != nil {
		return fmt.Errorf("line %d: %w", x.row, err)
	}
	if err := x.sheet.SetRow(at, cells); err != nil {
		return fmt.Errorf("line %d: %w", x.row, err)
	}
	return nil
}

// Write adds a thing.
func (x *Writer) Write(cells []format.Cell, g orb.Geometry) error {
	if err := x.layer.Check(cells, g); err != nil {
		return err
	}
	if x.row >= x.most {
		if err := x.next(); err != nil {
			return err
		}
	}
	x.cells = x.cells[:0]
	for i, c := range cells {
		x.cells = append(x.cells, x.value(x.layer.Columns[i], c))
	}
	if p, ok := g.(orb.Point); ok {
		x.cells = append(x.cells, degrees(p[0]), degrees(p[1]))
	} else if g != nil {
		if text := wkt.MarshalString(g); len(text) <= mostText {
			x.cells = append(x.cells, text)
		} else {
			x.notices.Add("", "wkt", format.None, 0, fmt.Sprintf("a shape of more than %d characters is left out", mostText))
		}
	}
	return x.line(x.cells)
}

// degrees leaves 8 places, 1.1 mm on the ground.
func degrees(v float64) float64 { return math.Round(v*1e8) / 1e8 }

func (x *Writer) value(c format.Column, v format.Cell) any {
	switch {
	case !v.Known:
		return nil
	case c.Kind == format.Whole && (v.Whole >= mostDigits || v.Whole <= -mostDigits):
		return fmt.Sprint(v.Whole)
	case c.Kind == format.Whole:
		return v.Whole
	case c.Kind == format.Number && (math.IsNaN(v.Num) || math.IsInf(v.Num, 0)):
		return nil
	case c.Kind == format.Number:
		return v.Num
	}
	text := format.Plain(v.Text)
	if text != v.Text {
		x.notices.Add("", c.Name, format.None, 0, "control characters are left out")
	}
	if utf8.RuneCountInString(text) > mostText {
		x.notices.Add("", c.Name, format.None, 0, fmt.Sprintf("text cut to %d characters", mostText))
		text = string([]rune(text)[:mostText])
	}
	return text
}

// Close writes the sheet of columns and the workbook.
func (x *Writer) Close() error {
	defer x.file.Close()
	if err := x.sheet.Flush(); err != nil {
		return fmt.Errorf("end the sheet: %w", err)
	}
	if err := x.describe(); err != nil {
		return err
	}
	if err := x.file.Write(x.w); err != nil {
		return fmt.Errorf("write the workbook: %w", err)
	}
	return nil
}

// describe writes what the columns mean, and what could not be kept.
func (x *Writer) describe() (err error) {
	if _, err = x.file.NewSheet(columnsSheet); err == nil {
		x.sheet, err = x.file.NewStreamWriter(columnsSheet)
	}
	if err != nil {
		return fmt.Errorf("begin sheet %s: %w", columnsSheet, err)
	}
	x.row = 0
	lines := [][]any{{x.layer.Title + ". " + x.layer.What}, {"column", "unit", "meaning"}}
	for _, c := range x.layer.Columns {
		lines = append(lines, []any{c.Name, c.Unit, c.Title})
	}
	for _, n := range x.notices.List() {
		lines = append(lines, []any{n.String()})
	}
	for _, l := range lines {
		if err := x.line(l); err != nil {
			return err
		}
	}
	if err := x.sheet.Flush(); err != nil {
		return fmt.Errorf("end the sheet: %w", err)
	}
	return nil
}

// Notices tells what the workbook could not hold.
func (x *Writer) Notices() []format.Notice { return x.notices.List() }
