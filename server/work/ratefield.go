package work

import (
	"errors"
	"regexp"

	"courson/geo/rate"
)

// fieldNamed finds the field that an error begins with.
var fieldNamed = regexp.MustCompile(`^zones and rates: ((?:rates|zones|columns|terminal|grid)\.[a-z_.]+|by|note|value|readings):`)

// RatesField says which field of an order an error is about, "zones" where that
// cannot be told.
func RatesField(err error) string {
	if m := fieldNamed.FindStringSubmatch(err.Error()); m != nil {
		return m[1]
	}
	for _, c := range [...]struct {
		is    error
		field string
	}{{rate.ErrAim, "rates.aim"}, {rate.ErrUnit, "rates.unit"}, {rate.ErrLabel, "rates.own.label_most"}, {rate.ErrBudget, "rates.budget"}} {
		if errors.Is(err, c.is) {
			return c.field
		}
	}
	return "zones"
}
