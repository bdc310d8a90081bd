package gpkg

import (
	"bytes"
	"fmt"
	"strconv"
	"time"
)

// timeForm is the standard's DATETIME, the form of times in columns that a GIS
// reads: UTC, to the millisecond. What a time has beyond it stands in a column
// of its own.
const timeForm = "2006-01-02T15:04:05.000Z"

func appendTime(dst []byte, t time.Time) []byte { return t.UTC().AppendFormat(dst, timeForm) }

// readTime reads what appendTime writes, and whatever else RFC 3339 allows. No
// text gives the zero time.
func readTime(text []byte) (time.Time, error) {
	if len(text) == 0 {
		return time.Time{}, nil
	}
	if t, ok := quickTime(text); ok {
		return t, nil
	}
	t, err := time.Parse(time.RFC3339Nano, string(text))
	if err != nil {
		return time.Time{}, fmt.Errorf("time %q is not of the form 2006-01-02T15:04:05.000Z", text)
	}
	return t.UTC(), nil
}

// quickTime reads the form of appendTime several times as fast as package time:
// a block has thousands of them.
func quickTime(b []byte) (time.Time, bool) {
	if len(b) != len(timeForm) || b[4] != '-' || b[7] != '-' || b[10] != 'T' ||
		b[13] != ':' || b[16] != ':' || b[19] != '.' || b[23] != 'Z' {
		return time.Time{}, false
	}
	ok := true
	num := func(from, to int) (n int) {
		for _, c := range b[from:to] {
			if c < '0' || c > '9' {
				ok = false
			}
			n = n*10 + int(c-'0')
		}
		return n
	}
	year, month, day := num(0, 4), num(5, 7), num(8, 10)
	hour, minute, second, ms := num(11, 13), num(14, 16), num(17, 19), num(20, 23)
	if !ok || month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 || minute > 59 || second > 59 {
		return time.Time{}, false
	}
	t := time.Date(year, time.Month(month), day, hour, minute, second, ms*int(time.Millisecond), time.UTC)
	return t, t.Day() == day
}

// microsOf writes what times have beyond the millisecond, as whole microseconds
// with commas between; "" where none has any.
func microsOf(times [7]*time.Time) string {
	some := false
	for _, t := range times {
		some = some || beyondMillis(*t) != 0
	}
	if !some {
		return ""
	}
	var out []byte
	for i, t := range times {
		if i > 0 {
			out = append(out, ',')
		}
		out = strconv.AppendInt(out, int64(beyondMillis(*t)), 10)
	}
	return string(out)
}

func beyondMillis(t time.Time) int { return t.Nanosecond() / int(time.Microsecond) % 1000 }

// addMicros reads what microsOf writes and adds it to the times.
func addMicros(text []byte, times [7]*time.Time) error {
	parts := bytes.Split(text, []byte{','})
	if len(parts) != len(times) {
		return fmt.Errorf("microseconds %q are not %d numbers", text, len(times))
	}
	for i, part := range parts {
		n, err := strconv.Atoi(string(part))
		if err != nil || n < 0 || n > 999 {
			return fmt.Errorf("microseconds %q: %q is not a number from 0 to 999", text, part)
		}
		*times[i] = times[i].Add(time.Duration(n) * time.Microsecond)
	}
	return nil
}
