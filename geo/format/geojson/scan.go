package geojson

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"

	"courson/geo/format"
)

// scanner reads JSON (RFC 8259) byte by byte from a stream, counting lines. It
// keeps one window of the stream and nothing else.
type scanner struct {
	r       io.Reader
	buf     []byte
	pos     int
	end     int
	line    int   // of the byte at pos, from 1
	feature int   // which feature is being read, for messages; format.None between
	readErr error // io.EOF or what the reader said; sticky
	depth   int   // deepest nesting allowed
	scratch []byte
	stray   []byte
}

const windowSize = 1 << 16

func newScanner(r io.Reader, depth int) *scanner {
	return &scanner{r: r, buf: make([]byte, windowSize), line: 1, feature: format.None, depth: depth}
}

// fill moves on to the next window. It is false at the end of the stream.
func (s *scanner) fill() bool {
	for s.readErr == nil {
		n, err := s.r.Read(s.buf)
		s.pos, s.end, s.readErr = 0, n, err
		if n > 0 {
			return true
		}
	}
	return false
}

// next gives the first byte that is not white space without consuming it; 0 at
// the end of the stream.
func (s *scanner) next() byte {
	for {
		for s.pos < s.end {
			switch c := s.buf[s.pos]; c {
			case ' ', '\t', '\r':
				s.pos++
			case '\n':
				s.line++
				s.pos++
			default:
				return c
			}
		}
		if !s.fill() {
			return 0
		}
	}
}

// atEnd tells whether the stream is used up.
func (s *scanner) atEnd() bool { return s.pos >= s.end && s.readErr != nil }

// fault says that the text is not JSON here, or that it could not be read on.
func (s *scanner) fault(what, wanted string) error {
	if s.atEnd() && !errors.Is(s.readErr, io.EOF) {
		return s.streamFault()
	}
	p := &format.Problem{Feature: s.feature, Line: s.line, What: what, Wanted: wanted}
	if s.atEnd() {
		p.What = "the file ends in the middle"
		p.Found = "the end of the file"
		return p
	}
	p.Found = s.around()
	return p
}

// streamFault reports why the stream broke off.
func (s *scanner) streamFault() error {
	var p *format.Problem
	if errors.As(s.readErr, &p) {
		q := *p
		q.Feature, q.Line = s.feature, s.line
		return &q
	}
	return fmt.Errorf("line %d: the file cannot be read on: %w", s.line, s.readErr)
}

// around shows the text at the present place.
func (s *scanner) around() string {
	b := s.buf[s.pos:min(s.end, s.pos+24)]
	if i := bytes.IndexByte(b, '\n'); i > 0 {
		b = b[:i]
	}
	return format.Quote(string(b))
}

// expect consumes the given byte after white space.
func (s *scanner) expect(c byte, wanted string) error {
	if s.next() != c {
		return s.fault("not JSON", wanted)
	}
	s.pos++
	return nil
}

// text reads a string and appends its decoded bytes to dst.
func (s *scanner) text(dst []byte) ([]byte, error) {
	if err := s.expect('"', `a text in double quotes`); err != nil {
		return dst, err
	}
	start := len(dst)
	for {
		if s.pos >= s.end && !s.fill() {
			return dst, s.fault("a text is not closed", `a closing double quote`)
		}
		i := s.pos
		for i < s.end && s.buf[i] != '"' && s.buf[i] != '\\' && s.buf[i] >= 0x20 {
			i++
		}
		dst = append(dst, s.buf[s.pos:i]...)
		s.pos = i
		if len(dst)-start > maxText {
			return dst, s.fault("a text is too long", fmt.Sprintf("at most %d MB", maxText>>20))
		}
		if i == s.end {
			continue
		}
		switch s.buf[i] {
		case '"':
			s.pos++
			return dst, nil
		case '\\':
			var err error
			if dst, err = s.escape(dst); err != nil {
				return dst, err
			}
		default:
			return dst, s.fault("not JSON: a control character inside a text", `\n, \t or \u00.. in its place`)
		}
	}
}

// maxText is the longest text or number kept, in bytes.
const maxText = 16 << 20

// one consumes and gives one byte, whatever it is.
func (s *scanner) one() (byte, bool) {
	if s.pos >= s.end && !s.fill() {
		return 0, false
	}
	c := s.buf[s.pos]
	s.pos++
	return c, true
}

// escape reads an escape that begins with the backslash at pos.
func (s *scanner) escape(dst []byte) ([]byte, error) {
	s.pos++
	c, ok := s.one()
	if !ok {
		return dst, s.fault("a text is not closed", "a closing double quote")
	}
	switch c {
	case '"', '\\', '/':
		return append(dst, c), nil
	case 'b':
		return append(dst, '\b'), nil
	case 'f':
		return append(dst, '\f'), nil
	case 'n':
		return append(dst, '\n'), nil
	case 'r':
		return append(dst, '\r'), nil
	case 't':
		return append(dst, '\t'), nil
	case 'u':
		return s.unicode(dst)
	}
	s.pos--
	return dst, s.fault(`not JSON: unknown escape after \`, `one of " \ / b f n r t u`)
}

// unicode reads the four digits after \u, and the second half of a pair.
func (s *scanner) unicode(dst []byte) ([]byte, error) {
	r, err := s.hex4()
	if err != nil {
		return dst, err
	}
	if utf16.IsSurrogate(r) {
		low := rune(-1)
		if a, ok := s.one(); ok && a == '\\' {
			if b, ok := s.one(); ok && b == 'u' {
				if low, err = s.hex4(); err != nil {
					return dst, err
				}
			}
		}
		if r = utf16.DecodeRune(r, low); r == utf8.RuneError {
			return dst, s.fault(`half of a \u pair stands alone`, "both halves")
		}
	}
	return utf8.AppendRune(dst, r), nil
}

func (s *scanner) hex4() (rune, error) {
	var digits [4]byte
	for i := range digits {
		c, ok := s.one()
		if !ok {
			return 0, s.fault("a text is not closed", "four digits")
		}
		digits[i] = c
	}
	n, err := strconv.ParseUint(string(digits[:]), 16, 16)
	if err != nil {
		return 0, s.fault(`not JSON: bad \u escape`, `four digits from 0 to f after \u`)
	}
	return rune(n), nil
}

// word reads the letters of true, false, null, or of what is not JSON, such as
// NaN, with a sign before it. It is at most 16 bytes long.
func (s *scanner) word() string {
	s.scratch = s.scratch[:0]
	for len(s.scratch) < 16 {
		if s.pos >= s.end && !s.fill() {
			break
		}
		c := s.buf[s.pos]
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
		if !letter && !(len(s.scratch) == 0 && (c == '-' || c == '+')) {
			break
		}
		s.scratch = append(s.scratch, c)
		s.pos++
	}
	return string(s.scratch)
}
