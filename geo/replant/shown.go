package replant

import (
	"courson/geo/stand"
	"courson/geo/vine"
)

// Season gives the season that a day belongs to by an estate's calendar.
func (d Day) Season(c vine.Calendar) int {
	c.Zone = nil // a day is a day wherever the clocks stand
	return c.Season(d.time())
}

// MovesUpTo gives the steps that were made in a season or before it.
func MovesUpTo(moves []Move, season int, c vine.Calendar) (out []Move) {
	for _, m := range moves {
		if m.Day.Season(c) <= season {
			out = append(out, m)
		}
	}
	return out
}

// Shown is what a map of a season shows of a position: the step of its replacement
// where one is under way, else the kind of gap. What took is told in the season in
// which it did; what was found after a plant took or failed goes before that.
func Shown(v Verdict, p Place, onTheWay bool, season int, c vine.Calendar) stand.Replanting {
	gap := shownGap(v.State)
	if !onTheWay || p.Stage == Withdrawn {
		return gap
	}
	if ended := p.Stage == Took || p.Stage == Failed; ended && gap != stand.ReplantNone && v.Day > p.Since {
		return gap
	}
	if p.Stage == Took && p.Since.Season(c) < season {
		return stand.ReplantNone
	}
	return stand.ReplantToReplace + stand.Replanting(p.Stage)
}

func shownGap(s State) stand.Replanting {
	if s < Suspected || s > Missing {
		return stand.ReplantNone
	}
	return stand.ReplantSuspected + stand.Replanting(s-Suspected)
}
