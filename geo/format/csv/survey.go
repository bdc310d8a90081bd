// Package csv reads and writes tables as text (RFC 4180 and what spreadsheets
// make of it). It finds out encoding, delimiter, decimal mark and the order of
// day and month from the table itself, for whole columns and never cell by
// cell, and refuses what the table does not settle rather than guess.
package csv

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"courson/geo/format"
)

// Options bound what is read and say what the user knows. Zero fields mean
// "find out" or the defaults.
type Options struct {
	format.Limits
	Decimal   byte     // '.' or ',': the decimal mark as the user states it
	Delimiter byte     // between values, as the user states it
	Encoding  Encoding // as the user states it
}

// Survey is what one look through a whole table tells.
type Survey struct {
	Encoding  Encoding
	Delimiter byte
	Columns   []Column
	Records   int // lines with data
	o         Options
	mark      bool // a byte order mark stands before the text
	header    int  // line of the header
	fileMark  byte
	notices   format.Notices
	broken    error // why no line could be cut, whatever the delimiter
}

// Column is one column of the table.
type Column struct {
	Name   string // as in the header, blanks taken off; "" where the header is empty there
	Index  int    // from 0
	Filled int    // cells that are not empty
	marks  marks
	dates  dates
}

// Take reads through the table and settles how it is written. Lines are judged
// later, one by one; here only what makes the whole table unreadable is an
// error: *format.Problem, or what the reader said.
func Take(r io.ReadSeeker, o Options) (*Survey, error) {
	s := &Survey{o: o}
	if err := s.findEncoding(r); err != nil {
		return nil, err
	}
	if err := s.findDelimiter(r); err != nil {
		return nil, err
	}
	rd, err := s.Read(r)
	if err != nil {
		return nil, err
	}
	for {
		rec, err := rd.Next()
		var bad *BadLine
		switch {
		case errors.Is(err, io.EOF):
			s.settleFile()
			return s, nil
		case errors.As(err, &bad):
			continue
		case err != nil:
			return nil, err
		}
		s.Records++
		for i := range s.Columns {
			if cell := rec.Text(i); cell != "" {
				c := &s.Columns[i]
				c.Filled++
				c.marks.add(cell, rec.Line)
				c.dates.add(cell, rec.Line)
			}
		}
	}
}

// open starts the stream from the beginning, unpacked.
func (s *Survey) open(r io.ReadSeeker) (io.Reader, error) {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, fmt.Errorf("go back to the beginning of the file: %w", err)
	}
	return format.Unpack(r, s.o.Limits)
}

func (s *Survey) findEncoding(r io.ReadSeeker) error {
	in, err := s.open(r)
	if err != nil {
		return err
	}
	if s.Encoding, s.mark, err = detectEncoding(in); err != nil {
		return err
	}
	if e := s.o.Encoding; e != "" && e != s.Encoding && !s.mark {
		s.Encoding = e
	}
	if s.Encoding != UTF8 {
		s.notices.Merge(format.Notice{Text: "the text is read as " + string(s.Encoding), Count: 1})
	}
	return nil
}

// text starts the stream from the beginning, as UTF-8.
func (s *Survey) text(r io.ReadSeeker) (io.Reader, error) {
	in, err := s.open(r)
	if err != nil {
		return nil, err
	}
	return decoded(in, s.Encoding, s.mark)
}

// sampleLines is how many lines decide on the delimiter.
const sampleLines = 100

// findDelimiter takes the delimiter that cuts the header into the most fields
// and the lines after it into as many.
func (s *Survey) findDelimiter(r io.ReadSeeker) error {
	best, most := byte(0), 0.0
	var header []string
	tried := []byte{',', ';', '\t', '|'}
	if s.o.Delimiter != 0 {
		tried = []byte{s.o.Delimiter}
	}
	for _, d := range tried {
		names, share, err := s.try(r, d)
		if err != nil {
			return err
		}
		if score := float64(len(names)-1)*share + 0.001*share; names != nil && (best == 0 || score > most) {
			best, most, header = d, score, names
		}
	}
	if header == nil && s.broken != nil {
		return s.broken
	}
	if header == nil {
		return &format.Problem{Feature: format.None, What: "the file is empty", Wanted: "a table with a header line"}
	}
	s.Delimiter = best
	return s.setHeader(header)
}

// try cuts the first lines with a delimiter: the header's names, and the share
// of lines with as many fields.
func (s *Survey) try(r io.ReadSeeker, d byte) (names []string, share float64, err error) {
	in, err := s.text(r)
	if err != nil {
		return nil, 0, err
	}
	sp := newSplitter(in, d)
	lines, fit := 0, 0
	for lines < sampleLines {
		rec, err := sp.next()
		var p *format.Problem
		if errors.As(err, &p) && !errors.Is(err, format.ErrTooLarge) {
			if names == nil {
				s.broken = err
			}
			break // not with this delimiter; if with none, findDelimiter says why
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, 0, err
		}
		if rec.blank() {
			continue
		}
		lines++
		if names == nil {
			for i := range rec.Fields {
				names = append(names, rec.Text(i))
			}
			s.header = rec.Line
			fit++
			continue
		}
		n := len(rec.Fields)
		for n > len(names) && rec.Text(n-1) == "" {
			n--
		}
		if n == len(names) {
			fit++
		}
	}
	return names, float64(fit) / float64(max(1, lines)), nil
}

// setHeader takes up the column names.
func (s *Survey) setHeader(names []string) error {
	for len(names) > 1 && names[len(names)-1] == "" {
		names = names[:len(names)-1]
	}
	first := map[string]int{}
	for i, name := range names {
		key := strings.ToLower(name)
		if before, twice := first[key]; twice && key != "" {
			return &format.Problem{Feature: format.None, Line: s.header, Field: name, What: fmt.Sprintf("two columns of one name, the %d. and the %d.", before+1, i+1), Wanted: "a name of its own for each column"}
		}
		first[key] = i
		s.Columns = append(s.Columns, Column{Name: name, Index: i})
	}
	return nil
}

// settleFile finds the decimal mark that the columns prove together.
func (s *Survey) settleFile() {
	for _, c := range s.Columns {
		numbers := c.Filled - c.marks.count[notNumber] - c.marks.count[broken]
		m := c.marks.mark()
		if m == 0 || numbers*2 < c.Filled {
			continue
		}
		if s.fileMark != 0 && s.fileMark != m {
			s.fileMark = 0
			return
		}
		s.fileMark = m
	}
}

// Numbers tells how the numbers of column i are written.
func (s *Survey) Numbers(i int) NumberFormat {
	return s.Columns[i].marks.settle(s.Delimiter, s.fileMark, s.o.Decimal)
}

// Decimal gives the decimal mark that the whole table shows or the user stated, 0
// for none.
func (s *Survey) Decimal() byte {
	if s.o.Decimal != 0 {
		return s.o.Decimal
	}
	return s.fileMark
}

// Dates tells how the dates of column i are written.
func (s *Survey) Dates(i int) DateFormat { return s.Columns[i].dates.settle() }

// Notices gives what was found out and passed over.
func (s *Survey) Notices() []format.Notice { return s.notices.List() }

// BadLine says that one line cannot be taken; the lines after it can still be
// read.
type BadLine struct{ Problem *format.Problem }

// Error gives the problem.
func (b *BadLine) Error() string { return b.Problem.Error() }

// Unwrap gives the problem.
func (b *BadLine) Unwrap() error { return b.Problem }

// Reader reads the lines of a surveyed table.
type Reader struct {
	s  *Survey
	sp *splitter
}

// Read begins to read the lines behind the header.
func (s *Survey) Read(r io.ReadSeeker) (*Reader, error) {
	in, err := s.text(r)
	if err != nil {
		return nil, err
	}
	rd := &Reader{s: s, sp: newSplitter(in, s.Delimiter)}
	for {
		rec, err := rd.sp.next()
		if err != nil {
			return nil, err
		}
		if rec.Line >= s.header && !rec.blank() {
			return rd, nil
		}
	}
}

// Next gives the next line with data; io.EOF at the end. A *BadLine is about
// one line only: call Next again to go on. Every other error is final.
func (r *Reader) Next() (*Record, error) {
	for {
		rec, err := r.sp.next()
		if err != nil {
			return nil, err
		}
		if rec.blank() {
			continue
		}
		if p := r.check(rec); p != nil {
			return nil, &BadLine{p}
		}
		return rec, nil
	}
}

// check refuses a line with values that have no column, or with too few.
func (r *Reader) check(rec *Record) *format.Problem {
	n := len(r.s.Columns)
	for i := n; i < len(rec.Fields); i++ {
		if v := rec.Text(i); v != "" {
			return &format.Problem{Feature: format.None, Line: rec.Line, What: fmt.Sprintf("the %d. value has no column", i+1), Found: format.Quote(v),
				Wanted: fmt.Sprintf("at most %d values, as the header has; a text with a %s in it stands in quotes", n, delimiterName(r.s.Delimiter))}
		}
	}
	if len(rec.Fields) < n {
		return &format.Problem{Feature: format.None, Line: rec.Line, What: "too few values", Found: fmt.Sprintf("%d", len(rec.Fields)), Wanted: fmt.Sprintf("%d, as the header has; leave a value empty but keep its delimiter", n)}
	}
	for i := range n {
		if r.s.Columns[i].Name == "" && rec.Text(i) != "" {
			return &format.Problem{Feature: format.None, Line: rec.Line, What: fmt.Sprintf("the %d. column has no name in the header", i+1), Found: format.Quote(rec.Text(i)), Wanted: "a name for the column, or the column left out"}
		}
	}
	if bytes.Contains(r.sp.buf, []byte("\ufffd")) && r.s.Encoding == Windows1252 {
		return &format.Problem{Feature: format.None, Line: rec.Line, What: "a character that is neither UTF-8 nor Windows-1252", Wanted: "the table saved again as UTF-8"}
	}
	return nil
}

func delimiterName(d byte) string {
	switch d {
	case ',':
		return "comma"
	case ';':
		return "semicolon"
	case '\t':
		return "tab"
	}
	return string(d)
}

// Text gives field i without the blanks around it, no-break blanks included.
func (r *Record) Text(i int) string {
	if i >= len(r.Fields) {
		return ""
	}
	return string(bytes.TrimSpace(r.Fields[i]))
}

// Padded tells whether field i has blanks around it that Text takes off.
func (r *Record) Padded(i int) bool {
	return i < len(r.Fields) && !r.Quoted[i] && len(bytes.TrimSpace(r.Fields[i])) != len(r.Fields[i]) && len(bytes.TrimSpace(r.Fields[i])) > 0
}
