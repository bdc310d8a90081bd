// Package nmea reads the positions that receivers write (NMEA 0183, sentence
// GGA): one point for each, with its fix, the number of satellites and the
// dilution of precision. The check sum of each line is tried; what does not
// agree is left out and said.
package nmea

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// Options of reading.
type Options struct{ Limits format.Limits }

const (
	mostBytes = 512 << 20
	mostLine  = 1 << 12 // the standard allows 82 characters; some receivers write more
	mostFixes = 2_000_000
)

// Looks tells whether a file begins like the output of a receiver.
func Looks(head []byte) bool {
	head = bytes.TrimLeft(head, "\xef\xbb\xbf \t\r\n")
	return len(head) > 6 && head[0] == '$' && isUpper(head[1]) && isUpper(head[2]) && bytes.IndexByte(head[:min(len(head), 100)], ',') > 0
}

func isUpper(c byte) bool { return c >= 'A' && c <= 'Z' }

// fixes names the quality of a position, by its number in the sentence.
func fixes() []string {
	return []string{"none", "single", "differential", "precise", "fix", "float", "estimated", "by hand", "simulated"}
}

// Read reads the positions as one layer. The fields of each are time (hours,
// minutes and seconds, UTC), fix, satellites, hdop and height_m. Errors are
// *format.Problem, or what the reader said.
func Read(r io.Reader, o Options) ([]format.FeatureSet, []format.Notice, error) {
	l := o.Limits
	if l.MaxBytes <= 0 {
		l.MaxBytes = mostBytes
	}
	in, err := format.Unpack(r, l)
	if err != nil {
		return nil, nil, err
	}
	out := format.FeatureSet{Name: "positions"}
	var notices format.Notices
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, mostLine), mostLine)
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(strings.TrimPrefix(lines.Text(), "\ufeff"))
		if text == "" {
			continue
		}
		f, left := position(text)
		switch {
		case left != "":
			notices.Add("", "", format.None, n, left)
		case len(out.Features) >= mostFixes:
			return nil, notices.List(), &format.Problem{Feature: format.None, Line: n, What: "too many positions", Wanted: fmt.Sprintf("at most %d", mostFixes), Cause: format.ErrTooLarge}
		default:
			out.Features = append(out.Features, f)
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, notices.List(), &format.Problem{Feature: format.None, What: "a line is too long", Wanted: fmt.Sprintf("lines of at most %d characters", mostLine)}
	case err != nil:
		return nil, notices.List(), err
	case len(out.Features) == 0:
		return nil, notices.List(), &format.Problem{Feature: format.None, What: "no position in the file", Found: firstNotice(notices), Wanted: "GGA sentences with a fix and a right check sum"}
	}
	return []format.FeatureSet{out}, notices.List(), nil
}

func firstNotice(n format.Notices) string {
	if list := n.List(); len(list) > 0 {
		return list[0].Text
	}
	return ""
}

// position reads one sentence, or says why it is left out.
func position(text string) (f format.Feature, left string) {
	body, ok := checked(text)
	if !ok {
		return f, "the check sum is missing or does not agree; left out"
	}
	part := strings.Split(body, ",")
	if len(part[0]) != 5 || part[0][2:] != "GGA" {
		return f, "another sentence than GGA; left out"
	}
	if len(part) < 10 {
		return f, "a GGA sentence cut short; left out"
	}
	quality, err := strconv.Atoi(part[6])
	if err != nil || quality < 0 || quality >= len(fixes()) {
		return f, "a fix of a kind that is not known; left out"
	}
	if quality == 0 {
		return f, "no fix; left out"
	}
	lat, okLat := degrees(part[2], 2, part[3], "N", "S", 90)
	lon, okLon := degrees(part[4], 3, part[5], "E", "W", 180)
	if !okLat || !okLon {
		return f, "not a place; left out"
	}
	f.Geometry = orb.Point{lon, lat}
	f.Set("time", clock(part[1]))
	f.Set("fix", fixes()[quality])
	number(&f, "satellites", part[7])
	number(&f, "hdop", part[8])
	number(&f, "height_m", part[9])
	return f, ""
}

func number(f *format.Feature, name, text string) {
	if v, err := strconv.ParseFloat(text, 64); err == nil {
		f.Set(name, v)
	}
}

// checked gives what stands between $ and *, if the two hexadecimal digits after
// the * are the exclusive or of its characters.
func checked(text string) (body string, ok bool) {
	body, sum, ok := strings.Cut(text, "*")
	if !ok || !strings.HasPrefix(body, "$") || len(sum) < 2 {
		return "", false
	}
	want, err := strconv.ParseUint(sum[:2], 16, 8)
	if err != nil {
		return "", false
	}
	body = body[1:]
	var x byte
	for i := range len(body) {
		x ^= body[i]
	}
	return body, x == byte(want)
}

// degrees reads degrees and minutes written together, as in 4512.6000.
func degrees(text string, digits int, half, plus, minus string, most float64) (float64, bool) {
	if len(text) < digits+2 {
		return 0, false
	}
	whole, err1 := strconv.ParseUint(text[:digits], 10, 16)
	minutes, err2 := strconv.ParseFloat(text[digits:], 64)
	if err1 != nil || err2 != nil || !(minutes >= 0 && minutes < 60) {
		return 0, false
	}
	v := float64(whole) + minutes/60
	switch half {
	case plus:
	case minus:
		v = -v
	default:
		return 0, false
	}
	return v, v >= -most && v <= most
}

// clock writes hhmmss.ss as hh:mm:ss.ss, "" where it is no time.
func clock(text string) string {
	if v, err := strconv.ParseFloat(text, 64); err != nil || v < 0 || v >= 240000 || len(text) < 6 {
		return ""
	}
	return text[:2] + ":" + text[2:4] + ":" + text[4:]
}
