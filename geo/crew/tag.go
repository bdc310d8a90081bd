package crew

import (
	"fmt"
	"strconv"
	"strings"

	"courson/geo/vine"
)

const tagPath = "/field#row="

// mostID is the greatest id: browsers hold whole numbers below 2⁵³.
const mostID = 1<<53 - 1

// RowTag is the text of a tag that opens a row: a path on the estate's own server.
func RowTag(row vine.ID) string { return tagPath + strconv.FormatInt(row, 10) }

// ParseRowTag reads the row from a tag's text, with or without the server before
// it. The error wraps ErrTag.
func ParseRowTag(text string) (vine.ID, error) {
	_, id, ok := strings.Cut(text, tagPath)
	row, err := strconv.ParseInt(id, 10, 64)
	if !ok || err != nil || row < 1 || row > mostID || strconv.FormatInt(row, 10) != id {
		return 0, wrong(ErrTag, "text", fmt.Sprintf("%.80q", text), tagPath+" and the row's number at its end")
	}
	return row, nil
}
