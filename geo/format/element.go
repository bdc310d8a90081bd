package format

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding/charmap"
)

// Element is a piece of an XML file (W3C, Extensible Markup Language 1.0). Names
// are without their prefix.
type Element struct {
	Name  string
	Attr  map[string]string
	Text  string // of its own, without that of the elements in it, blanks around it taken off
	Inner []*Element
	Line  int
}

// Child gives the first element of a name right inside, nil where there is none.
func (e *Element) Child(name string) *Element {
	for _, c := range e.Inner {
		if c.Name == name {
			return c
		}
	}
	return nil
}

// Words gives the text of the first element of a name right inside, "" where
// there is none.
func (e *Element) Words(name string) string {
	if c := e.Child(name); c != nil {
		return c.Text
	}
	return ""
}

// Markup reads an XML file as a stream. Entities of its own are refused, so that
// nothing swells; nothing outside the file is read.
type Markup struct {
	d     *xml.Decoder
	depth int
}

const deepest = 200 // elements within each other

// NewMarkup begins to read.
func NewMarkup(r io.Reader) *Markup {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		switch strings.ToLower(label) {
		case "iso-8859-1", "latin1", "windows-1252", "us-ascii":
			return charmap.Windows1252.NewDecoder().Reader(in), nil
		case "iso-8859-15":
			return charmap.ISO8859_15.NewDecoder().Reader(in), nil
		}
		return nil, fmt.Errorf("the encoding %q is not known", label)
	}
	return &Markup{d: d}
}

// Next steps to the next beginning or end of an element; io.EOF at the end of the
// file. Errors are *Problem, or what the reader said.
func (m *Markup) Next() (name string, begins bool, attr []xml.Attr, err error) {
	for {
		t, err := m.d.Token()
		if err != nil {
			return "", false, nil, m.wrong(err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			if m.depth++; m.depth > deepest {
				return "", false, nil, m.fault("elements stand too deep within each other", "", fmt.Sprintf("at most %d levels", deepest))
			}
			return t.Name.Local, true, t.Attr, nil
		case xml.EndElement:
			m.depth--
			return t.Name.Local, false, nil, nil
		case xml.Directive:
			if strings.Contains(strings.ToUpper(string(t)), "<!ENTITY") || strings.HasPrefix(strings.ToUpper(string(t)), "ENTITY") {
				return "", false, nil, m.fault("the file declares entities of its own", "<!ENTITY", "the file without them")
			}
		}
	}
}

// Element reads the rest of the element that has just begun, with all in it.
func (m *Markup) Element(name string, attr []xml.Attr) (*Element, error) {
	line, _ := m.d.InputPos()
	e := &Element{Name: name, Line: line}
	if len(attr) > 0 {
		e.Attr = make(map[string]string, len(attr))
		for _, a := range attr {
			e.Attr[a.Name.Local] = a.Value
		}
	}
	var text strings.Builder
	for {
		t, err := m.d.Token()
		if err != nil {
			return nil, m.wrong(err)
		}
		switch t := t.(type) {
		case xml.CharData:
			text.Write(t)
		case xml.StartElement:
			if m.depth++; m.depth > deepest {
				return nil, m.fault("elements stand too deep within each other", "", fmt.Sprintf("at most %d levels", deepest))
			}
			inner, err := m.Element(t.Name.Local, t.Attr)
			if err != nil {
				return nil, err
			}
			e.Inner = append(e.Inner, inner)
		case xml.EndElement:
			m.depth--
			e.Text = strings.TrimSpace(text.String())
			return e, nil
		}
	}
}

func (m *Markup) wrong(err error) error {
	var syntax *xml.SyntaxError
	var p *Problem
	switch {
	case errors.Is(err, io.EOF) && m.depth == 0:
		return io.EOF
	case errors.As(err, &p):
		return p
	case errors.As(err, &syntax):
		return m.fault("not well-formed XML", syntax.Msg, "the file written anew")
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return m.fault("the file ends in the middle", "", "the whole file")
	case strings.HasPrefix(err.Error(), "xml: "):
		return m.fault("the file cannot be read as text", strings.TrimPrefix(err.Error(), "xml: "), "UTF-8")
	}
	return err
}

func (m *Markup) fault(what, found, wanted string) *Problem {
	line, _ := m.d.InputPos()
	return &Problem{Feature: None, Line: line, What: what, Found: found, Wanted: wanted}
}
