package isoxml

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseRate reads a rate that came as a text, such as "12 L/ha" or "16,5": a
// number with one decimal mark, and perhaps a unit, which must be want. A text
// whose mark may stand for thousands is refused.
func ParseRate(text string, want Unit) (float64, error) {
	s := strings.TrimSpace(text)
	end := strings.IndexFunc(s, func(r rune) bool { return !(r >= '0' && r <= '9' || r == '.' || r == ',') })
	number, unit := s, ""
	if end >= 0 {
		number, unit = s[:end], strings.TrimSpace(s[end:])
	}
	if unit != "" && plainUnit(unit) != plainUnit(string(want)) {
		return math.NaN(), fmt.Errorf("the unit %q is not %s", unit, want)
	}
	if number == "" {
		return math.NaN(), fmt.Errorf("there is no number")
	}
	whole, part, marked := strings.Cut(strings.Replace(number, ",", ".", 1), ".")
	if strings.ContainsAny(part, ".,") || marked && (whole == "" || part == "") {
		return math.NaN(), fmt.Errorf("the marks in it make no number")
	}
	if marked && len(part) == 3 && len(whole) <= 3 && whole != "0" {
		return math.NaN(), fmt.Errorf("the mark may stand for decimals or for thousands")
	}
	return strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
}

func plainUnit(s string) string {
	return strings.NewReplacer(" ", "", "³", "3", "litres", "l", "per", "/").Replace(strings.ToLower(s))
}
