// Package rate cuts a block into zones and gives each its rate.
//
// Make takes one or several columns of values per vine (vigour of one or more
// seasons, samples of an image), brings them to one scale, and sorts the vines
// into zones by k-means, natural breaks or fuzzy c-means. Zones are then smoothed,
// snapped to rows or to passes of the machine, and small parts are merged, as a
// machine on wheels needs it. Number says what speaks for two, three or more
// zones; Stability how the zones of one season compare with those of another.
// Outlines are unions of the vines' ground cells. Rates works out what each zone
// gets of a material; Grid and Polygons bring it into the form that machines
// take; Compare reads back what they applied.
//
// Rates are planning figures: product labels, local nutrient and water rules and
// a licensed adviser decide. See Cautions.
package rate

import (
	"errors"
	"fmt"
)

// Why something was not computed.
var (
	ErrInput     = errors.New("input does not fit the stand")
	ErrNotFinite = errors.New("a number is not finite")
	ErrFewValues = errors.New("too few values")
	ErrNoSpread  = errors.New("all values are equal")
	ErrDistinct  = errors.New("fewer different values than zones")
	ErrOption    = errors.New("an option is out of range")
	ErrGround    = errors.New("the ground cannot be laid out")
	ErrAim       = errors.New("the aim is not chosen")
	ErrUnit      = errors.New("the unit does not fit")
	ErrLabel     = errors.New("the label is not kept")
	ErrBudget    = errors.New("the budget cannot be kept")
)

// refusal says in plain words why something was not computed, and is one of the
// errors above.
type refusal struct {
	text string
	why  error
}

func (r *refusal) Error() string { return r.text }
func (r *refusal) Unwrap() error { return r.why }

func refuse(why error, format string, args ...any) error {
	return &refusal{fmt.Sprintf(format, args...), why}
}

// vines says how many vines.
func vines(n int) string {
	if n == 1 {
		return "1 vine"
	}
	return fmt.Sprintf("%d vines", n)
}
