package replant

import (
	"fmt"
	"slices"

	"courson/geo/vine"
)

// Stage is how far the replacement of one place has come.
type Stage uint8

// The stages.
const (
	ToReplace Stage = iota
	Ordered         // from a nursery, or set aside from stock in hand
	HoleDug
	PlantIn // planted
	Took
	Failed
	Withdrawn // no longer wanted: the vine lives after all, or the block is pulled
)

var stageWords = [...]string{"to replace", "ordered", "hole dug", "planted", "took", "failed", "withdrawn"}

// String gives the word for people.
func (s Stage) String() string {
	return word(stageWords[:], int(s), "stage")
}

// Next lists the stages that can follow: to replace → ordered → hole dug → planted
// → took or failed; a failed one is to be replaced again. Until it is planted a
// place can be withdrawn; a hole dug at a withdrawn place is still to be filled.
func (s Stage) Next() []Stage {
	switch s {
	case ToReplace:
		return []Stage{Ordered, Withdrawn}
	case Ordered:
		return []Stage{HoleDug, Withdrawn}
	case HoleDug:
		return []Stage{PlantIn, Withdrawn}
	case PlantIn:
		return []Stage{Took, Failed}
	case Took, Failed, Withdrawn:
		return []Stage{ToReplace}
	}
	return nil
}

// Move is one step of one place.
type Move struct {
	Vine  vine.ID `json:"vine"`
	To    Stage   `json:"to"`
	Day   Day     `json:"day"`
	By    string  `json:"by"`
	Batch string  `json:"batch,omitempty"` // for Ordered and PlantIn, as are the next two
	Grade string  `json:"grade,omitempty"` // the nursery's
	Sort
	Note string `json:"note,omitempty"`
}

// Place is a place on its way, with all its moves. It begins as ToReplace.
type Place struct {
	Vine  vine.ID `json:"vine"`
	Stage Stage   `json:"stage"`
	Since Day     `json:"since"`
	Batch string  `json:"batch,omitempty"`
	Grade string  `json:"grade,omitempty"`
	Sort          // of the plants ordered or planted
	Moves []Move  `json:"moves,omitempty"`
}

// Go takes one step. The error wraps ErrStep where it cannot follow, lies before
// the last one, or is of another vine; the place then stays as it is.
func (p Place) Go(m Move) (Place, error) {
	switch {
	case m.Vine != p.Vine:
		return p, fmt.Errorf("%w: vine %d: the step is of vine %d", ErrStep, p.Vine, m.Vine)
	case !slices.Contains(p.Stage.Next(), m.To):
		return p, fmt.Errorf("%w: vine %d: from %q to %q; what can follow: %v", ErrStep, p.Vine, p.Stage, m.To, p.Stage.Next())
	case m.Day < p.Since:
		return p, fmt.Errorf("%w: vine %d: %s on %s, but it was %s on %s", ErrStep, p.Vine, m.To, m.Day, p.Stage, p.Since)
	}
	p.Stage, p.Since = m.To, m.Day
	again := m.To == ToReplace
	if m.Batch != "" || again {
		p.Batch = m.Batch
	}
	if m.Grade != "" || again {
		p.Grade = m.Grade
	}
	if m.Sort != (Sort{}) || again {
		p.Sort = m.Sort
	}
	p.Moves = append(slices.Clip(p.Moves), m)
	return p, nil
}

// Last gives the last move to a stage on the present way, that is since the place
// was last put on the list; false where there was none.
func (p Place) Last(to Stage) (Move, bool) {
	for k := len(p.Moves) - 1; k >= 0; k-- {
		if p.Moves[k].To == to {
			return p.Moves[k], true
		}
		if p.Moves[k].To == ToReplace {
			break
		}
	}
	return Move{}, false
}

// Follow takes steps in the order given, of any vines, and gives the places in
// order of their vine and the steps that were refused, each with its reason.
func Follow(moves []Move) ([]Place, []error) {
	at := map[vine.ID]Place{}
	var refused []error
	for _, m := range moves {
		p, known := at[m.Vine]
		if !known {
			p = Place{Vine: m.Vine}
		}
		if !known && m.To == ToReplace {
			p.Since, p.Moves = m.Day, []Move{m}
			at[m.Vine] = p
			continue
		}
		next, err := p.Go(m)
		if err != nil {
			refused = append(refused, err)
			continue
		}
		at[m.Vine] = next
	}
	out := make([]Place, 0, len(at))
	for _, p := range at {
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b Place) int { return int(min(1, max(-1, a.Vine-b.Vine))) })
	return out, refused
}
