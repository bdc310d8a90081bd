package replant

import (
	"fmt"
	"slices"

	"courson/geo/stand"
)

// Life is what the owner expects of a block's life.
type Life struct {
	// PullSeason is the season before whose growth the block is to be pulled; 0
	// not decided.
	PullSeason int `json:"pull_season"`
	// Leaves is how many leaves a block is kept. Default 30 (common practice; some
	// are kept far longer).
	Leaves int `json:"leaves"`
	// AskFromLeaf is the age from which to ask whether the remaining life pays a
	// replant back: 15 (15 to 18 years; La Vigne no. 248, 2012).
	AskFromLeaf int `json:"ask_from_leaf"`
	// LastLeaf is the age after which blocks are no longer filled: 25 (a Charente
	// grower; Le Paysan Vigneron, 2009).
	LastLeaf int `json:"last_leaf"`
	// LeastYears is the life that should lie ahead: 10 (the same).
	LeastYears int `json:"least_years"`
}

// DefaultLife gives the defaults.
func DefaultLife() Life {
	return Life{Leaves: 30, AskFromLeaf: 15, LastLeaf: 25, LeastYears: 10}
}

// Outlook is a block's age and what lies ahead of it.
type Outlook struct {
	Season int `json:"season"`
	// MedianLeaf of the living plants of known age; 0 none.
	MedianLeaf int `json:"median_leaf"`
	// ByLeaf counts living plants by leaf: entry k in leaf k, the last entry that
	// leaf and older; entry 0 of unknown age.
	ByLeaf    [oldLeaf + 1]int `json:"by_leaf"`
	Living    int              `json:"living"`
	Remaining int              `json:"remaining_years"` // 0 also where not known; see Notes
	Notes     []string         `json:"notes"`
}

const oldLeaf = 10

// BlockOutlook works out the age of a block's plants, each by its own leaf, and
// the years left by the plan to pull it or else by its usual life. The error wraps
// ErrSettings.
func BlockOutlook(s *stand.Stand, l Life) (Outlook, error) {
	if l.Leaves < 1 || l.AskFromLeaf < 1 || l.LastLeaf < l.AskFromLeaf || l.LeastYears < 0 {
		return Outlook{}, wrong(ErrSettings, "life of the block", l, "leaves from 1 up, last_leaf not below ask_from_leaf")
	}
	o := Outlook{Season: s.Season}
	var leaves []int
	for i, c := range s.Condition {
		if !c.Living() {
			continue
		}
		o.Living++
		leaf := int(s.Leaf[i])
		o.ByLeaf[min(leaf, oldLeaf)]++
		if leaf > 0 {
			leaves = append(leaves, leaf)
		}
	}
	if len(leaves) > 0 {
		slices.Sort(leaves)
		o.MedianLeaf = leaves[len(leaves)/2]
	}
	o.ahead(l)
	return o, nil
}

func (o *Outlook) ahead(l Life) {
	say := func(format string, args ...any) { o.Notes = append(o.Notes, fmt.Sprintf(format, args...)) }
	switch {
	case l.PullSeason > 0:
		o.Remaining = max(0, l.PullSeason-o.Season)
		say("To be pulled before season %d: %s left.", l.PullSeason, count(o.Remaining, "season"))
	case o.MedianLeaf > 0:
		o.Remaining = max(0, l.Leaves-o.MedianLeaf+1)
		say("Median leaf %d of %d: about %s left.", o.MedianLeaf, l.Leaves, count(o.Remaining, "season"))
	default:
		say("The age of its plants is not known, so the years left are not either: set when it is to be pulled.")
		return
	}
	if o.MedianLeaf > l.LastLeaf {
		say("Past leaf %d blocks are usually no longer filled (%s).", l.LastLeaf, srcCharente)
	} else if o.MedianLeaf >= l.AskFromLeaf {
		say("From leaf %d on ask whether the remaining life pays a replant back; neighbours shade it and compete (%s).", l.AskFromLeaf, srcCost)
	}
	if o.Remaining < l.LeastYears {
		say("Fewer than %d years ahead: a replant hardly comes to pay (%s).", l.LeastYears, srcCharente)
	}
	if n := o.ByLeaf[0]; n > 0 {
		say("%s of unknown age.", count(n, "living plant"))
	}
}
