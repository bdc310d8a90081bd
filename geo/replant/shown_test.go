package replant

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"courson/geo/stand"
	"courson/geo/vine"
)

// The codes of gaps and steps run side by side with those of the stand.
func TestShown(t *testing.T) {
	cal := vine.Hemisphere(false, nil)
	gaps := map[State]stand.Replanting{Unjudged: 0, Living: 0, Suspected: stand.ReplantSuspected, Doubtful: stand.ReplantDoubtful, DeadStanding: stand.ReplantDead,
		DeadAboveGraft: stand.ReplantAboveGraft, Missing: stand.ReplantMissing}
	for s, want := range gaps {
		assert.Equal(t, want, Shown(Verdict{State: s}, Place{}, false, 2027, cal), s.String())
	}
	steps := map[Stage]stand.Replanting{ToReplace: stand.ReplantToReplace, Ordered: stand.ReplantOrdered, HoleDug: stand.ReplantHoleDug, PlantIn: stand.ReplantPlanted,
		Took: stand.ReplantTook, Failed: stand.ReplantFailed, Withdrawn: stand.ReplantMissing}
	gap := Verdict{State: Missing, Day: jan(3)}
	for s, want := range steps {
		assert.Equal(t, want, Shown(gap, Place{Stage: s, Since: jan(9)}, true, 2027, cal), s.String())
	}
	took := Place{Stage: Took, Since: jan(9)}
	assert.Equal(t, stand.ReplantMissing, Shown(Verdict{State: Missing, Day: jan(20)}, took, true, 2027, cal), "lost after it took")
	assert.Equal(t, stand.ReplantNone, Shown(Verdict{State: Living, Day: jan(9)}, took, true, 2028, cal), "told in its season only")
}

func TestMovesUpTo(t *testing.T) {
	moves := []Move{{Vine: 1, Day: jan(9)}, {Vine: 2, Day: Date(2027, 11, 1)}, {Vine: 3, Day: Date(2027, 10, 31)}}
	got := MovesUpTo(moves, 2027, vine.Hemisphere(false, nil))
	assert.Equal(t, []vine.ID{1, 3}, []vine.ID{got[0].Vine, got[1].Vine}, "November begins the next season in the north")
	assert.Len(t, got, 2)
	assert.Equal(t, 2028, Date(2027, 5, 2).Season(vine.Hemisphere(true, nil)))
}
