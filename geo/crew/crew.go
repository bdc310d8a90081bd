// Package crew turns what has to be done in a block into work for people: how
// long it takes, who does which rows on which day, in which order they walk, how
// far they have got and when it will be finished.
//
// Work is counted in minutes of one person. What a vine takes comes from the
// table of operations (Operation), and from the log as soon as it says more
// (Table.Learn). Rates are rates of crews: nothing here sets one person's speed
// beside another's.
//
// Every figure is a setting; its default says where it is from: a publication,
// "common practice", "from memory" (widely printed, not read by us) or "chosen
// by us". All of them are planning figures.
package crew

import (
	"errors"
	"fmt"
)

// What can be wrong. Errors wrap one of these and say the field, what was found
// and what was wanted.
var (
	ErrOperation = errors.New("operation is out of order")
	ErrRecord    = errors.New("record of work is out of order")
	ErrJob       = errors.New("job is out of order")
	ErrOrder     = errors.New("order is out of order")
	ErrShare     = errors.New("rows cannot be shared")
	ErrWalk      = errors.New("walking order cannot be made")
	ErrSection   = errors.New("no such place between the posts")
	ErrForecast  = errors.New("no forecast can be made")
	ErrCheck     = errors.New("check is out of order")
	ErrTag       = errors.New("not the tag of a row")
)

// wrong says that a field is not as it must be.
func wrong(why error, field string, found any, wanted string) error {
	return fmt.Errorf("%w: %s: found %v, wanted %s", why, field, found, wanted)
}
