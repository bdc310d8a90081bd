package replant

import (
	"fmt"
	"slices"

	"courson/geo/vine"
)

// Counted is what three counts say of the places of a block: the survey of what
// to replace, the holes that diggers counted, the plants that planters counted. A
// vine may come twice: that is told.
type Counted struct {
	Survey  []vine.ID
	Holes   []vine.ID
	Planted []vine.ID
	// Living are places where a living vine is taken to stand; digging there is
	// told first. May be nil.
	Living []vine.ID
}

// Mismatch is a vine on which the counts do not agree.
type Mismatch struct {
	Vine    vine.ID `json:"vine"`
	Survey  bool    `json:"survey"`
	Hole    bool    `json:"hole"`
	Planted bool    `json:"planted"`
	Text    string  `json:"text"`
}

// Settled is the three counts side by side.
type Settled struct {
	Survey, Holes, Planted int        // different vines in each
	Agreed                 int        // vines in all three
	Mismatches             []Mismatch // by vine
}

const (
	inSurvey = 1 << iota
	inHoles
	inPlanted
	inLiving
	twice
)

// Reconcile holds the counts together, vine by vine.
func Reconcile(c Counted) Settled {
	at := map[vine.ID]int{}
	mark := func(list []vine.ID, bit int) (n int) {
		seen := make(map[vine.ID]bool, len(list))
		for _, id := range list {
			if seen[id] {
				at[id] |= twice
				continue
			}
			seen[id] = true
			at[id] |= bit
			n++
		}
		return n
	}
	mark(c.Living, inLiving)
	s := Settled{Survey: mark(c.Survey, inSurvey), Holes: mark(c.Holes, inHoles), Planted: mark(c.Planted, inPlanted)}
	for id, bits := range at {
		text := disagree(bits)
		if bits&(inSurvey|inHoles|inPlanted) == inSurvey|inHoles|inPlanted {
			s.Agreed++
		}
		if text != "" {
			s.Mismatches = append(s.Mismatches, Mismatch{id, bits&inSurvey != 0, bits&inHoles != 0, bits&inPlanted != 0, text})
		}
	}
	slices.SortFunc(s.Mismatches, func(a, b Mismatch) int { return int(min(1, max(-1, a.Vine-b.Vine))) })
	return s
}

func disagree(bits int) string {
	survey, hole, planted := bits&inSurvey != 0, bits&inHoles != 0, bits&inPlanted != 0
	text := ""
	switch {
	case bits&inLiving != 0 && (survey || hole || planted):
		text = "a living vine is taken to stand here: look before anything is dug"
	case survey && !hole && !planted:
		text = "to replace, but no hole was dug"
	case survey && hole && !planted:
		text = "hole dug, not planted: an open hole; mark or fill it"
	case survey && !hole && planted:
		text = "planted, but no hole was counted"
	case !survey && hole && planted:
		text = "dug and planted, but not on the survey"
	case !survey && hole:
		text = "a hole that the survey does not ask for: an open hole; mark or fill it"
	case !survey && planted:
		text = "planted, but neither on the survey nor dug"
	}
	if bits&twice != 0 {
		if text != "" {
			text += "; "
		}
		text += "counted twice in one list"
	}
	return text
}

// String puts the three counts in one line.
func (s Settled) String() string {
	return fmt.Sprintf("survey %d, holes %d, planted %d; %d agree in all three, %s to settle", s.Survey, s.Holes, s.Planted, s.Agreed, count(len(s.Mismatches), "vine"))
}
