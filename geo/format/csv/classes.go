package csv

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Class is a class of cane diameters that a column counts, from From up to To.
type Class struct {
	Name     string  // as written: "6-8 mm"
	From, To float64 // mm; From is -Inf in "under 6 mm", To is +Inf in "over 10 mm"
	Unit     string  // as written, "" where the header has none; From and To are then as written
}

// Open tells whether the class has only one bound.
func (c Class) Open() bool { return math.IsInf(c.From, 0) || math.IsInf(c.To, 0) }

// In gives the class with its bounds, so far without a unit, in the unit given;
// false where it is no unit of diameters.
func (c Class) In(unit string) (Class, bool) {
	factor, ok := units("cane_diameter")[unit]
	c.From, c.To, c.Unit = c.From*factor, c.To*factor, unit
	return c, ok
}

// classNames are the forms that name a class, behind the word canes or shoots.
type classNames struct{ head, between, under, over, plus, more *regexp.Regexp }

func newClassNames() classNames {
	const number, unit = `(\d+(?:[.,]\d+)?)`, `\s*([a-z]*)`
	form := func(text string) *regexp.Regexp { return regexp.MustCompile(`^` + text + `$`) }
	return classNames{
		head:    regexp.MustCompile(`^(?:canes?|shoots?)(?:[\s_]+(?:of|count))?[\s_:(\[]*`),
		between: form(number + `\s*(?:-|–|_|to)\s*` + number + unit),
		under:   form(`(?:<|≤|under|below|up to|less than)\s*` + number + unit),
		over:    form(`(?:>|≥|over|above|from|more than)\s*` + number + unit),
		plus:    form(number + `\s*\+` + unit),
		more:    form(number + unit + `\s*(?:\+|and more|or more)`),
	}
}

// Class reads a header that names a class of cane diameters: "canes 6-8 mm",
// "canes <6 mm", "Canes (over 10 mm)", "canes_6_8_mm". ok is false where it names
// none; the error says what is wrong with one.
func (r Recogniser) Class(header string) (c Class, ok bool, err error) {
	text := strings.ToLower(strings.TrimSpace(header))
	head := r.classes.head.FindString(text)
	rest := strings.Trim(text[len(head):], " \t_)]")
	if head == "" || rest == "" || !strings.ContainsAny(rest, "0123456789") {
		return Class{}, false, nil
	}
	rest = strings.ReplaceAll(rest, "_", " ")
	if m := r.classes.between.FindStringSubmatch(strings.Replace(rest, " ", "_", 1)); m != nil {
		c = Class{From: bound(m[1]), To: bound(m[2]), Unit: m[3]}
	} else if m := r.classes.between.FindStringSubmatch(rest); m != nil {
		c = Class{From: bound(m[1]), To: bound(m[2]), Unit: m[3]}
	} else if m := r.classes.under.FindStringSubmatch(rest); m != nil {
		c = Class{From: math.Inf(-1), To: bound(m[1]), Unit: m[2]}
	} else if m := firstMatch(rest, r.classes.over, r.classes.plus, r.classes.more); m != nil {
		c = Class{From: bound(m[1]), To: math.Inf(1), Unit: m[2]}
	} else {
		return Class{}, false, nil
	}
	c.Name = rest
	if !(c.From < c.To) || c.To <= 0 {
		return c, true, fmt.Errorf("a class from %g to %g", c.From, c.To)
	}
	if unit := c.Unit; unit != "" {
		in, known := c.In(unit)
		if !known {
			return c, true, fmt.Errorf("%q is no unit of diameters", unit)
		}
		c = in
	}
	return c, true, nil
}

func firstMatch(text string, forms ...*regexp.Regexp) []string {
	for _, f := range forms {
		if m := f.FindStringSubmatch(text); m != nil {
			return m
		}
	}
	return nil
}

// bound reads a number that the form has checked; in a header a comma stands for
// decimals.
func bound(text string) float64 {
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}
