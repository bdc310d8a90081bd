package csv

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Writer writes a table (RFC 4180: commas, CRLF, quotes where needed; UTF-8
// without a mark). Texts that a spreadsheet would run as a formula are guarded
// by an apostrophe, which Unguard takes off again; numbers stay numbers.
type Writer struct {
	w   *bufio.Writer
	buf []byte
	n   int
	err error
}

// NewWriter begins a table with its header.
func NewWriter(w io.Writer, header []string) *Writer {
	t := &Writer{w: bufio.NewWriterSize(w, 1<<16)}
	for _, name := range header {
		t.Text(name)
	}
	t.err = t.End()
	return t
}

func (w *Writer) cell() {
	if w.n > 0 {
		w.buf = append(w.buf, ',')
	}
	w.n++
}

// Text adds a text.
func (w *Writer) Text(s string) {
	w.cell()
	s = Guard(s)
	if !strings.ContainsAny(s, ",\"\r\n") && strings.TrimSpace(s) == s {
		w.buf = append(w.buf, s...)
		return
	}
	w.buf = append(w.buf, '"')
	w.buf = append(w.buf, strings.ReplaceAll(s, `"`, `""`)...)
	w.buf = append(w.buf, '"')
}

// Int adds a whole number.
func (w *Writer) Int(v int64) {
	w.cell()
	w.buf = strconv.AppendInt(w.buf, v, 10)
}

// Float adds a number with the fewest digits that give it back.
func (w *Writer) Float(v float64) {
	w.cell()
	w.buf = strconv.AppendFloat(w.buf, v, 'f', -1, 64)
}

// Fixed adds a number with the given decimals.
func (w *Writer) Fixed(v float64, decimals int) {
	w.cell()
	w.buf = strconv.AppendFloat(w.buf, v, 'f', decimals, 64)
}

// Empty adds a cell without a value.
func (w *Writer) Empty() { w.cell() }

// End ends the line.
func (w *Writer) End() error {
	w.buf = append(w.buf, '\r', '\n')
	if w.err == nil {
		_, w.err = w.w.Write(w.buf)
	}
	w.buf, w.n = w.buf[:0], 0
	if w.err != nil {
		return fmt.Errorf("write the table: %w", w.err)
	}
	return nil
}

// Close gives what is buffered to the writer below.
func (w *Writer) Close() error {
	if w.err == nil {
		w.err = w.w.Flush()
	}
	if w.err != nil {
		return fmt.Errorf("end the table: %w", w.err)
	}
	return nil
}

// Guard puts an apostrophe before a text that a spreadsheet would take for a
// formula (one that begins with = + - @ or a control character), and before a
// text that looks guarded already, so that Unguard gives back what was given.
func Guard(s string) string {
	if risky(strings.TrimLeft(s, "'")) {
		return "'" + s
	}
	return s
}

// Unguard takes off what Guard put before a text.
func Unguard(s string) string {
	if strings.HasPrefix(s, "'") && risky(strings.TrimLeft(s, "'")) {
		return s[1:]
	}
	return s
}

func risky(s string) bool {
	return s != "" && strings.IndexByte("=+-@\t\r\n", s[0]) >= 0
}
