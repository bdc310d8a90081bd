package server

import (
	"encoding/json"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"courson/server/stands"
	"courson/server/work"
)

// ogcKind is what values a property has.
type ogcKind uint8

const (
	ogcText ogcKind = iota
	ogcWhole
	ogcNumber
	ogcYesNo
)

// schemaType is the kind's name in JSON Schema.
func (k ogcKind) schemaType() string { return [...]string{"string", "integer", "number", "boolean"}[k] }

// ogcCell is one value of a property; the kind of its field says which part of it
// counts. Yes is 1, no is 0.
type ogcCell struct {
	known bool
	text  string
	num   float64
}

func textCell(s string) ogcCell { return ogcCell{known: s != "", text: s} }

func wholeCell(n int, known bool) ogcCell { return ogcCell{known: known, num: float64(n)} }

func yesNoCell(b bool) ogcCell {
	if b {
		return ogcCell{known: true, num: 1}
	}
	return ogcCell{known: true}
}

// numberCell rounds to some decimals, which also takes off the noise of columns
// held in 32 bits.
func numberCell(v float64, decimals int, known bool) ogcCell {
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return ogcCell{}
	}
	by := math.Pow10(decimals)
	return ogcCell{known: true, num: math.Round(v*by) / by}
}

// columnCell is the value of a column in which numbers below 0 are none.
func columnCell(v float32, decimals int) ogcCell { return numberCell(float64(v), decimals, v >= 0) }

func pointerCell(v *float64, decimals int) ogcCell {
	if v == nil {
		return ogcCell{}
	}
	return numberCell(*v, decimals, true)
}

// ogcField is one property of a collection's features.
type ogcField struct {
	name  string
	kind  ogcKind
	what  string
	words []string // the values there are, where they are few
	of    func(p *ogcPart, i int) ogcCell
}

// ogcPart is what one block gives to a collection. Which fields are filled in
// is the collection's business.
type ogcPart struct {
	season int
	head   *stands.Head
	totals stands.Totals
	view   *stands.View
	found  *work.Findings  // nil where not worked out yet
	zones  *work.KeptZones // the version in use; nil where there is none, or it is not asked for

	n    int     // features in all
	hits []int32 // those that match, rising; nil where all do
	some bool    // hits counts

	rows  []ogcSum // of rows, made when first asked for
	place *ogcPlace
}

// matches is the number of features that match.
func (p *ogcPart) matches() int {
	if p.some {
		return len(p.hits)
	}
	return p.n
}

// at gives the index of the k-th feature that matches.
func (p *ogcPart) at(k int) int {
	if p.some {
		return int(p.hits[k])
	}
	return k
}

// rank is how many of the features that match come before index i, and whether
// i itself matches.
func (p *ogcPart) rank(i int) (before int, itself bool) {
	if p.some {
		return slices.BinarySearch(p.hits, int32(i))
	}
	return i, true
}

// appendCell writes a value as JSON.
func appendCell(dst []byte, k ogcKind, c ogcCell) []byte {
	switch {
	case !c.known:
		return append(dst, "null"...)
	case k == ogcText:
		return appendText(dst, c.text)
	case k == ogcYesNo:
		return strconv.AppendBool(dst, c.num != 0)
	case k == ogcWhole:
		return strconv.AppendInt(dst, int64(c.num), 10)
	}
	return strconv.AppendFloat(dst, c.num, 'f', -1, 64)
}

// appendText writes a JSON string.
func appendText(dst []byte, s string) []byte {
	plain := func(r rune) bool {
		return r >= ' ' && r < 127 && r != '"' && r != '\\' && r != '<' && r != '>' && r != '&'
	}
	if strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		dst = append(dst, '"')
		dst = append(dst, s...)
		return append(dst, '"')
	}
	b, err := json.Marshal(s)
	if err != nil { // strings always encode
		b = []byte(`""`)
	}
	return append(dst, b...)
}

// ogcFilter keeps the features whose property has one value.
type ogcFilter struct {
	field ogcField
	want  ogcCell
}

// newOGCFilter reads the value that is asked for.
func newOGCFilter(f ogcField, text string) (ogcFilter, error) {
	bad := func(wanted string) (ogcFilter, error) {
		return ogcFilter{}, refuse(http.StatusBadRequest, f.name, "%s=%s: wanted is %s", f.name, text, wanted)
	}
	want := ogcCell{known: true, text: text}
	switch f.kind {
	case ogcText:
		if text == "" {
			return bad("a value")
		}
		if len(f.words) > 0 && !slices.Contains(f.words, text) {
			return bad("one of " + strings.Join(f.words, ", "))
		}
	case ogcWhole:
		n, err := strconv.ParseInt(text, 10, 53)
		if err != nil {
			return bad("a whole number")
		}
		want.num = float64(n)
	case ogcNumber:
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return bad("a number with a decimal point")
		}
		want.num = v
	case ogcYesNo:
		if text != "true" && text != "false" {
			return bad("true or false")
		}
		want = yesNoCell(text == "true")
	}
	return ogcFilter{f, want}, nil
}

// keeps tells whether a feature has the value.
func (f ogcFilter) keeps(p *ogcPart, i int) bool {
	c := f.field.of(p, i)
	if !c.known {
		return false
	}
	if f.field.kind == ogcText {
		return c.text == f.want.text
	}
	return c.num == f.want.num
}
