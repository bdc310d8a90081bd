// Package pruning turns a vine's last season, its age and its structure into an
// instruction that a pruner can follow, with the reason for it.
//
// Plan goes over a block's vines. For each it takes the least of what last
// year's growth balances (Rule), what the space allows, what the leaf allows,
// the caps, and, where last year's wood was weak, last year's load; never below
// two spurs of two nodes. The load then becomes spurs and canes by the training
// system. Every answer names the rule that bound it; Explain gives the whole
// reasoning with its numbers.
//
// Every figure is a setting (Standards), and its default says where it is from:
// a publication, "common practice", "from memory" (widely printed, not read by
// us) or "chosen by us". They are planning figures; the agronomist's override
// goes before all of them but the caps.
//
// Which bud faces where, which spur to keep and which wounds to make is the
// matter of the packages below this one.
package pruning

import (
	"errors"
	"fmt"
)

// What can be wrong. Errors wrap one of these and say the field, what was found
// and what was wanted.
var (
	ErrSystem    = errors.New("training system is out of order")
	ErrStandards = errors.New("pruning standards are out of order")
	ErrBlock     = errors.New("columns of the block are out of order")
	ErrInput     = errors.New("values cannot be compared")
)

// wrong says that a field is not as it must be.
func wrong(why error, field string, found any, wanted string) error {
	return fmt.Errorf("%w: %s: found %v, wanted %s", why, field, found, wanted)
}
