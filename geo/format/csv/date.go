package csv

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// dateStyle says how one date is written.
type dateStyle uint8

const (
	noDate     dateStyle = iota // not a date, or empty
	isoDate                     // 2025-02-03, with or without a time
	dayFirst                    // 14/02/2025; 03.02.2025 (points always mean day first)
	monthFirst                  // 02/14/2025
	eitherDate                  // 03/02/2025
	sameDate                    // 03/03/2025
	serialDate                  // 45691, a spreadsheet's day number
	namedDate                   // 3 Feb 2025
	shortYear                   // 03/02/25
)

// Spreadsheet day numbers count from 30 December 1899, so that 1 March 1900 is
// 61 (the 1900 system of spreadsheets, which has a 29 February 1900 that never
// was). Numbers from 1954 to 2119 are taken for dates; bounds chosen by us.
const firstSerial, lastSerial = 20_000, 80_000

// split gives the three numbers of a date and the mark between them.
func splitDate(s string) (a, b, c string, mark byte, ok bool) {
	i := strings.IndexAny(s, "/.-")
	if i < 0 {
		return "", "", "", 0, false
	}
	mark = s[i]
	parts := strings.Split(s, string(mark))
	if len(parts) != 3 || !digits(parts[0]) || !digits(parts[1]) || !digits(parts[2]) {
		return "", "", "", 0, false
	}
	return parts[0], parts[1], parts[2], mark, true
}

// dateStyleOf judges one cell, blanks around it taken off.
func dateStyleOf(cell string) dateStyle {
	if a, b, c, mark, ok := splitDate(dayPart(cell)); ok {
		switch {
		case len(a) == 4:
			return isoDate
		case len(c) != 4:
			return shortYear
		case mark == '.':
			return dayFirst
		}
		x, _ := strconv.Atoi(a)
		y, _ := strconv.Atoi(b)
		switch {
		case x == y:
			return sameDate
		case x > 12:
			return dayFirst
		case y > 12:
			return monthFirst
		}
		return eitherDate
	}
	if v, err := strconv.ParseFloat(cell, 64); err == nil && v >= firstSerial && v < lastSerial {
		return serialDate
	}
	if _, ok := named(cell); ok {
		return namedDate
	}
	return noDate
}

// dayPart cuts a time of day off.
func dayPart(cell string) string {
	if i := strings.IndexAny(cell, "T "); i > 0 && len(cell) > i+1 && cell[i+1] >= '0' && cell[i+1] <= '9' && strings.Contains(cell[i:], ":") {
		return cell[:i]
	}
	return cell
}

// named reads 3 Feb 2025, 3-February-2025, Feb 3, 2025.
func named(cell string) (time.Time, bool) {
	s := strings.NewReplacer("-", " ", ",", " ", ".", " ").Replace(cell)
	s = strings.Join(strings.Fields(s), " ")
	for _, layout := range []string{"2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

// dates counts how the dates of one column are written.
type dates struct {
	count [shortYear + 1]int
	line  [shortYear + 1]int
}

func (d *dates) add(cell string, line int) {
	s := dateStyleOf(cell)
	if d.count[s] == 0 {
		d.line[s] = line
	}
	d.count[s]++
}

// DateFormat is what a whole column tells about its dates.
type DateFormat struct {
	monthFirst bool
	refuse     [shortYear + 1]string
}

// settle decides for the whole column whether the day or the month comes first.
func (d *dates) settle() DateFormat {
	var f DateFormat
	f.refuse[shortYear] = "a year of two digits"
	switch day, month := d.count[dayFirst] > 0, d.count[monthFirst] > 0; {
	case day && month:
		why := fmt.Sprintf("line %d has the day first and line %d the month", d.line[dayFirst], d.line[monthFirst])
		f.refuse[dayFirst], f.refuse[monthFirst], f.refuse[eitherDate] = why, why, why
	case month:
		f.monthFirst = true
	case !day:
		f.refuse[eitherDate] = "day and month may be either way round"
	}
	return f
}

// Parse reads a date as midnight UTC. serial tells that it was a spreadsheet's
// day number. The error says why it cannot be read.
func (f DateFormat) Parse(cell string) (day time.Time, serial bool, err error) {
	style := dateStyleOf(cell)
	if why := f.refuse[style]; why != "" {
		return time.Time{}, false, fmt.Errorf("%s", why)
	}
	switch style {
	case noDate:
		return time.Time{}, false, fmt.Errorf("not a date")
	case serialDate:
		v, _ := strconv.ParseFloat(cell, 64)
		return time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(math.Floor(v))), true, nil
	case namedDate:
		day, _ = named(cell)
		return day, false, nil
	}
	a, b, c, _, _ := splitDate(dayPart(cell))
	if style == isoDate {
		a, c = c, a
	} else if f.monthFirst {
		a, b = b, a
	}
	d, _ := strconv.Atoi(a)
	m, _ := strconv.Atoi(b)
	y, _ := strconv.Atoi(c)
	day = time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if day.Day() != d || int(day.Month()) != m || day.Year() != y {
		return time.Time{}, false, fmt.Errorf("no such day")
	}
	return day, false, nil
}

// LooksLikeMangledID tells whether a label looks like one that a spreadsheet
// made into a date, such as 01-Aug or Jan-13, and gives what it probably was:
// 1-8 and 1-13.
func LooksLikeMangledID(cell string) (likely string, mangled bool) {
	a, b, found := strings.Cut(cell, "-")
	if !found {
		return "", false
	}
	for m := time.January; m <= time.December; m++ {
		short := m.String()[:3]
		switch {
		case strings.EqualFold(b, short) && digits(a) && len(a) <= 2:
			n, _ := strconv.Atoi(a)
			return fmt.Sprintf("%d-%d", n, int(m)), true
		case strings.EqualFold(a, short) && digits(b) && len(b) <= 2:
			n, _ := strconv.Atoi(b)
			return fmt.Sprintf("%d-%d", int(m), n), true
		}
	}
	return "", false
}

// StrictDates reads dates where no column settles their order: ISO 8601, days
// with points, and months by name.
func StrictDates() DateFormat {
	var none dates
	f := none.settle()
	f.refuse[serialDate] = "a number, not a date"
	return f
}
