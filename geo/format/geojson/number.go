package geojson

import (
	"strconv"
)

// numberText reads the bytes of a number; the slice is good until the next call.
func (s *scanner) numberText() ([]byte, error) {
	for i := s.pos; i < s.end; i++ {
		if !numberByte(s.buf[i]) {
			text := s.buf[s.pos:i]
			s.pos = i
			return text, nil
		}
	}
	s.scratch = s.scratch[:0]
	for {
		if s.pos >= s.end && !s.fill() {
			return s.scratch, nil
		}
		c := s.buf[s.pos]
		if !numberByte(c) {
			return s.scratch, nil
		}
		if len(s.scratch) > 4096 {
			return nil, s.fault("a number is too long", "at most 4096 digits")
		}
		s.scratch = append(s.scratch, c)
		s.pos++
	}
}

func numberByte(c byte) bool {
	return c >= '0' && c <= '9' || c == '.' || c == '-' || c == '+' || c == 'e' || c == 'E'
}

var tens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a JSON number. Up to 2^53 in its digits and 22 places the
// quotient of two exact floats is the correctly rounded value (W. D. Clinger,
// How to read floating point numbers accurately, PLDI 1990); beyond that
// strconv decides. It is false where the text is not a JSON number or is too
// large for a float.
func parseNumber(t []byte) (float64, bool) {
	i, neg := 0, false
	if i < len(t) && t[i] == '-' {
		neg = true
		i++
	}
	whole := i
	var m uint64
	for i < len(t) && t[i] >= '0' && t[i] <= '9' {
		m = m*10 + uint64(t[i]-'0')
		i++
	}
	digits := i - whole
	if digits == 0 || digits > 1 && t[whole] == '0' {
		return 0, false
	}
	places := 0
	if i < len(t) && t[i] == '.' {
		i++
		for i < len(t) && t[i] >= '0' && t[i] <= '9' {
			m = m*10 + uint64(t[i]-'0')
			i++
			places++
		}
		if places == 0 {
			return 0, false
		}
	}
	if i == len(t) && digits+places <= 18 && m < 1<<53 && places < len(tens) {
		f := float64(m) / tens[places]
		if neg {
			f = -f
		}
		return f, true
	}
	if i < len(t) && !exponent(t[i:]) {
		return 0, false
	}
	f, err := strconv.ParseFloat(string(t), 64)
	return f, err == nil
}

// exponent tells whether the rest of a number is e, a sign or none, digits.
func exponent(t []byte) bool {
	if t[0] != 'e' && t[0] != 'E' {
		return false
	}
	t = t[1:]
	if len(t) > 0 && (t[0] == '+' || t[0] == '-') {
		t = t[1:]
	}
	for _, c := range t {
		if c < '0' || c > '9' {
			return false
		}
	}
	return len(t) > 0
}
