package csv

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// markStyle says what the decimal marks of one cell tell.
type markStyle uint8

const (
	notNumber   markStyle = iota // not a number, or empty
	plain                        // digits only: tells nothing
	sureDot                      // a decimal point for certain: 0.85, 12.5, 1,050.5
	sureComma                    // a decimal comma for certain: 0,85, 12,5, 1.050,5
	eitherDot                    // 1.234: a decimal point, or thousands
	eitherComma                  // 1,050: a decimal comma, or thousands
	broken                       // 1,23,4: no way of writing a number
)

// blankGroups takes out blanks and apostrophes between groups of three digits;
// ok is false where they stand elsewhere.
func blankGroups(s string) (out string, ok bool) {
	if !strings.ContainsAny(s, " \u00a0\u202f\u2009'’") {
		return s, true
	}
	s = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ", "'", " ", "’", " ").Replace(s)
	whole, rest := s, ""
	if i := strings.IndexAny(s, ".,"); i >= 0 {
		whole, rest = s[:i], s[i:]
	}
	if !grouped(strings.TrimLeft(whole, "+-"), " ") || strings.Contains(rest, " ") {
		return s, false
	}
	return strings.ReplaceAll(whole, " ", "") + rest, true
}

// grouped tells whether digits stand in groups of three behind a first group
// of one to three.
func grouped(s, mark string) bool {
	parts := strings.Split(s, mark)
	for i, p := range parts {
		if !digits(p) || i > 0 && len(p) != 3 || i == 0 && len(p) > 3 {
			return false
		}
	}
	return true
}

func digits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return len(s) > 0
}

// sign takes off a leading sign, also the true minus of a word processor.
func sign(s string) (neg bool, rest string) {
	switch {
	case strings.HasPrefix(s, "-"):
		return true, s[1:]
	case strings.HasPrefix(s, "−"):
		return true, strings.TrimPrefix(s, "−")
	case strings.HasPrefix(s, "+"):
		return false, s[1:]
	}
	return false, s
}

// styleOf judges one cell, blanks around it taken off.
func styleOf(cell string) markStyle {
	if cell == "" {
		return notNumber
	}
	_, s := sign(cell)
	s, ok := blankGroups(s)
	if !ok || s == "" {
		return notNumber
	}
	if i := strings.IndexAny(s, "eE"); i > 0 {
		if _, err := strconv.Atoi(s[i+1:]); err != nil {
			return notNumber
		}
		s = s[:i]
	}
	if strings.Trim(s, "0123456789.,") != "" || strings.Trim(s, ".,") == "" {
		return notNumber
	}
	dots, commas := strings.Count(s, "."), strings.Count(s, ",")
	switch {
	case dots == 0 && commas == 0:
		return plain
	case dots == 0:
		return oneMark(s, ",", commas, sureComma, eitherComma, sureDot)
	case commas == 0:
		return oneMark(s, ".", dots, sureDot, eitherDot, sureComma)
	case strings.LastIndexByte(s, '.') > strings.LastIndexByte(s, ','):
		return bothMarks(s, ",", ".", dots, sureDot)
	}
	return bothMarks(s, ".", ",", commas, sureComma)
}

// oneMark judges digits with one kind of mark. Several of it can only be
// thousands, which makes the other kind the decimal mark.
func oneMark(s, mark string, n int, sure, either, other markStyle) markStyle {
	if n > 1 {
		if grouped(s, mark) {
			return other
		}
		return broken
	}
	whole, part, _ := strings.Cut(s, mark)
	if len(part) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' {
		return either
	}
	return sure
}

// bothMarks judges digits with both kinds of mark, the last being the decimal.
func bothMarks(s, group, decimal string, decimals int, sure markStyle) markStyle {
	whole, _, _ := strings.Cut(s, decimal)
	if decimals > 1 || !grouped(whole, group) {
		return broken
	}
	return sure
}

// NumberStyle says how the numbers of a column are written.
type NumberStyle struct {
	Decimal byte // '.' or ','
}

// Parse reads a number. The mark that is not the decimal mark may stand between
// thousands, as may blanks and apostrophes; grouped tells that there were some.
// It refuses rather than guesses.
func (n NumberStyle) Parse(cell string) (v float64, groups bool, err error) {
	neg, s := sign(cell)
	u, ok := blankGroups(s)
	if !ok || styleOf(cell) == notNumber {
		return 0, false, fmt.Errorf("not a number")
	}
	groups = len(u) != len(s)
	group := ","
	if n.Decimal == ',' {
		group = "."
	}
	whole, part, hasPart := strings.Cut(u, string(n.Decimal))
	if strings.Contains(whole, group) {
		if !grouped(whole, group) || len(strings.Trim(whole, "0.,")) == 0 {
			return 0, false, fmt.Errorf("not a number with decimal %s", markName(n.Decimal))
		}
		whole, groups = strings.ReplaceAll(whole, group, ""), true
	}
	text := whole
	if hasPart {
		text += "." + part
	}
	v, err = strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, false, fmt.Errorf("not a number with decimal %s", markName(n.Decimal))
	}
	if neg {
		v = -v
	}
	return v, groups, nil
}

func markName(b byte) string {
	if b == ',' {
		return "comma"
	}
	return "point"
}
