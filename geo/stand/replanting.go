package stand

// Replanting says what stands in a place where no living vine is taken to stand,
// or how far its replacement has come; part of the stand format.
type Replanting uint8

// The kinds of gap, then the steps of a replacement. A step under way goes before
// the gap that it fills.
const (
	ReplantNone       Replanting = iota // a living vine, or nothing is known
	ReplantSuspected                    // perhaps a gap: nobody has looked
	ReplantDoubtful                     // look again
	ReplantDead                         // the plant stands, dead
	ReplantAboveGraft                   // dead, but its rootstock lives
	ReplantMissing                      // no plant
	ReplantToReplace
	ReplantOrdered
	ReplantHoleDug
	ReplantPlanted
	ReplantTook
	ReplantFailed
	Replantings = iota
)

// ReplantOf gives what was found of place i; 0 where nothing was. Unlike other
// findings it is told of places without a living vine too.
func (s *Stand) ReplantOf(i int) Replanting {
	if s.Found == nil || s.Found.Replant == nil {
		return ReplantNone
	}
	return s.Found.Replant[i]
}
