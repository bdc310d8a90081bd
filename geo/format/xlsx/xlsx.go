// Package xlsx writes tables as workbooks (ISO/IEC 29500, Office Open XML), and
// reads the sheets of a workbook as tables of text: cells as they are stored, not
// as they are shown, so that no digit is lost to a number format.
package xlsx

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"courson/geo/format"
)

// Options of reading.
type Options struct{ Limits format.Limits }

// Sheet is one sheet of a workbook.
type Sheet struct {
	Name string
	Rows [][]string // as stored; days are numbers, 45691 = 2025-02-03
	Wide int        // cells of the longest row
}

const (
	mostBytes = 256 << 20
	mostRatio = 200
	freeBytes = 32 << 20
)

// IsWorkbook tells a workbook among zip files by what is in it.
func IsWorkbook(z *zip.Reader) bool {
	return slices.ContainsFunc(z.File, func(f *zip.File) bool { return strings.HasPrefix(f.Name, "xl/workbook.") })
}

// Read reads all sheets that hold anything and are not hidden. Errors are
// *format.Problem.
func Read(r io.ReaderAt, size int64, o Options) ([]Sheet, []format.Notice, error) {
	most, err := check(r, size, o.Limits)
	if err != nil {
		return nil, nil, err
	}
	// Pieces larger than UnzipXMLSizeLimit would go to files on the disk.
	f, err := excelize.OpenReader(io.NewSectionReader(r, 0, size), excelize.Options{RawCellValue: true, UnzipSizeLimit: most, UnzipXMLSizeLimit: most})
	if err != nil {
		return nil, nil, problem("the workbook cannot be read", err.Error(), "an .xlsx workbook without a password")
	}
	defer f.Close() // nothing of it lies on the disk
	if props, err := f.GetWorkbookProps(); err == nil && props.Date1904 != nil && *props.Date1904 {
		return nil, nil, problem("the workbook counts days from 1904", "", "the setting for dates from 1904 taken off, and the days looked over; or the sheet as CSV")
	}
	var out []Sheet
	var notices format.Notices
	for _, name := range f.GetSheetList() {
		s, err := sheet(f, name, &notices)
		if err != nil {
			return nil, nil, err
		}
		if len(s.Rows) == 0 {
			continue
		}
		if shown, err := f.GetSheetVisible(name); err == nil && !shown {
			notices.Add("", name, format.None, 0, "a hidden sheet; left out")
			continue
		}
		out = append(out, s)
	}
	return out, notices.List(), nil
}

// check refuses a zip that swells, before anything is unpacked.
func check(r io.ReaderAt, size int64, l format.Limits) (int64, error) {
	most, ratio := l.MaxBytes, uint64(max(l.MaxRatio, 0))
	if most <= 0 || most > mostBytes {
		most = mostBytes
	}
	if ratio == 0 {
		ratio = mostRatio
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return 0, problem("not a workbook, or one cut short", err.Error(), "the whole .xlsx file")
	}
	var all uint64
	for _, f := range z.File {
		n := f.UncompressedSize64
		if n > freeBytes && n/ratio > f.CompressedSize64 {
			return 0, &format.Problem{Feature: format.None, What: "the packed file swells beyond reason", Cause: format.ErrTooLarge,
				Found: fmt.Sprintf("%d MB from %d kB", n>>20, f.CompressedSize64>>10), Wanted: fmt.Sprintf("at most %d times its packed size", ratio)}
		}
		if all += n; n > uint64(most) || all > uint64(most) {
			return 0, &format.Problem{Feature: format.None, What: "the workbook is too large", Found: fmt.Sprintf("more than %d MB unpacked", most>>20), Wanted: "smaller workbooks, or the sheets as CSV", Cause: format.ErrTooLarge}
		}
	}
	return most, nil
}

func sheet(f *excelize.File, name string, notices *format.Notices) (Sheet, error) {
	s := Sheet{Name: name}
	rows, err := f.Rows(name)
	if err != nil {
		return s, problem("the sheet cannot be read", format.Quote(name)+": "+err.Error(), "a sheet of cells")
	}
	defer rows.Close()
	filled := 0
	for rows.Next() {
		cells, err := rows.Columns()
		if err != nil {
			return s, problem("the sheet cannot be read", format.Quote(name)+": "+err.Error(), "a sheet of cells")
		}
		if len(s.Rows) >= mostRows {
			return s, problem("the sheet has too many rows", format.Quote(name), fmt.Sprintf("at most %d", mostRows))
		}
		for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
			cells = cells[:len(cells)-1]
		}
		for i, c := range cells {
			if strings.ContainsAny(c, "\r\n\x00") {
				notices.Add("", name, format.None, len(s.Rows)+1, "line ends in a cell are read as blanks")
				cells[i] = strings.Join(strings.FieldsFunc(c, func(r rune) bool { return r == '\r' || r == '\n' || r == 0 }), " ")
			}
		}
		s.Rows = append(s.Rows, cells)
		if len(cells) > 0 {
			filled = len(s.Rows)
		}
		s.Wide = max(s.Wide, len(cells))
	}
	if err := rows.Error(); err != nil {
		return s, problem("the sheet cannot be read", format.Quote(name)+": "+err.Error(), "a sheet of cells")
	}
	s.Rows = s.Rows[:filled]
	return s, nil
}

// Delimiter parts the values of Text.
const Delimiter = '\t'

// Text writes a sheet as a table of text (RFC 4180 with tabs), line n being row n
// of the sheet, short rows filled up.
func (s Sheet) Text() []byte {
	var b bytes.Buffer
	for _, row := range s.Rows {
		for i := range s.Wide {
			if i > 0 {
				b.WriteByte(Delimiter)
			}
			if i < len(row) {
				cell(&b, row[i])
			}
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

func cell(b *bytes.Buffer, text string) {
	if !strings.ContainsAny(text, "\t\"") && strings.TrimSpace(text) == text {
		b.WriteString(text)
		return
	}
	b.WriteByte('"')
	b.WriteString(strings.ReplaceAll(text, `"`, `""`))
	b.WriteByte('"')
}

func problem(what, found, wanted string) *format.Problem {
	return &format.Problem{Feature: format.None, What: what, Found: found, Wanted: wanted}
}
