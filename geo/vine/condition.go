package vine

import (
	"fmt"
	"time"
)

// Condition says how a vine stands. Its numbers are part of the stand format
// and never change their meaning.
type Condition uint8

// The conditions, in the order of the stand format and the legend.
const (
	Unseen    Condition = 0 // nobody has looked yet
	Bearing   Condition = 1
	Young     Condition = 2 // not yet in full crop
	Weak      Condition = 3
	Diseased  Condition = 4
	Dead      Condition = 5 // the plant stands, dead
	Missing   Condition = 6 // no plant
	Replanted Condition = 7 // a new plant in an old position
	Doubtful  Condition = 8 // look again on a day
)

var conditionWords = [...]string{"unseen", "bearing", "young", "weak", "diseased", "dead", "missing", "replanted", "doubtful"}

// String gives the word on the wire, such as "bearing".
func (c Condition) String() string {
	if int(c) < len(conditionWords) {
		return conditionWords[c]
	}
	return fmt.Sprintf("condition %d", uint8(c))
}

// ParseCondition reads one of the words that String writes.
func ParseCondition(word string) (Condition, error) {
	for i, w := range conditionWords {
		if w == word {
			return Condition(i), nil
		}
	}
	return Unseen, fmt.Errorf("%w: %q is not a condition (known: bearing, young, weak, diseased, dead, missing, replanted, doubtful)", ErrBadEvent, word)
}

// MarshalText writes the word.
func (c Condition) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads the word.
func (c *Condition) UnmarshalText(text []byte) error {
	got, err := ParseCondition(string(text))
	*c = got
	return err
}

// Living tells whether a living plant is taken to stand there. Nothing seen
// yet counts as living: the place was planted.
func (c Condition) Living() bool { return c != Dead && c != Missing }

// Sighting is the body of a condition event.
type Sighting struct {
	Condition Condition  `json:"condition"`
	Cause     string     `json:"cause,omitempty"`      // why, in the observer's words: frost, esca, drought, machine …
	LookAgain *time.Time `json:"look_again,omitempty"` // day of the next look; for doubtful
	Planted   int        `json:"planted,omitempty"`    // replanted: season of the new plant's first leaf; 0 means the event's season
	Rootstock string     `json:"rootstock,omitempty"`  // replanted: of the new plant
	Clone     string     `json:"clone,omitempty"`      // replanted: of the new plant
	Batch     string     `json:"batch,omitempty"`      // replanted: delivery the plant came with
	Confirmed bool       `json:"confirmed,omitempty"`  // said by the person who decides, after a look at this very place
	Grade     string     `json:"grade,omitempty"`      // replanted: the nursery's grade of the plant
	// A layer: the new plant is a cane of this vine, laid into the ground; its roots are
	// its own. Severed says of a living layer that it is cut from its mother, before the
	// growth of the event's season.
	Mother  ID   `json:"mother,omitempty"`
	Severed bool `json:"severed,omitempty"`
}

// Kind is KindCondition.
func (Sighting) Kind() Kind { return KindCondition }

// Check refuses an unseen sighting (nobody can see that), a planting season out of
// reach or without a replanted vine, and layers that cannot be; n is how many vines
// the target lists.
func (s Sighting) Check(n int) error {
	switch {
	case s.Condition == Unseen || int(s.Condition) >= len(conditionWords):
		return fmt.Errorf("%w: condition is missing", ErrBadEvent)
	case s.Planted != 0 && s.Condition != Replanted:
		return fmt.Errorf("%w: planted goes with condition replanted, not %s", ErrBadEvent, s.Condition)
	case s.Planted != 0 && (s.Planted < MinSeason || s.Planted > MaxSeason):
		return fmt.Errorf("%w: planted %d is not a season", ErrBadEvent, s.Planted)
	}
	return s.checkLayer(n)
}

func (s Sighting) checkLayer(n int) error {
	switch {
	case s.Severed && !s.Condition.Living():
		return fmt.Errorf("%w: severed goes with a living vine, not %s", ErrBadEvent, s.Condition)
	case s.Mother == 0:
		return nil
	case s.Mother < 0:
		return fmt.Errorf("%w: mother %d is not a vine", ErrBadEvent, s.Mother)
	case s.Condition != Replanted:
		return fmt.Errorf("%w: mother goes with condition replanted, not %s", ErrBadEvent, s.Condition)
	case n == 0:
		return fmt.Errorf("%w: a layer needs its vine listed, not a whole row", ErrBadEvent)
	case s.Rootstock != "" || s.Batch != "" || s.Grade != "":
		return fmt.Errorf("%w: a layer stands on its own roots and comes with no delivery: no rootstock, batch or grade beside its mother", ErrBadEvent)
	}
	return nil
}

// firstLeaf is the season of a replanted vine's first leaf: as said, else the
// season of the sighting.
func (s Sighting) firstLeaf(season int) int {
	if s.Planted != 0 {
		return s.Planted
	}
	return season
}
