package shp

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"courson/geo/format"
)

// cellSpool is the values of a table, waiting until the width of every column is
// known.
type cellSpool struct {
	layer   *format.Layer
	names   []string // of the fields
	room    io.ReadWriteSeeker
	w       *bufio.Writer
	buf     []byte
	fields  []spoolField
	notices *format.Notices
	row     int
}

// spoolField is what a column has needed so far.
type spoolField struct {
	width    int // of a text or whole number
	ahead    int // characters before the point
	decimals int
}

func newCellSpool(room io.ReadWriteSeeker, l *format.Layer, notices *format.Notices) *cellSpool {
	titles := make([]string, len(l.Columns))
	for i, c := range l.Columns {
		titles[i] = c.Name
	}
	return &cellSpool{layer: l, names: Names(titles), room: room, w: bufio.NewWriterSize(room, 1<<16), fields: make([]spoolField, len(l.Columns)), notices: notices}
}

// add keeps the values of a thing.
func (s *cellSpool) add(cells []format.Cell) error {
	s.buf = s.buf[:0]
	for i, c := range cells {
		s.keep(i, c)
	}
	s.row++
	if _, err := s.w.Write(s.buf); err != nil {
		return fmt.Errorf("keep a record: %w", err)
	}
	return nil
}

// keep notes what width a value needs and puts it by.
func (s *cellSpool) keep(i int, c format.Cell) {
	f, col := &s.fields[i], s.layer.Columns[i]
	if !c.Known || col.Kind == format.Number && (math.IsNaN(c.Num) || math.IsInf(c.Num, 0)) {
		s.buf = append(s.buf, 0)
		return
	}
	s.buf = append(s.buf, 1)
	switch col.Kind {
	case format.Whole:
		f.width = max(f.width, len(strconv.FormatInt(c.Whole, 10)))
		s.buf = binary.LittleEndian.AppendUint64(s.buf, uint64(c.Whole))
	case format.Number:
		text := strconv.FormatFloat(c.Num, 'f', -1, 64)
		whole, part, _ := strings.Cut(text, ".")
		f.ahead, f.decimals = max(f.ahead, len(whole)), max(f.decimals, len(part))
		s.buf = binary.LittleEndian.AppendUint64(s.buf, math.Float64bits(c.Num))
	default:
		text := s.text(i, c.Text)
		f.width = max(f.width, len(text))
		s.buf = append(binary.AppendUvarint(s.buf, uint64(len(text))), text...)
	}
}

// text is what of a text the table can hold.
func (s *cellSpool) text(i int, v string) string {
	name := s.names[i]
	plain := strings.ToValidUTF8(v, string(utf8.RuneError))
	if strings.ContainsAny(plain, "\x00\x1a") {
		plain = strings.NewReplacer("\x00", "", "\x1a", "").Replace(plain)
		s.notices.Add(s.layer.Name, name, s.row, 0, "control characters are left out")
	}
	out := cut(plain, mostText)
	if out != strings.TrimRight(plain, " ") {
		s.notices.Add(s.layer.Name, name, s.row, 0, fmt.Sprintf("text cut to %d bytes", mostText))
	}
	return out
}

// settle fixes the width and decimals of column i.
func (s *cellSpool) settle(i int) (width, decimals int) {
	f := s.fields[i]
	if s.layer.Columns[i].Kind != format.Number {
		return max(f.width, 1), 0
	}
	most := min(15, mostDigits-1-f.ahead)
	if decimals = f.decimals; decimals > most {
		decimals = max(most, 0)
		s.notices.Add(s.layer.Name, s.names[i], format.None, 0, fmt.Sprintf("numbers are rounded to %d decimals", decimals))
	}
	width = f.ahead
	if decimals > 0 {
		width += 1 + decimals
	}
	return min(max(width, 1), math.MaxUint8-1), decimals
}

// table writes the .dbf.
func (s *cellSpool) table(w io.Writer, rows int, made time.Time) error {
	if err := s.w.Flush(); err != nil {
		return fmt.Errorf("keep the records: %w", err)
	}
	if _, err := s.room.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("go back to the records: %w", err)
	}
	n := len(s.layer.Columns)
	head := make([]byte, 32+32*n+1)
	widths, decimals := make([]int, n), make([]int, n)
	row := 1
	for i, c := range s.layer.Columns {
		widths[i], decimals[i] = s.settle(i)
		row += widths[i]
		d := head[32+32*i:]
		copy(d[:11], s.names[i])
		d[11], d[16], d[17] = 'N', byte(widths[i]), byte(decimals[i])
		if c.Kind == format.Text {
			d[11] = 'C'
		}
	}
	if row > math.MaxUint16 {
		return problem(s.layer.Name, "the columns are too wide together", fmt.Sprintf("%d bytes", row), fmt.Sprintf("at most %d", math.MaxUint16))
	}
	head[0], head[len(head)-1] = 3, 13 // dBASE III without memos
	if y := made.Year() - 1900; y >= 0 && y < 256 {
		head[1], head[2], head[3] = byte(y), byte(made.Month()), byte(made.Day())
	}
	binary.LittleEndian.PutUint32(head[4:], uint32(rows))
	binary.LittleEndian.PutUint16(head[8:], uint16(len(head)))
	binary.LittleEndian.PutUint16(head[10:], uint16(row))
	out := bufio.NewWriterSize(w, 1<<16)
	if _, err := out.Write(head); err != nil {
		return err
	}
	in := bufio.NewReaderSize(s.room, 1<<16)
	line := make([]byte, row)
	for range rows {
		if err := s.line(in, line, widths, decimals); err != nil {
			return fmt.Errorf("read a record back: %w", err)
		}
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
	if err := out.WriteByte(26); err != nil {
		return err
	}
	return out.Flush()
}

// line reads one record back and lays it out.
func (s *cellSpool) line(in *bufio.Reader, line []byte, widths, decimals []int) error {
	for i := range line {
		line[i] = ' '
	}
	at := 1
	for i, c := range s.layer.Columns {
		field := line[at : at+widths[i]]
		at += widths[i]
		known, err := in.ReadByte()
		if err != nil {
			return err
		}
		if known == 0 {
			continue
		}
		if c.Kind == format.Text {
			n, err := binary.ReadUvarint(in)
			if err != nil {
				return err
			}
			if _, err := io.ReadFull(in, field[:n]); err != nil {
				return err
			}
			continue
		}
		var word [8]byte
		if _, err := io.ReadFull(in, word[:]); err != nil {
			return err
		}
		bits := binary.LittleEndian.Uint64(word[:])
		text := strconv.FormatInt(int64(bits), 10)
		if c.Kind == format.Number {
			text = digits(math.Float64frombits(bits), decimals[i])
		}
		copy(field[max(0, len(field)-len(text)):], text)
	}
	return nil
}

// key says what the fields mean.
func (s *cellSpool) key() []byte {
	quote := func(t string) string {
		if strings.ContainsAny(t, ",\"\r\n") {
			return `"` + strings.ReplaceAll(t, `"`, `""`) + `"`
		}
		return t
	}
	var b strings.Builder
	b.WriteString("field,name,unit,meaning\r\n")
	for i, c := range s.layer.Columns {
		fmt.Fprintf(&b, "%s,%s,%s,%s\r\n", s.names[i], quote(c.Name), quote(c.Unit), quote(c.Title))
	}
	return []byte(b.String())
}
