package geojson

import (
	"encoding/json"
	"fmt"

	"courson/geo/format"
)

// Kind says what a property holds.
type Kind uint8

// The kinds of value.
const (
	Null Kind = iota
	Bool
	Number
	Text
	JSON // an object or an array, kept as its text
)

// Value is one property as it stands in the file. It is good until the next
// call of Next.
type Value struct {
	Kind       Kind
	text       []byte
	start, end int
}

// Bytes gives the text of the value: of a Text the decoded characters, of all
// else the bytes as written. The slice must not be kept.
func (v Value) Bytes() []byte { return v.text }

// String gives the text of the value, "" for null.
func (v Value) String() string {
	if v.Kind == Null {
		return ""
	}
	return string(v.text)
}

// Float gives the number; it is false where the value is not a number.
func (v Value) Float() (float64, bool) {
	if v.Kind != Number {
		return 0, false
	}
	return parseNumber(v.text)
}

// Any gives the value as encoding/json would, numbers as json.Number so that no
// digit is lost.
func (v Value) Any() any {
	switch v.Kind {
	case Bool:
		return string(v.text) == "true"
	case Number:
		return json.Number(v.text)
	case Text:
		return string(v.text)
	case JSON:
		return json.RawMessage(append([]byte(nil), v.text...))
	}
	return nil
}

// Describe names the value for a message: its kind and its text.
func (v Value) Describe() string {
	switch v.Kind {
	case Null:
		return "null"
	case Text:
		return "the text " + format.Quote(string(v.text))
	case JSON:
		return "an object or array"
	}
	return string(v.text)
}

// Property is one property of a feature.
type Property struct {
	Name string
	Value
}

// value reads any value. With dst it appends the text there (of a string the
// decoded characters), without it skips.
func (s *scanner) value(dst []byte, keep bool, depth int) (Kind, []byte, error) {
	switch c := s.next(); {
	case c == '"':
		if !keep {
			var err error
			s.scratch, err = s.text(s.scratch[:0])
			return Text, dst, err
		}
		dst, err := s.text(dst)
		return Text, dst, err
	case c == '{' || c == '[':
		dst, err := s.nested(dst, keep, depth)
		return JSON, dst, err
	case c >= '0' && c <= '9' || c == '-':
		return s.numberValue(dst, keep)
	default:
		return s.wordValue(dst, keep)
	}
}

func (s *scanner) numberValue(dst []byte, keep bool) (Kind, []byte, error) {
	t, err := s.numberText()
	if err != nil {
		return Number, dst, err
	}
	if _, ok := parseNumber(t); !ok {
		if len(t) == 1 && t[0] == '-' {
			return Number, dst, s.notNumber("-" + s.word())
		}
		return Number, dst, s.notNumber(string(t))
	}
	if keep {
		dst = append(dst, t...)
	}
	return Number, dst, nil
}

const whatNumber = "not a JSON number"

func (s *scanner) notNumber(found string) error {
	return &format.Problem{Feature: s.feature, Line: s.line, What: whatNumber, Found: format.Quote(found),
		Wanted: "a number such as -12.5, or null where there is none"}
}

func (s *scanner) wordValue(dst []byte, keep bool) (Kind, []byte, error) {
	at := s.around()
	w := s.word()
	switch w {
	case "true", "false":
		if keep {
			dst = append(dst, w...)
		}
		return Bool, dst, nil
	case "null":
		return Null, dst, nil
	case "NaN", "Infinity", "+Infinity", "nan", "inf", "Inf", "NAN", "INF", "None", "undefined":
		return Null, dst, s.notNumber(w)
	case "":
		return Null, dst, s.fault("not JSON", "a value")
	}
	return Null, dst, &format.Problem{Feature: s.feature, Line: s.line, What: "not JSON", Found: at,
		Wanted: "a value: a number, a text in double quotes, true, false, null, an object or an array"}
}

// nested reads an object or array, appending its JSON text where kept.
func (s *scanner) nested(dst []byte, keep bool, depth int) ([]byte, error) {
	if depth >= s.depth {
		return dst, s.fault("nested too deeply", fmt.Sprintf("at most %d levels", s.depth))
	}
	open := s.next()
	s.pos++
	closing := byte(']')
	if open == '{' {
		closing = '}'
	}
	if keep {
		dst = append(dst, open)
	}
	var err error
	for i := 0; ; i++ {
		more, e := s.more(i, closing)
		if e != nil {
			return dst, e
		}
		if !more {
			break
		}
		if keep && i > 0 {
			dst = append(dst, ',')
		}
		if open == '{' {
			if dst, err = s.nestedName(dst, keep); err != nil {
				return dst, err
			}
		}
		if dst, err = s.nestedItem(dst, keep, depth+1); err != nil {
			return dst, err
		}
	}
	if keep {
		dst = append(dst, closing)
	}
	if len(dst) > maxText {
		return dst, s.fault("a value is too long", fmt.Sprintf("at most %d MB", maxText>>20))
	}
	return dst, nil
}

func (s *scanner) nestedName(dst []byte, keep bool) ([]byte, error) {
	var err error
	if s.scratch, err = s.text(s.scratch[:0]); err != nil {
		return dst, err
	}
	if keep {
		dst = append(appendText(dst, s.scratch), ':')
	}
	return dst, s.expect(':', "a colon after the name")
}

func (s *scanner) nestedItem(dst []byte, keep bool, depth int) ([]byte, error) {
	if s.next() == '"' {
		var err error
		if s.scratch, err = s.text(s.scratch[:0]); err != nil {
			return dst, err
		}
		if keep {
			dst = appendText(dst, s.scratch)
		}
		return dst, nil
	}
	kind, dst, err := s.value(dst, keep, depth)
	if keep && kind == Null && err == nil {
		dst = append(dst, "null"...)
	}
	return dst, err
}

// more steps to the i-th item of an object or array: it consumes the comma
// before it, or the closing bracket, and tells whether there is an item.
func (s *scanner) more(i int, closing byte) (bool, error) {
	c := s.next()
	if c == closing && c != 0 {
		s.pos++
		return false, nil
	}
	if i == 0 {
		if c == 0 {
			return false, s.fault("not JSON", "")
		}
		return true, nil
	}
	if c != ',' {
		return false, s.fault("not JSON", fmt.Sprintf("a comma or %c", closing))
	}
	s.pos++
	if s.next() == closing {
		return false, s.fault("not JSON: a comma with nothing after it", "the comma taken out, or what should follow it")
	}
	return true, nil
}

// appendText writes a text as JSON with its quotes.
func appendText(dst, text []byte) []byte {
	return AppendText(dst, string(text))
}
