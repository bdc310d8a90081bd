// Package draw makes ground that nobody has surveyed: it judges outlines drawn by
// hand, fills a block with rows from one line or a bearing, numbers rows and vines
// from a chosen side and end, and finds drawn rows again in surveyed ones.
//
// Every length is metres in the block's frame. Nothing is forced: what cannot be
// meant is refused with an error that says what was found and what is wanted, what
// is left out is counted.
package draw

import (
	"errors"
)

// What is refused. Errors of this package wrap one of these, or one of package
// layout.
var (
	ErrOrder   = errors.New("rows cannot be made so")
	ErrNothing = errors.New("no row fits")
)
