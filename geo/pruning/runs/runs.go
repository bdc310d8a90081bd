// Package runs turns an answer for each vine into instructions for stretches of
// a row.
//
// An answer for every vine is too fine to be shouted down a row: each row is cut
// into runs, and within a run every vine gets the same instruction. What a vine
// gets then differs from what it should get by some nodes, its misfit. Two ways
// to weigh the one against the other:
//
//   - Balance: the least sum of all misfits, in nodes, plus a price in nodes for
//     every run after the first.
//   - MeanUnder and GreatestUnder: the fewest runs in which the mean (the
//     greatest) misfit of every run stays within a limit; of such divisions the
//     one with the least sum of misfits.
//
// Both are found exactly, by dynamic programming over the vines of the row (R.
// Bellman, On the approximation of curves by line segments using dynamic
// programming, Communications of the ACM 4, 1961, for cutting a sequence into
// pieces). Ties: see Splitter.Row.
//
// Tape says where to hang which mark, so that one mark means the same
// instruction all over a block.
package runs

import (
	"errors"
	"fmt"
	"math"
)

// What keeps a row from being split.
var (
	ErrOption   = errors.New("an option is out of range")
	ErrVine     = errors.New("a vine cannot be used")
	ErrFewMarks = errors.New("not enough marks")
)

// Part is what a vine has to do with runs.
type Part uint8

// A vine's part.
const (
	// Ordinary vines take the instruction of the run they stand in.
	Ordinary Part = iota
	// Pinned vines keep their own instruction (cut back, look first). No other
	// vine is ever given it for their sake.
	Pinned
	// Free vines get nothing, as gaps do: they belong to no run and break none.
	Free
)

// Vine is what one vine should get.
type Vine[I comparable] struct {
	Number      int // in its row, as it stands on the list of marks
	Part        Part
	Instruction I   // not read where Free
	Nodes       int // wanted on this vine; not read where Pinned or Free
}

// Goal is what is made small.
type Goal uint8

// The goals; see the package's text.
const (
	Balance Goal = iota
	MeanUnder
	GreatestUnder
)

// Options say what fits and what is made small.
type Options[I comparable] struct {
	// Nodes gives the nodes that an instruction leaves on a vine. The misfit of
	// a vine is the difference of that to its wanted nodes, up or down.
	Nodes func(I) int
	// Misfit, where set, is asked instead of Nodes: the misfit in nodes (0 or
	// more) of a vine that gets the instruction of its run. It lets a caller
	// say that one cane of 12 is not the same as two of 6.
	Misfit func(run I, v Vine[I]) int

	Goal Goal
	// Change is the price of every run after the first, in nodes, for Balance;
	// taken to a thousandth of a node.
	Change float64
	// Limit is the greatest misfit allowed, in nodes, for the other goals.
	Limit float64
	// Through lets a run go on past a pinned vine, which then wears a mark of
	// its own. Otherwise a pinned vine ends the run, and the next begins after.
	Through bool
}

// Bounds against slips, chosen by us.
const (
	maxVines  = 10_000
	maxMisfit = 10_000
	maxChange = 1e6
)

func (o Options[I]) check() error {
	switch {
	case o.Nodes == nil && o.Misfit == nil:
		return fmt.Errorf("%w: neither Nodes nor Misfit says what fits a vine", ErrOption)
	case o.Goal > GreatestUnder:
		return fmt.Errorf("%w: goal %d", ErrOption, o.Goal)
	case math.IsNaN(o.Change) || o.Change < 0 || o.Change > maxChange:
		return fmt.Errorf("%w: a change costs %g nodes (0 to %g)", ErrOption, o.Change, float64(maxChange))
	case math.IsNaN(o.Limit) || o.Limit < 0 || o.Limit > maxMisfit:
		return fmt.Errorf("%w: a limit of %g nodes (0 to %d)", ErrOption, o.Limit, maxMisfit)
	}
	return nil
}

// Run is a stretch of a row with one instruction.
type Run[I comparable] struct {
	From, To    int // index of its first and last vine in the row, both included
	Instruction I
	Pinned      bool // of pinned vines only
	Vines       int  // vines that get the instruction; free ones between are not counted
	Misfit      int  // sum over its vines, nodes
	Greatest    int  // greatest misfit of one vine, nodes
}

// Mean is the mean misfit of a vine in the run, in nodes.
func (r Run[I]) Mean() float64 { return float64(r.Misfit) / float64(max(1, r.Vines)) }

// Split is a row cut into runs.
type Split[I comparable] struct {
	Runs     []Run[I] // by From; with Through a pinned run lies within another one
	Vines    int      // vines that get an instruction
	Misfit   int      // sum over all vines, nodes
	Greatest int      // greatest misfit of one vine, nodes
	// Over tells that some run lies over the limit, because a vine fits none of
	// the row's instructions within it.
	Over bool
}

// Cost is what Balance makes small: misfit and price of the runs, in nodes. Where
// runs go through pinned vines, marks of pinned vines cost nothing.
func (s Split[I]) Cost(o Options[I]) float64 {
	n := 0
	for _, r := range s.Runs {
		if !r.Pinned || !o.Through {
			n++
		}
	}
	return float64(s.Misfit) + float64(thousandths(o.Change))/1000*float64(max(0, n-1))
}

func thousandths(nodes float64) int64 { return int64(math.Round(1000 * nodes)) }
