package shp

import (
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

const nameLen = 10

// Names gives field names for titles: at most 10 characters, small letters,
// digits and underscores of ASCII, all different, beginning with a letter. Long
// words lose vowels before they are cut, and years and other digits at the end
// stay, so that two seasons can be told apart.
func Names(titles []string) []string {
	out := make([]string, len(titles))
	used := map[string]bool{}
	for i, t := range titles {
		out[i] = unique(shorten(plain(t)), used)
		used[out[i]] = true
	}
	return out
}

// plain is a title in the letters that a field name may have.
func plain(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range norm.NFKD.String(s) {
		switch {
		case unicode.Is(unicode.Mn, r):
			continue // an accent
		case r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			if gap && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(unicode.ToLower(r))
		default:
			gap = true
		}
	}
	out := b.String()
	if out == "" || out[0] >= '0' && out[0] <= '9' {
		out = "f_" + out
	}
	return strings.TrimSuffix(out, "_")
}

func shorten(s string) string {
	if len(s) <= nameLen {
		return s
	}
	stem := strings.TrimRight(s, "0123456789")
	tail := s[len(stem):]
	if len(tail) > 4 {
		tail = tail[len(tail)-4:]
	}
	stem = strings.TrimRight(stem, "_")
	for i := len(stem) - 1; i > 0 && len(stem)+len(tail) > nameLen; i-- {
		if strings.IndexByte("aeiou_", stem[i]) >= 0 && stem[i-1] != '_' {
			stem = stem[:i] + stem[i+1:]
		}
	}
	return stem[:min(len(stem), nameLen-len(tail))] + tail
}

func unique(s string, used map[string]bool) string {
	for n := 2; used[s]; n++ {
		end := "_" + strconv.Itoa(n)
		t := strings.TrimRight(s, "0123456789")
		if strings.HasSuffix(t, "_") && n > 2 {
			s = strings.TrimSuffix(t, "_")
		}
		s = s[:min(len(s), nameLen-len(end))] + end
	}
	return s
}

// sound tells whether a name may stand in a file.
func sound(name string) bool {
	if name == "" || len(name) > nameLen || name[0] >= '0' && name[0] <= '9' {
		return false
	}
	for i := range len(name) {
		c := name[i]
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_') {
			return false
		}
	}
	return true
}
