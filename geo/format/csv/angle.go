package csv

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseDegrees reads a latitude or longitude: decimal degrees, degrees and
// minutes, or degrees, minutes and seconds, with marks or blanks between them
// and a sign or a compass letter: 45.21, 45.21N, -35.1, 45°12'36.5"N, N 45 12
// 35.86, 45° 12.608' N. A letter of the other axis, and a minus beside a letter,
// are refused. The number style settles what a comma means.
func ParseDegrees(cell string, latitude bool, style NumberFormat) (float64, error) {
	s := strings.ToUpper(strings.TrimSpace(cell))
	letters := "EW"
	if latitude {
		letters = "NS"
	}
	s, letter, err := compassLetter(s, letters)
	if err != nil {
		return 0, err
	}
	neg, s := sign(s)
	if neg && letter != 0 {
		return 0, fmt.Errorf("a minus and the letter %c contradict each other", letter)
	}
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("°º˚'′’\"″”: ", r) })
	v, err := sexagesimal(parts, style)
	if err != nil {
		return 0, err
	}
	most := 180.0
	if latitude {
		most = 90
	}
	if v > most {
		return 0, fmt.Errorf("beyond %g", most)
	}
	if neg || letter == 'S' || letter == 'W' {
		v = -v
	}
	return v, nil
}

// compassLetter takes one compass letter off either end.
func compassLetter(s, letters string) (rest string, letter byte, err error) {
	at := strings.IndexAny(s, "NSEW")
	if at < 0 {
		return s, 0, nil
	}
	letter = s[at]
	rest = strings.TrimSpace(s[:at] + s[at+1:])
	switch {
	case at != 0 && at != len(s)-1 || strings.ContainsAny(rest, "NSEW"):
		return "", 0, fmt.Errorf("not degrees")
	case strings.IndexByte(letters, letter) < 0:
		return "", 0, fmt.Errorf("the letter %c belongs to the other axis", letter)
	}
	return rest, letter, nil
}

// sexagesimal adds up degrees, minutes and seconds.
func sexagesimal(parts []string, style NumberFormat) (float64, error) {
	if len(parts) == 0 || len(parts) > 3 {
		return 0, fmt.Errorf("not degrees, or degrees, minutes and seconds")
	}
	var v float64
	unit := 1.0
	for i, p := range parts {
		var n float64
		var err error
		if i < len(parts)-1 {
			var whole int
			whole, err = strconv.Atoi(p)
			n = float64(whole)
		} else {
			n, _, err = style.Parse(p)
		}
		switch {
		case err != nil:
			return 0, fmt.Errorf("not degrees: %w", err)
		case n < 0 || i > 0 && n >= 60 || math.IsNaN(n):
			return 0, fmt.Errorf("minutes and seconds go from 0 to below 60")
		}
		v += n * unit
		unit /= 60
	}
	return v, nil
}
