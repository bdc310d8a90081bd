package crew

import (
	"time"

	"courson/geo/vine"
)

// Rule says how the vines of an order were chosen.
type Rule string

// The rules.
const (
	WholeRows   Rule = "whole rows"
	WeakPatches Rule = "rows of weak patches" // whole rows that hold a vine of a weak patch
	Chosen      Rule = "chosen vines"
	YoungVines  Rule = "young vines"
	FollowUps   Rule = "follow-ups due"
	SickVines   Rule = "sick vines"
)

// Piece is a run of vines in one row. All its vines that want the operation are
// meant; positions that do not concern it, such as gaps at pruning, lie within.
type Piece struct {
	Row     vine.ID `json:"row"`
	Label   string  `json:"label"`
	From    int     `json:"from"` // number of the first vine to be done
	To      int     `json:"to"`   // number of the last
	Vines   int     `json:"vines"`
	Minutes float64 `json:"minutes"` // of one person
}

// Instruction is what to leave from one vine of a row to another.
type Instruction struct {
	Row  vine.ID `json:"row"`
	From int     `json:"from"`
	To   int     `json:"to"`
	Text string  `json:"text"`
	Mark string  `json:"mark,omitempty"` // colour of the tape that says so
}

// Mark is something that hangs or is painted in the rows.
type Mark struct {
	Mark    string `json:"mark"`   // tape, paint, rag …
	Colour  string `json:"colour"` //
	Meaning string `json:"meaning"`
	// Since is when it was put there; zero: it is still to be put.
	Since time.Time `json:"since,omitzero"`
}

// Order says which vines get which operation, by whom and when.
type Order struct {
	Operation    string        `json:"operation"`
	Block        vine.ID       `json:"block"`
	Code         string        `json:"code"` // the block's
	Rule         Rule          `json:"rule"`
	Sick         bool          `json:"sick"` // sick vines only, to be done last
	Pieces       []Piece       `json:"pieces"`
	Instructions []Instruction `json:"instructions,omitempty"`
	Crew         string        `json:"crew,omitempty"`
	Day          time.Time     `json:"day,omitzero"`
	Note         string        `json:"note,omitempty"`
	Marks        []Mark        `json:"marks,omitempty"`
}

// Vines is the number of vines to be done.
func (o Order) Vines() (n int) {
	for _, p := range o.Pieces {
		n += p.Vines
	}
	return n
}

// Minutes is what the order takes, of one person.
func (o Order) Minutes() (m float64) {
	for _, p := range o.Pieces {
		m += p.Minutes
	}
	return m
}

// With adds the instructions that fall on the order's pieces, cut to them.
func (o Order) With(list []Instruction) Order {
	o.Instructions = nil
	for _, p := range o.Pieces {
		for _, in := range list {
			if in.Row != p.Row || in.To < p.From || in.From > p.To {
				continue
			}
			in.From, in.To = max(in.From, p.From), min(in.To, p.To)
			o.Instructions = append(o.Instructions, in)
		}
	}
	return o
}
