package csv

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"courson/geo/format"
)

// maxRecord is the longest record, in bytes: longer ones come from a quote that
// is never closed.
const maxRecord = 1 << 20

// Record is one line of the table, good until the next one is read.
type Record struct {
	Line   int      // where it begins, the header being line 1
	Fields [][]byte // as written, quotes taken off, blanks around unquoted ones kept
	Quoted []bool   // whether the field stood in quotes
}

// blank tells whether nothing stands in the record.
func (r *Record) blank() bool {
	for _, f := range r.Fields {
		if len(bytes.TrimSpace(f)) > 0 {
			return false
		}
	}
	return true
}

// splitter cuts a stream into records (RFC 4180, with any delimiter; LF or
// CRLF). A quote inside a field that does not begin with one is an ordinary
// character.
type splitter struct {
	r         *bufio.Reader
	delimiter byte
	line      int // lines read
	buf       []byte
	ends      []int
	rec       Record
}

func newSplitter(r io.Reader, delimiter byte) *splitter {
	return &splitter{r: bufio.NewReaderSize(r, 1<<16), delimiter: delimiter}
}

// next reads one record; io.EOF at the end.
func (s *splitter) next() (*Record, error) {
	line, err := s.readLine(nil)
	if err != nil {
		return nil, err
	}
	rec := &s.rec
	rec.Line = s.line
	rec.Fields, rec.Quoted = rec.Fields[:0], rec.Quoted[:0]
	s.buf, s.ends = s.buf[:0], s.ends[:0]
	for rest, more := line, true; more; {
		if rest, more, err = s.field(rest, rec); err != nil {
			return nil, err
		}
	}
	start := 0
	for _, end := range s.ends {
		rec.Fields = append(rec.Fields, s.buf[start:end:end])
		start = end
	}
	return rec, nil
}

// readLine reads one line without its end. The slice is good until the next
// call; with before, the line is appended to a copy of it.
func (s *splitter) readLine(before []byte) ([]byte, error) {
	s.line++
	line, err := s.r.ReadSlice('\n')
	if errors.Is(err, bufio.ErrBufferFull) {
		line = append([]byte(nil), line...)
		for errors.Is(err, bufio.ErrBufferFull) && len(line) <= maxRecord {
			var part []byte
			part, err = s.r.ReadSlice('\n')
			line = append(line, part...)
		}
	}
	if err != nil && (!errors.Is(err, io.EOF) || len(line) == 0) {
		if !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
			return nil, s.stream(err)
		}
		if len(line) == 0 {
			return nil, io.EOF
		}
	}
	if len(before)+len(line) > maxRecord {
		return nil, &format.Problem{Feature: format.None, Line: s.line, What: "a line is too long", Found: fmt.Sprintf("more than %d kB", maxRecord>>10),
			Wanted: "a table of lines; perhaps a quote is never closed"}
	}
	line = bytes.TrimSuffix(line, []byte("\n"))
	line = bytes.TrimSuffix(line, []byte("\r"))
	if bytes.IndexByte(line, 0) >= 0 {
		return nil, &format.Problem{Feature: format.None, Line: s.line, What: "a NUL character", Wanted: "text; perhaps this is not a CSV file, or it is damaged"}
	}
	if before != nil {
		line = append(append([]byte(nil), before...), line...)
	}
	return line, nil
}

func (s *splitter) stream(err error) error {
	var p *format.Problem
	if errors.As(err, &p) {
		q := *p
		q.Line = s.line
		return &q
	}
	return fmt.Errorf("line %d: the file cannot be read on: %w", s.line, err)
}

// field cuts the first field off a line and tells whether more follow.
func (s *splitter) field(line []byte, rec *Record) (rest []byte, more bool, err error) {
	trimmed := bytes.TrimLeft(line, " ")
	if len(trimmed) == 0 || trimmed[0] != '"' {
		i := bytes.IndexByte(line, s.delimiter)
		if i < 0 {
			s.add(rec, line, false)
			return nil, false, nil
		}
		s.add(rec, line[:i], false)
		return line[i+1:], true, nil
	}
	return s.quoted(trimmed[1:], rec)
}

func (s *splitter) add(rec *Record, field []byte, quoted bool) {
	s.buf = append(s.buf, field...)
	s.ends = append(s.ends, len(s.buf))
	rec.Quoted = append(rec.Quoted, quoted)
}

// quoted reads a field after its opening quote; it may go on over line ends.
func (s *splitter) quoted(line []byte, rec *Record) (rest []byte, more bool, err error) {
	start, began := len(s.buf), s.line
	for {
		i := bytes.IndexByte(line, '"')
		if i < 0 {
			s.buf = append(append(s.buf, line...), '\n')
			if len(s.buf)-start > maxRecord {
				return nil, false, unclosed(began)
			}
			if line, err = s.readLine(nil); err != nil {
				if errors.Is(err, io.EOF) {
					err = unclosed(began)
				}
				return nil, false, err
			}
			continue
		}
		s.buf = append(s.buf, line[:i]...)
		line = line[i+1:]
		if len(line) > 0 && line[0] == '"' {
			s.buf = append(s.buf, '"')
			line = line[1:]
			continue
		}
		after := bytes.TrimLeft(line, " ")
		if len(after) == 0 || after[0] == s.delimiter {
			s.ends = append(s.ends, len(s.buf))
			rec.Quoted = append(rec.Quoted, true)
			return after[min(1, len(after)):], len(after) > 0, nil
		}
		return nil, false, &format.Problem{Feature: format.None, Line: s.line, What: "text goes on after a closing quote",
			Found: format.Quote(string(line)), Wanted: `a quote inside a text written twice, as in "4"" pipe"`}
	}
}

func unclosed(line int) error {
	return &format.Problem{Feature: format.None, Line: line, What: "a quote is opened and never closed", Wanted: "a closing quote on the same line"}
}
