package shp

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"

	"courson/geo/format"
)

// table is what a .dbf holds.
type table struct {
	rows    int
	columns []Column
	deleted []bool
}

// field is the description of one column in a .dbf.
type field struct {
	name            string
	kind            byte
	at, width, deci int
}

// table reads the .dbf, nil where there is none.
func (r *reader) table(encoding string) (*table, error) {
	b, name := r.f.DBF, r.f.Name+".dbf"
	if b == nil {
		return nil, nil
	}
	if len(b) < 33 {
		return nil, problem(name, "not a dBASE table", fmt.Sprintf("%d bytes", len(b)), "a table of dBASE III")
	}
	t := &table{rows: int(binary.LittleEndian.Uint32(b[4:]))}
	head, row := int(binary.LittleEndian.Uint16(b[8:])), int(binary.LittleEndian.Uint16(b[10:]))
	if head < 33 || row < 1 || head > len(b) || t.rows > (len(b)-head)/row {
		return nil, problem(name, "the table is cut short or no dBASE table", fmt.Sprintf("%d bytes for %d rows of %d", len(b), t.rows, row), "the whole file")
	}
	fields, err := r.fields(b[:head], row)
	if err != nil {
		return nil, err
	}
	body := b[head:][:t.rows*row]
	t.deleted = make([]bool, t.rows)
	for i := range t.deleted {
		t.deleted[i] = body[i*row] == '*'
	}
	texts, err := r.decoder(encoding, b[29], fields, body, row)
	if err != nil {
		return nil, err
	}
	for _, f := range fields {
		c, err := r.values(f, body, row, texts)
		if err != nil {
			return nil, err
		}
		if c != nil {
			t.columns = append(t.columns, *c)
		}
	}
	r.cutNames(fields)
	return t, nil
}

func (r *reader) fields(head []byte, row int) (out []field, err error) {
	at := 1
	seen := map[string]bool{}
	for d := head[32:]; len(d) >= 32 && d[0] != 13; d = d[32:] {
		name, _, _ := bytes.Cut(d[:11], []byte{0})
		f := field{name: strings.TrimSpace(string(name)), kind: d[11], at: at, width: int(d[16]), deci: int(d[17])}
		if f.kind == 'C' {
			f.width += int(d[17]) << 8 // long texts of some writers
		}
		if at += f.width; at > row || f.width == 0 && f.kind != '0' {
			return nil, problem(r.f.Name+".dbf", "the columns do not fit into the rows", fmt.Sprintf("%q ends at byte %d of %d", f.name, at, row), "a table written again")
		}
		if seen[strings.ToLower(f.name)] {
			return nil, problem(r.f.Name+".dbf", "two columns of one name", format.Quote(f.name), "names that differ")
		}
		seen[strings.ToLower(f.name)] = true
		out = append(out, f)
	}
	return out, nil
}

// cutNames tells of names that look cut at ten characters: nobody can say from
// them alone what the columns hold.
func (r *reader) cutNames(fields []field) {
	for _, f := range fields {
		if len(f.name) == nameLen && len(f.name) > 2 && f.name[8] == '_' && f.name[9] >= '1' && f.name[9] <= '9' {
			r.note(f.name, "the name looks cut to ten characters and numbered, as writers do with names that begin alike; say what the column holds", format.None)
		}
	}
}

// cell gives the bytes of a field in a row.
func (f field) cell(body []byte, row, i int) []byte {
	return body[i*row+f.at:][:f.width]
}

// values reads a column; nil for a kind that is not read.
func (r *reader) values(f field, body []byte, row int, texts func([]byte) (string, error)) (*Column, error) {
	c := &Column{Name: f.name, Width: f.width}
	if name, err := texts([]byte(f.name)); err == nil {
		c.Name = name
	}
	rows := len(body) / row
	var one func(i int, s string) error
	switch f.kind {
	case 'N', 'F':
		c.Decimals = f.deci
		return r.numbers(c, f, body, row, rows)
	case 'C':
		one = func(_ int, s string) error { c.Texts = append(c.Texts, s); return nil }
	case 'D':
		c.Date = true
		one = func(_ int, s string) error {
			day, err := day(s)
			c.Texts = append(c.Texts, day)
			return err
		}
	case 'L':
		one = func(_ int, s string) error {
			v, ok := map[string]string{"T": "true", "t": "true", "Y": "true", "y": "true", "F": "false", "f": "false", "N": "false", "n": "false", "?": "", "": ""}[s]
			c.Texts = append(c.Texts, v)
			if !ok {
				return fmt.Errorf("not yes or no")
			}
			return nil
		}
	default:
		r.note(f.name, fmt.Sprintf("a column of kind %q is not read and left out", f.kind), format.None)
		return nil, nil
	}
	c.Texts = make([]string, 0, rows)
	for i := range rows {
		s, err := texts(f.cell(body, row, i))
		if err == nil {
			err = one(i, strings.TrimRight(s, " \x00"))
		}
		if err != nil && len(r.bad.Problems) < mostProblems {
			r.bad.add(&format.Problem{File: r.f.Name + ".dbf", Feature: i, Field: f.name, What: err.Error(), Found: format.Quote(s), Wanted: "a value of the column's kind"})
		}
	}
	return c, nil
}

// numbers reads a column of numbers. Whole numbers that a float64 cannot hold,
// such as long ids, make the column one of texts, as written.
func (r *reader) numbers(c *Column, f field, body []byte, row, rows int) (*Column, error) {
	c.Numbers = make([]float64, rows)
	long := false
	for i := range rows {
		s := strings.Trim(string(f.cell(body, row, i)), " \x00")
		if s == "" || strings.Trim(s, "*") == "" { // blank or overflowed
			c.Numbers[i] = math.NaN()
			if s != "" {
				r.note(f.name, "stars instead of a number: no value", i)
			}
			continue
		}
		v, err := strconv.ParseFloat(s, 64)
		if (err != nil || math.IsInf(v, 0) || math.IsNaN(v)) && len(r.bad.Problems) < mostProblems {
			r.bad.add(&format.Problem{File: r.f.Name + ".dbf", Feature: i, Field: f.name, What: "not a number", Found: format.Quote(s), Wanted: "digits with a point"})
		}
		c.Numbers[i] = v
		if f.deci == 0 && math.Abs(v) >= 1<<53 && strconv.FormatFloat(v, 'f', 0, 64) != strings.TrimPrefix(s, "+") {
			long = true
		}
	}
	if !long {
		return c, nil
	}
	r.note(f.name, "numbers of more than 15 digits are kept as texts", format.None)
	c.Numbers, c.Decimals, c.Texts = nil, 0, make([]string, rows)
	for i := range rows {
		c.Texts[i] = strings.Trim(string(f.cell(body, row, i)), " \x00")
	}
	return c, nil
}

// day reads 20270203.
func day(s string) (string, error) {
	if s = strings.TrimSpace(s); strings.Trim(s, "0") == "" {
		return "", nil
	}
	if len(s) != 8 || strings.Trim(s, "0123456789") != "" || s[4:6] < "01" || s[4:6] > "12" || s[6:] < "01" || s[6:] > "31" {
		return "", fmt.Errorf("not a day")
	}
	return s[:4] + "-" + s[4:6] + "-" + s[6:], nil
}
