package csv

import "fmt"

// marks counts how the numbers of one column are written, with the first line
// of each way.
type marks struct {
	count [broken + 1]int
	line  [broken + 1]int
}

func (m *marks) add(cell string, line int) {
	s := styleOf(cell)
	if m.count[s] == 0 {
		m.line[s] = line
	}
	m.count[s]++
}

// mark gives the decimal mark that a column proves, 0 where it proves none or
// both.
func (m *marks) mark() byte {
	switch dot, comma := m.count[sureDot], m.count[sureComma]; {
	case dot > 0 && comma == 0:
		return '.'
	case comma > 0 && dot == 0:
		return ','
	}
	return 0
}

// NumberFormat is what a whole column tells about its numbers: which decimal
// mark it has, and which cells cannot be read without a guess.
type NumberFormat struct {
	NumberStyle
	refuse [broken + 1]string // why cells of a style are refused; "" they are read
}

// settle decides how the numbers of a column are read. fileMark is what the
// other columns prove, stated what the user says; 0 for none. A cell that the
// rest of the column does not settle is refused, never guessed:
//
//   - decimal commas in the column: 1.234 may be 1234 or a slip, refused;
//   - decimal points in the column: 1,050 has thousands;
//   - neither: 1.234 has a decimal point, unless commas are decimal elsewhere in
//     the file or its fields are cut by semicolons, which is the habit of decimal
//     commas; 1,050 is read where the file settles it, and as thousands where
//     commas cut the fields, since a decimal comma would not go with that.
func (m *marks) settle(delimiter, fileMark, stated byte) NumberFormat {
	f := NumberFormat{NumberStyle: NumberStyle{Decimal: '.'}}
	f.refuse[broken] = "the marks in it make no number"
	dot, comma := m.count[sureDot] > 0, m.count[sureComma] > 0
	if stated != 0 {
		f.decide(stated)
		return f
	}
	switch {
	case dot && comma:
		f.refuse[sureComma] = fmt.Sprintf("the column has decimal points (line %d) and decimal commas (line %d)", m.line[sureDot], m.line[sureComma])
		f.refuse[sureDot] = f.refuse[sureComma]
		f.refuse[eitherDot], f.refuse[eitherComma] = f.refuse[sureComma], f.refuse[sureComma]
	case dot:
		f.decide('.')
	case comma && delimiter == ',' && m.count[eitherComma] > 0:
		f.decide('.')
		f.refuse[sureComma] = fmt.Sprintf("a comma stands for thousands in this column (line %d), but three digits do not follow it here", m.line[eitherComma])
	case comma:
		f.decide(',')
		f.refuse[eitherDot] = fmt.Sprintf("the column has decimal commas (line %d), so the point may stand for thousands or be a slip", m.line[sureComma])
	default:
		m.settleEither(&f, delimiter, fileMark)
	}
	return f
}

// decide fixes the decimal mark and refuses what goes against it.
func (f *NumberFormat) decide(mark byte) {
	f.Decimal = mark
	if mark == '.' {
		f.refuse[sureComma] = "decimals are written with a point here"
		return
	}
	f.refuse[sureDot] = "decimals are written with a comma here"
}

// settleEither settles a column in which every mark can be read both ways.
func (m *marks) settleEither(f *NumberFormat, delimiter, fileMark byte) {
	dots, commas := m.count[eitherDot] > 0, m.count[eitherComma] > 0
	switch {
	case dots && commas:
		why := fmt.Sprintf("points (line %d) and commas (line %d) both may stand for decimals or thousands", m.line[eitherDot], m.line[eitherComma])
		f.refuse[eitherDot], f.refuse[eitherComma] = why, why
	case dots && fileMark == ',':
		f.decide(',')
		f.refuse[eitherDot] = "decimals are written with a comma in this file, so the point may stand for thousands or be a slip"
	case dots && fileMark == 0 && delimiter == ';':
		f.refuse[eitherDot] = "the point may stand for decimals or for thousands"
	case commas && fileMark == ',':
		f.decide(',')
	case commas && fileMark == 0 && delimiter != ',':
		f.refuse[eitherComma] = "the comma may stand for decimals or for thousands"
	}
}

// Parse reads a number, its blanks trimmed. groups tells that thousands were
// set apart. The error says why it cannot be read.
func (f NumberFormat) Parse(cell string) (v float64, groups bool, err error) {
	if why := f.refuse[styleOf(cell)]; why != "" {
		return 0, false, &MarkError{Why: why, Open: styleOf(cell) != broken}
	}
	return f.NumberStyle.Parse(cell)
}

// MarkError says why the marks in a number keep it from being read.
type MarkError struct {
	Why  string
	Open bool // a person who states the decimal mark settles it
}

// Error gives the reason.
func (e *MarkError) Error() string { return e.Why }
