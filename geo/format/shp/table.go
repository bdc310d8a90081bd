package shp

import (
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"courson/geo/format"
)

const (
	mostText   = 254 // bytes of a text
	mostDigits = 19  // characters of a number
)

// table makes the .dbf.
func (l *Layer) table(made time.Time, notices *format.Notices) ([]byte, error) {
	cells, bad := make([][]string, len(l.Columns)), &Bad{}
	widths := make([]int, len(l.Columns))
	row := 1
	for k := range l.Columns {
		cells[k], widths[k] = l.column(k, notices, bad)
		row += widths[k]
	}
	if err := bad.err(); err != nil {
		return nil, err
	}
	head := 32 + 32*len(l.Columns) + 1
	if row > math.MaxUint16 {
		return nil, problem(l.Name, "the columns are too wide together", fmt.Sprintf("%d bytes", row), fmt.Sprintf("at most %d", math.MaxUint16))
	}
	b := make([]byte, head, head+row*len(l.Shapes)+1)
	b[0] = 3 // dBASE III without memos
	if y := made.Year() - 1900; y >= 0 && y < 256 {
		b[1], b[2], b[3] = byte(y), byte(made.Month()), byte(made.Day())
	}
	binary.LittleEndian.PutUint32(b[4:], uint32(len(l.Shapes)))
	binary.LittleEndian.PutUint16(b[8:], uint16(head))
	binary.LittleEndian.PutUint16(b[10:], uint16(row))
	for k, c := range l.Columns {
		d := b[32+32*k:]
		copy(d[:11], c.Name)
		d[11], d[16] = 'C', byte(widths[k])
		if c.Numbers != nil {
			d[11], d[17] = 'N', byte(c.Decimals)
		}
	}
	b[head-1] = 13
	for i := range l.Shapes {
		b = append(b, ' ')
		for k, c := range l.Columns {
			blanks := strings.Repeat(" ", widths[k]-len(cells[k][i]))
			if c.Numbers != nil {
				b = append(append(b, blanks...), cells[k][i]...)
			} else {
				b = append(append(b, cells[k][i]...), blanks...)
			}
		}
	}
	return append(b, 26), nil
}

// column gives the cells of column k and its width.
func (l *Layer) column(k int, notices *format.Notices, bad *Bad) (cells []string, width int) {
	c := &l.Columns[k]
	most := mostText
	if c.Numbers != nil {
		most = mostDigits
	}
	refuse := func(i int, what, found, wanted string) {
		if len(bad.Problems) < mostProblems {
			bad.add(&format.Problem{File: l.Name, Feature: i, Field: c.Name, What: what, Found: found, Wanted: wanted})
		}
	}
	if c.Width < 0 || c.Width > most || c.Decimals < 0 || c.Decimals > 15 || c.Numbers == nil && c.Decimals != 0 {
		refuse(format.None, "not a width for this column", fmt.Sprintf("%d with %d decimals", c.Width, c.Decimals), fmt.Sprintf("at most %d, decimals at most 15", most))
		return make([]string, len(l.Shapes)), 1
	}
	cells = make([]string, len(l.Shapes))
	limit := most
	if c.Width > 0 {
		limit = c.Width
	}
	for i := range cells {
		if c.Numbers != nil {
			cells[i] = digits(c.Numbers[i], c.Decimals)
			if len(cells[i]) > limit || math.IsInf(c.Numbers[i], 0) {
				refuse(i, "the number does not fit", cells[i], fmt.Sprintf("at most %d characters with %d decimals", limit, c.Decimals))
				cells[i] = ""
			}
		} else {
			cells[i] = cut(c.Texts[i], limit)
			if !utf8.ValidString(c.Texts[i]) || strings.ContainsAny(c.Texts[i], "\x00\x1a") {
				refuse(i, "the text holds bytes that no table can", format.Quote(c.Texts[i]), "UTF-8 without control characters")
			} else if cells[i] != strings.TrimRight(c.Texts[i], " ") {
				notices.Add(l.Name, c.Name, i, 0, fmt.Sprintf("text cut to %d bytes", limit))
			}
		}
		width = max(width, len(cells[i]))
	}
	if c.Width > 0 {
		width = c.Width
	}
	return cells, max(width, 1)
}

// digits writes a number with fixed decimals, nothing for NaN.
func digits(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// cut gives what of a text fits into a number of bytes, whole characters only,
// without blanks at its end, which a table cannot hold.
func cut(s string, most int) string {
	if len(s) > most {
		for most > 0 && !utf8.RuneStart(s[most]) {
			most--
		}
		s = s[:most]
	}
	return strings.TrimRight(s, " ")
}

// key is a table of what the columns mean, nil where their names say it.
func (l *Layer) key() []byte {
	var b strings.Builder
	any := false
	b.WriteString("field,title\r\n")
	for _, c := range l.Columns {
		any = any || c.Title != "" && c.Title != c.Name
		title := c.Title
		if strings.ContainsAny(title, ",\"\r\n") {
			title = `"` + strings.ReplaceAll(title, `"`, `""`) + `"`
		}
		fmt.Fprintf(&b, "%s,%s\r\n", c.Name, title)
	}
	if !any {
		return nil
	}
	return []byte(b.String())
}
