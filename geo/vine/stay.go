package vine

import (
	"slices"
	"time"
)

// Stay is where a vine stood until it came into another row or another block. The
// vine stays where it is: rows and blocks are lines drawn around it, and drawn
// anew when a block is split or joined with another.
type Stay struct {
	Row, Block ID
	Until      time.Time
}

// At gives the row and the block in which the vine stood at a time.
func (p Place) At(when time.Time) (row, block ID) {
	for _, s := range p.Was {
		if when.Before(s.Until) {
			return s.Row, s.Block
		}
	}
	return p.Row, p.Block
}

// Stood tells whether the vine stands or ever stood in the row of the block; row 0
// means anywhere in the block.
func (p Place) Stood(row, block ID) bool {
	if p.Block == block && (row == 0 || p.Row == row) {
		return true
	}
	return slices.ContainsFunc(p.Was, func(s Stay) bool { return s.Block == block && (row == 0 || s.Row == row) })
}

// Covers tells whether the record is about the vine, which may have stood in another
// row or block when it was made: a whole row or block means the vines that stood in it
// then, a vine that is named is meant wherever it stands now. What takes a record back
// takes it back for all vines that ever stood in the row or block.
func (e *Event) Covers(p Place) bool {
	r := ready(e)
	_, ok := r.position(p)
	return ok
}

// position finds the vine among those listed; it is 0 where the target is a whole row
// or block, and ok is false where the vine is not covered.
func (r *record) position(p Place) (pos int, ok bool) {
	if r.Kind == KindVoid && len(p.Was) > 0 && len(r.Target.Vines) == 0 {
		return 0, r.Target.Row == 0 && p.Stood(0, r.Target.Block) || r.Target.Row != 0 && p.stoodInRow(r.Target.Row)
	}
	return r.Target.position(p, r.when)
}

func (p Place) stoodInRow(row ID) bool {
	return p.Row == row || slices.ContainsFunc(p.Was, func(s Stay) bool { return s.Row == row })
}

// position is that of a record of the target made at a time that takes nothing back.
func (t Target) position(p Place, when time.Time) (pos int, ok bool) {
	if len(t.Vines) > 0 {
		pos = slices.Index(t.Vines, p.ID)
		return max(pos, 0), pos >= 0 && (len(p.Was) > 0 || t.Block == p.Block)
	}
	row, block := p.At(when)
	if t.Row != 0 {
		return 0, t.Row == row && (len(p.Was) > 0 || t.Block == block)
	}
	return 0, t.Block == block
}
