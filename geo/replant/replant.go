// Package replant finds the gaps of a block, keeps the plants that came and went
// in each position, and works out what to replace, what it costs and what to
// order.
//
//   - Judge weighs what crews saw, what a survey measured, what a detection from
//     the air suspects and what was planted, and says for each position whether a
//     living vine stands there, with reasons.
//   - History holds the plants of a position; Survive and Causes tell how long
//     plants last.
//   - Candidates lists what to replace, to test or to look at; CheckLimits holds
//     the share of gaps against limits that the owner sets.
//   - Economics compares leaving a block as it is, filling its gaps over some
//     years, and pulling it. The answer is a sum with its parts, not a verdict.
//   - OrderPlants writes the nursery order, Case follows each place from "to
//     replace" to "took", Reconcile holds survey, holes and planted vines together.
//   - SampleRate and CountRate give the share of gaps with its interval.
//
// A gap is a position with no living vine. Every figure is a setting whose default
// says where it is from: a publication, "common practice", "from memory" (widely
// printed, not read by us) or "chosen by us". They are planning figures: the
// agronomist decides.
package replant

import (
	"errors"
	"fmt"
)

// What can be wrong. Errors wrap one of these and say the field, what was found
// and what was wanted.
var (
	ErrEvidence = errors.New("evidence is out of order")
	ErrSettings = errors.New("replant settings are out of order")
	ErrHistory  = errors.New("plants of a position are out of order")
	ErrInput    = errors.New("values are out of order")
	ErrStep     = errors.New("not a step that can follow")
)

// wrong says that a field is not as it must be.
func wrong(why error, field string, found any, wanted string) error {
	return fmt.Errorf("%w: %s: found %v, wanted %s", why, field, found, wanted)
}

// sayer takes a reason in words; nil where nobody asks.
type sayer func(format string, args ...any)

func (s sayer) say(format string, args ...any) {
	if s != nil {
		s(format, args...)
	}
}

// count writes "1 vine", "2 vines".
func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
