package work

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
)

// label gives a cell as a name: texts as written, whole numbers without a
// decimal point, so that 7 and 7.0 are one label but "07" is another.
func (c *cell) label() string {
	if c.kind == geojson.Number {
		if v, err := strconv.ParseFloat(string(c.text), 64); err == nil && v == math.Trunc(v) && math.Abs(v) < 1e15 {
			return strconv.FormatInt(int64(v), 10)
		}
	}
	return string(c.text)
}

// labelBytes is label without a copy where none is needed.
func (c *cell) labelBytes() []byte {
	if c.kind == geojson.Number && bytes.ContainsAny(c.text, ".eE") {
		return []byte(c.label())
	}
	return c.text
}

// describe shows a cell in a message.
func (c *cell) describe() string {
	switch c.kind {
	case geojson.Text:
		return format.Quote(string(c.text))
	case geojson.JSON:
		return "an object or array"
	}
	return string(c.text)
}

// number reads a number: in a table by the column's format, in GeoJSON a JSON
// number, or a text that is plainly one.
func (c *cell) number() (v float64, groups bool, err error) {
	if c.col.nf != nil {
		return c.col.nf.Parse(string(c.text))
	}
	switch c.kind {
	case geojson.Number:
		v, err = strconv.ParseFloat(string(c.text), 64)
		return v, false, err
	case geojson.Text:
		f := csv.NumberFormat{NumberStyle: csv.NumberStyle{Decimal: '.'}}
		if bytes.IndexByte(c.text, ',') >= 0 {
			return 0, false, fmt.Errorf("a text, and its comma may stand for decimals or thousands")
		}
		return f.Parse(string(c.text))
	}
	return 0, false, fmt.Errorf("not a number")
}

// small reads a short whole number of digits only, the common case.
func (c *cell) small() (int, bool) {
	if len(c.text) == 0 || len(c.text) > 9 || c.kind == geojson.JSON {
		return 0, false
	}
	n := 0
	for _, b := range c.text {
		if b < '0' || b > '9' {
			return 0, false
		}
		n = n*10 + int(b-'0')
	}
	return n, true
}

// bad says that a cell cannot be read.
func (in *intake) bad(it *itemIn, c *cell, what, wanted string) {
	in.problem(it.where, c.col.name, what, c.describe(), wanted)
}

// numberCell reads a number between two bounds; NaN after a problem.
func (in *intake) numberCell(it *itemIn, c *cell, least, most float64, wanted string) float64 {
	v, groups, err := c.number()
	var mark *csv.MarkError
	switch {
	case errors.As(err, &mark) && mark.Open:
		in.ask(it.where, format.Question{Option: "decimal", Of: c.col.name, Choices: []string{"point", "comma"}}, c.col.name, err.Error(), c.describe(), wanted)
		return math.NaN()
	case err != nil:
		in.bad(it, c, err.Error(), wanted)
		return math.NaN()
	}
	if groups {
		in.notice(it.where, c.col.name, "a mark between thousands was left out")
	}
	if c.col.nf == nil && c.kind == geojson.Text && !in.job.Files[it.file].textOnly {
		in.notice(it.where, c.col.name, "a number written as a text")
	}
	if !(v >= least && v <= most) {
		in.bad(it, c, "out of range", wanted)
		return math.NaN()
	}
	return v
}

// wholeCell reads a whole number between two bounds; 0 after a problem.
func (in *intake) wholeCell(it *itemIn, c *cell, least, most int) int {
	if n, ok := c.small(); ok && n >= least && n <= most {
		return n
	}
	wanted := fmt.Sprintf("a whole number from %d to %d", least, most)
	v := in.numberCell(it, c, float64(least), float64(most), wanted)
	if math.IsNaN(v) {
		return 0
	}
	if v != math.Trunc(v) {
		in.bad(it, c, "not a whole number", wanted)
		return 0
	}
	return int(v)
}

// idCell reads one of our own ids.
func (in *intake) idCell(it *itemIn, c *cell) int64 {
	v := in.numberCell(it, c, 1, 1<<53, "the id that an export gave, or nothing")
	if math.IsNaN(v) || v != math.Trunc(v) {
		return 0
	}
	return int64(v)
}

// spacingCell reads a planting distance in metres. Bounds chosen by us: wider
// than any vineyard, narrow enough for a slip of unit.
func (in *intake) spacingCell(it *itemIn, c *cell) float64 {
	return in.lengthCell(it, c, 0.2, 20)
}

// lengthCell reads a length in metres; 0 after a problem.
func (in *intake) lengthCell(it *itemIn, c *cell, leastM, mostM float64) float64 {
	if !in.hasUnit(it, c) {
		return 0
	}
	u := c.col.unit
	v := in.numberCell(it, c, leastM/u.Factor-1e-9, mostM/u.Factor+1e-9, fmt.Sprintf("a length from %g to %g m", leastM, mostM))
	if math.IsNaN(v) {
		return 0
	}
	return converted(v, u.Factor)
}

// converted brings a value to base units.
func converted(v, factor float64) float64 {
	if factor == 1 {
		return v
	}
	return rounded(v*factor, 12)
}

// hasUnit refuses a quantity whose unit nobody says.
func (in *intake) hasUnit(it *itemIn, c *cell) bool {
	units := csv.Units(c.col.field)
	if c.col.unit.Name != "" || len(units) == 0 {
		return true
	}
	named := make([]string, len(units))
	for i, u := range units {
		named[i] = fmt.Sprintf("%s_%s", c.col.name, u)
	}
	wanted := "the unit in the name: " + strings.Join(named, ", ")
	if _, measured := c.col.field.Quantity(); measured {
		wanted += fmt.Sprintf("; or stated, as in --unit %s=%s", c.col.field, units[0])
	}
	if key := fmt.Sprint("unit ", it.file, " ", c.col.name); !it.table || !in.unknown[key] {
		in.unknown[key] = true // said once for a table; it is refused anyway
		in.ask(it.where, format.Question{Option: "unit", Of: c.col.name, Choices: units}, c.col.name, "a quantity without its unit", c.describe(), wanted)
	}
	return false
}

// dayCell reads a date as days since 1970; noDay after a problem.
func (in *intake) dayCell(it *itemIn, c *cell) int32 {
	df := csv.StrictDates() // in GeoJSON no column settles anything
	if c.col.df != nil {
		df = *c.col.df
	}
	day, serial, err := df.Parse(string(c.text))
	if err != nil {
		in.bad(it, c, err.Error(), "a date as in 2025-02-03")
		return noDay
	}
	if serial {
		in.notice(it.where, c.col.name, "day numbers of a spreadsheet, read as dates (1 is 1900-01-01)")
	}
	if y := day.Year(); y < 1900 || y > 2199 {
		in.bad(it, c, "out of range", "a date between 1900 and 2199")
		return noDay
	}
	return int32(day.Unix() / 86400)
}

// dayTime gives noon of a day in a zone: the middle, so that no zone nearby has
// another date.
func dayTime(day int32, zone *time.Location) time.Time {
	y, m, d := time.Unix(int64(day)*86400, 0).UTC().Date()
	return time.Date(y, m, d, 12, 0, 0, 0, zone)
}
