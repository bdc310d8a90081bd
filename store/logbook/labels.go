package logbook

import (
	"strconv"
	"strings"

	"courson/geo/vine"
)

// Key gives a label in the form in which labels are compared: letter case and
// blanks around it count not.
func Key(label string) string { return strings.ToLower(strings.TrimSpace(label)) }

// SplitAddress takes block/row/vine apart, each part in the form in which
// labels are compared; ok is false where the text is no address.
func SplitAddress(text string) (block, row string, number int, ok bool) {
	a, err := vine.ParseAddress(strings.TrimSpace(text))
	if err != nil {
		return "", "", 0, false
	}
	return Key(a.Block), Key(a.Row), a.Number, true
}

// OldVineLabels gives what is kept of a vine's labels when its number, its row
// or its tag changes: the address it had (block and row as they were called
// before the change), the tag it had.
func OldVineLabels(blockCode, rowLabel string, number int, moved bool, oldTag, newTag string) []string {
	var out []string
	if moved {
		out = append(out, blockCode+"/"+rowLabel+"/"+strconv.Itoa(number))
	}
	if oldTag != "" && oldTag != newTag {
		out = append(out, oldTag)
	}
	return out
}
