// Package vine holds one vine's life: the events that were recorded about it,
// and the fold that works out from them what is true in each season.
//
// A vine here is a position in a row. It stays when the plant dies and another
// one is planted; what stands there for a time is a Planting. Nothing in this
// package is ever overwritten: a record is a dated sighting, a later record or
// a void event takes precedence, and two devices that could not know of each
// other and disagree are kept side by side as a Clash.
//
// A season is the harvest year that this winter's pruning prepares. A leaf is
// the growing season of its life that a plant is in: planted before season s,
// it is in its first leaf in s (common practice in the trade).
package vine

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ID is the lasting number of a block, a row or a vine. It never changes and is
// never used again, whatever happens to labels; it stays below 2^53 so that
// browsers can hold it. 0 means none.
type ID = int64

// Address is what people call a vine: block code, row label, vine number, as
// in H3/12/41. Labels may change; IDs do not.
type Address struct {
	Block  string
	Row    string
	Number int // 1 and up from the row's numbering end
}

// ErrAddress says that a text is not of the form block/row/vine.
var ErrAddress = errors.New("not an address of the form block/row/vine, such as H3/12/41")

// String writes the address as block/row/vine.
func (a Address) String() string {
	return a.Block + "/" + a.Row + "/" + strconv.Itoa(a.Number)
}

// ParseAddress reads block/row/vine. Labels are kept as written; the number
// must be a whole number from 1.
func ParseAddress(s string) (Address, error) {
	parts := strings.Split(s, "/")
	if len(parts) != 3 || parts[0] == "" || parts[1] == "" {
		return Address{}, fmt.Errorf("%q: %w", s, ErrAddress)
	}
	n, err := strconv.Atoi(parts[2])
	if err != nil || n < 1 {
		return Address{}, fmt.Errorf("%q: vine number %q is not a whole number from 1: %w", s, parts[2], ErrAddress)
	}
	return Address{Block: parts[0], Row: parts[1], Number: n}, nil
}
