package csv

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"courson/geo/format"
)

// Encoding is how the characters of a table are written.
type Encoding string

// The encodings.
const (
	UTF8        Encoding = "UTF-8"
	UTF16LE     Encoding = "UTF-16, little-endian"
	UTF16BE     Encoding = "UTF-16, big-endian"
	Windows1252 Encoding = "Windows-1252"
)

// ParseEncoding reads the name of an encoding, in whatever case; "" is none.
func ParseEncoding(name string) (e Encoding, ok bool) {
	switch strings.ToLower(strings.TrimSpace(name)) {
	case "":
		return "", true
	case "utf-8", "utf8":
		return UTF8, true
	case "utf-16le", "utf-16, little-endian":
		return UTF16LE, true
	case "utf-16be", "utf-16, big-endian":
		return UTF16BE, true
	case "windows-1252", "cp1252", "latin1", "iso-8859-1":
		return Windows1252, true
	}
	return "", false
}

// detectEncoding looks through the whole stream: a byte order mark decides;
// zero bytes in every other place mean UTF-16; what is not UTF-8 throughout is
// taken as Windows-1252, which every Latin-1 text is too. mark tells whether a
// byte order mark stands before the text.
func detectEncoding(r io.Reader) (e Encoding, mark bool, err error) {
	head := make([]byte, 4096)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return "", false, err
	}
	head = head[:n]
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		e, mark = UTF8, true
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return UTF16LE, true, nil
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return UTF16BE, true, nil
	default:
		if e = zeroPattern(head); e != "" {
			return e, false, nil
		}
	}
	ok, err := validUTF8(io.MultiReader(bytes.NewReader(head), r))
	switch {
	case err != nil:
		return "", false, err
	case ok:
		return UTF8, mark, nil
	case mark:
		return "", false, &format.Problem{Feature: format.None, What: "the file begins with the mark of UTF-8 but is not UTF-8 throughout", Wanted: "one encoding throughout; UTF-8 is best"}
	}
	return Windows1252, false, nil
}

// zeroPattern tells UTF-16 without a mark by its zero bytes: Latin letters have
// one in every pair.
func zeroPattern(b []byte) Encoding {
	var even, odd int
	for i, c := range b {
		if c == 0 {
			if i%2 == 0 {
				even++
			} else {
				odd++
			}
		}
	}
	switch half := len(b) / 2; {
	case half > 1 && odd*10 > half*8 && even*10 < half:
		return UTF16LE
	case half > 1 && even*10 > half*8 && odd*10 < half:
		return UTF16BE
	}
	return ""
}

// validUTF8 reads the whole stream.
func validUTF8(r io.Reader) (bool, error) {
	buf := make([]byte, 1<<16)
	kept := 0
	for {
		n, err := r.Read(buf[kept:])
		b := buf[:kept+n]
		for len(b) > 0 {
			c, size := utf8.DecodeRune(b)
			if c == utf8.RuneError && size <= 1 {
				if err == nil && !utf8.FullRune(b) {
					break
				}
				return false, nil
			}
			b = b[size:]
		}
		kept = copy(buf, b)
		if errors.Is(err, io.EOF) {
			return true, nil
		}
		if err != nil {
			return false, err
		}
	}
}

// decoded gives the text as UTF-8 without its byte order mark.
func decoded(r io.Reader, e Encoding, mark bool) (io.Reader, error) {
	policy := unicode.IgnoreBOM
	if mark {
		policy = unicode.ExpectBOM
	}
	switch e {
	case UTF16LE:
		return unicode.UTF16(unicode.LittleEndian, policy).NewDecoder().Reader(r), nil
	case UTF16BE:
		return unicode.UTF16(unicode.BigEndian, policy).NewDecoder().Reader(r), nil
	case Windows1252:
		return charmap.Windows1252.NewDecoder().Reader(r), nil
	}
	if mark {
		if _, err := io.CopyN(io.Discard, r, 3); err != nil {
			return nil, fmt.Errorf("skip the byte order mark: %w", err)
		}
	}
	return r, nil
}
