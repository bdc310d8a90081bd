package shp

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"

	"courson/geo/format"
)

// decoder finds how texts are written: what a person states, else the .cpg,
// else the language byte of the table, else UTF-8 where all texts are valid, else
// Windows-1252 with a notice.
func (r *reader) decoder(stated string, language byte, fields []field, body []byte, row int) (func([]byte) (string, error), error) {
	name := stated
	if name == "" {
		name = strings.TrimSpace(strings.TrimPrefix(string(r.f.CPG), "\xef\xbb\xbf"))
	}
	if name == "" {
		name = languages()[language]
	}
	if name == "" {
		if allUTF8(fields, body, row) {
			return utf8Text, nil
		}
		r.note("", "the file does not say how its texts are written: Windows-1252 taken", format.None)
		name = "1252"
	}
	map1, ok := charmaps()[plainName(name)]
	if !ok {
		return nil, problem(r.f.Name+".dbf", "texts in an encoding that is not read", format.Quote(name), "UTF-8, or one of Windows-1250 to 1258 or ISO-8859-1 to 15 stated")
	}
	if map1 == nil {
		return utf8Text, nil
	}
	return func(b []byte) (string, error) {
		s, err := map1.NewDecoder().Bytes(b)
		return string(s), err
	}, nil
}

func utf8Text(b []byte) (string, error) {
	s := string(b)
	if !utf8.ValidString(s) {
		// A writer may have cut the last character in two.
		t := strings.TrimRight(s, " \x00")
		for k := 1; k <= 3 && k < len(t); k++ {
			if utf8.ValidString(t[:len(t)-k]) && utf8.RuneStart(t[len(t)-k]) && !utf8.FullRuneInString(t[len(t)-k:]) {
				return t[:len(t)-k], nil
			}
		}
		return s, fmt.Errorf("the text is not UTF-8 as the file says; state its encoding")
	}
	return s, nil
}

func allUTF8(fields []field, body []byte, row int) bool {
	for i := range len(body) / row {
		for _, f := range fields {
			if f.kind != 'C' {
				continue
			}
			if _, err := utf8Text(f.cell(body, row, i)); err != nil {
				return false
			}
		}
	}
	return true
}

func plainName(s string) string {
	s = strings.ToLower(s)
	s = strings.NewReplacer("-", "", "_", "", " ", "").Replace(s)
	for _, p := range []string{"windows", "ansi", "cp", "ibm", "oem", "iso"} {
		s = strings.TrimPrefix(s, p)
	}
	return s
}

// charmaps are the encodings by their plain names, nil for UTF-8.
func charmaps() map[string]encoding.Encoding {
	m := map[string]encoding.Encoding{"utf8": nil, "65001": nil,
		"437": charmap.CodePage437, "850": charmap.CodePage850, "852": charmap.CodePage852, "866": charmap.CodePage866,
		"1250": charmap.Windows1250, "1251": charmap.Windows1251, "1252": charmap.Windows1252, "1253": charmap.Windows1253,
		"1254": charmap.Windows1254, "1257": charmap.Windows1257, "1258": charmap.Windows1258,
		"latin1": charmap.Windows1252, "macintosh": charmap.Macintosh}
	for n, e := range map[string]encoding.Encoding{"1": charmap.ISO8859_1, "2": charmap.ISO8859_2, "5": charmap.ISO8859_5, "7": charmap.ISO8859_7, "9": charmap.ISO8859_9, "15": charmap.ISO8859_15} {
		m["8859"+n] = e
	}
	return m
}

// languages are the language bytes of dBASE and the programs after it.
func languages() map[byte]string {
	return map[byte]string{0x01: "437", 0x02: "850", 0x03: "1252", 0x04: "macintosh", 0x57: "1252", 0x58: "1252", 0x59: "1252",
		0x64: "852", 0x65: "866", 0xc8: "1250", 0xc9: "1251", 0xca: "1254", 0xcb: "1253", 0xcc: "1257"}
}
