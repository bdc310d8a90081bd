package vine

import (
	"time"

	"github.com/google/uuid"
)

// State is what the log says of one vine in one season. The zero State is a
// vine of which nothing is known.
type State struct {
	Season int

	// Carried forward from earlier seasons until something newer is seen.
	Condition Condition
	Cause     string
	SeenAt    time.Time // when the condition was seen; zero if never
	LookAgain time.Time // day of the next look; zero if none
	Planted   int       // season of the present plant's first leaf; 0 unknown

	// Of this season only.
	Measures map[Quantity]Reading
	Pruned   *Pruned // nil: no pruned event stands
	PrunedAt time.Time
	PrunedBy string
	Work     map[string]Progress // operation → how far; a pruned event makes Pruning done
	Notes    int                 // number of notes
	Clashes  []Clash             // disagreements nobody has settled yet
}

// Reading is one measured value of one vine.
type Reading struct {
	Value float64 // in the quantity's base unit
	Scale string
	At    time.Time
}

// Field names a part of a State that two devices can disagree about.
type Field string

// The fields that can clash. Measures clash per quantity ("measure:" + quantity)
// and work per operation ("work:" + operation).
const (
	FieldCondition Field = "condition"
	FieldPruned    Field = "pruned"
)

// Clash is a disagreement: two events of different devices about one field of
// one vine and season, with different values, where the device of the later one
// could not yet know of the earlier one. It stands until an event made after
// both were received says what holds.
//
// Values differ where both cannot be right: another condition (not another
// cause), another planting season of a replant, another number or scale, other
// wood left; but not "pruned" beside a number of nodes, nor "started" before
// "done". Files never clash with each other: a later one corrects an earlier.
type Clash struct {
	Field    Field     `json:"field"`
	Kept     uuid.UUID `json:"kept"`     // the event whose value the State shows
	Disputed uuid.UUID `json:"disputed"` // the other one
}

// Planting is one plant that stood in a position.
type Planting struct {
	From      int    `json:"from"`         // season of its first leaf; 0 unknown
	To        int    `json:"to,omitempty"` // last season it stood; 0: it still stands
	Why       string `json:"why,omitempty"`
	Rootstock string `json:"rootstock,omitempty"`
	Clone     string `json:"clone,omitempty"`
	Batch     string `json:"batch,omitempty"`
	Grade     string `json:"grade,omitempty"`
	// Of a layer: the vine whose cane it is, and the season before whose growth it was
	// cut from her; 0: she still feeds it.
	Mother  ID  `json:"mother,omitempty"`
	Severed int `json:"severed,omitempty"`
}

// Life is the whole fold of one vine: a State for every season that has an
// event, in order, and the plants that stood there.
type Life struct {
	States    []State // ascending seasons that have an event, be it taken back; condition, cause and planted carried forward
	Plantings []Planting
}

// In gives the state in a season: that season's own, or, where nothing was
// recorded in it, the condition and plant carried forward from before.
func (l Life) In(season int, p Place) State {
	s := State{Season: season, Planted: p.Planted}
	for _, st := range l.States {
		if st.Season > season {
			break
		}
		if st.Season == season {
			return st
		}
		s.Condition, s.Cause, s.SeenAt, s.LookAgain, s.Planted = st.Condition, st.Cause, st.SeenAt, st.LookAgain, st.Planted
	}
	return s
}
