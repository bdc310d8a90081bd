package crew

import (
	"fmt"

	"courson/geo/vine"
)

// Names of the usual operations, as they stand in the log.
const (
	PrePruning    = "pre-pruning"
	Pruning       = vine.Pruning
	PullingBrush  = "pulling brush"
	Tying         = "tying"
	ShootThinning = vine.ShootThinning
	Checking      = "checking"
	Replanting    = "replanting"
)

// Operation is a kind of work that a crew does in the rows. An estate keeps its
// own list; Operations gives one to begin with.
type Operation struct {
	Name    string  `json:"name"` // as in the log; 1 to 60 characters
	Minutes Minutes `json:"minutes"`
	Source  string  `json:"source"` // where the minutes are from
	Skill   Skill   `json:"skill"`
	// After is the operation that must be done on a vine first; empty: none.
	After string `json:"after,omitempty"`
	On    On     `json:"on"`
	// SickLast: diseased vines are done last, as an order of their own, because
	// the tool carries sap from vine to vine.
	SickLast bool `json:"sick_last,omitempty"`
	// ByVigour: strong vines take longer; see VigourFactor.
	ByVigour bool `json:"by_vigour,omitempty"`
	// NodeShare is the part of the minutes that grows with the nodes planned, 0
	// to 1.
	NodeShare float64 `json:"node_share,omitempty"`
	// Saves is what an operation that went before takes off.
	Saves Saving `json:"saves,omitzero"`
}

// Minutes are one person's minutes for one vine; 0: not done on such vines.
type Minutes struct {
	Cane  float64 `json:"cane"`  // cane-pruned
	Spur  float64 `json:"spur"`  // spur-pruned
	Young float64 `json:"young"` // not yet in full crop, whatever the system
}

// Saving is the share of the minutes, 0 to 1, that falls away on vines where
// another operation went before.
type Saving struct {
	By    string  `json:"by,omitempty"` // the other operation
	Cane  float64 `json:"cane,omitempty"`
	Spur  float64 `json:"spur,omitempty"`
	Young float64 `json:"young,omitempty"`
}

// of gives the entry for a form and class.
func (m Minutes) of(f Form, c Class) float64 { return pick(m.Cane, m.Spur, m.Young, f, c) }

func (s Saving) of(f Form, c Class) float64 { return pick(s.Cane, s.Spur, s.Young, f, c) }

func pick(cane, spur, young float64, f Form, c Class) float64 {
	switch {
	case c == ClassYoung:
		return young
	case f == Spur:
		return spur
	}
	return cane
}

// Skill says whose hands an operation wants.
type Skill uint8

// Whose hands.
const (
	Anyone         Skill = 0
	SkilledForFew  Skill = 1 // skilled hands where many vines are young or weak
	SkilledForEach Skill = 2 // skilled hands everywhere
)

// On says which positions an operation is done on.
type On uint8

// Which positions.
const (
	OnVines     On = 0 // living vines
	OnGaps      On = 1 // positions without a living vine
	OnPositions On = 2 // all
)

// reaches tells whether an operation has anything to do at a position.
func (o On) reaches(c vine.Condition) bool {
	switch o {
	case OnVines:
		return c.Living()
	case OnGaps:
		return !c.Living()
	}
	return true
}

// Reaches tells whether the operation has anything to do at a position.
func (o Operation) Reaches(c vine.Condition) bool { return o.On.reaches(c) }

// Check refuses nonsense. The error wraps ErrOperation.
func (o Operation) Check() error {
	at := func(field string) string { return fmt.Sprintf("operation %q, %s", o.Name, field) }
	if o.Name == "" || len(o.Name) > 60 {
		return wrong(ErrOperation, "name", fmt.Sprintf("%q", o.Name), "1 to 60 characters")
	}
	for _, f := range []struct {
		field string
		v, to float64
	}{
		{"minutes on cane-pruned vines", o.Minutes.Cane, mostMinutes}, {"minutes on spur-pruned vines", o.Minutes.Spur, mostMinutes},
		{"minutes on young vines", o.Minutes.Young, mostMinutes}, {"share that grows with the nodes", o.NodeShare, 1},
		{"saving on cane-pruned vines", o.Saves.Cane, mostSaving}, {"saving on spur-pruned vines", o.Saves.Spur, mostSaving},
		{"saving on young vines", o.Saves.Young, mostSaving},
	} {
		if !(f.v >= 0 && f.v <= f.to) {
			return wrong(ErrOperation, at(f.field), f.v, fmt.Sprintf("0 to %g", f.to))
		}
	}
	switch {
	case o.Minutes == Minutes{}:
		return wrong(ErrOperation, at("minutes"), "none", "minutes for one kind of vine at least")
	case o.Skill > SkilledForEach:
		return wrong(ErrOperation, at("skill"), o.Skill, "0 to 2")
	case o.On > OnPositions:
		return wrong(ErrOperation, at("on"), o.On, "0 to 2")
	case o.After == o.Name:
		return wrong(ErrOperation, at("after"), o.After, "another operation")
	}
	return nil
}

// Limits that tell a slip from a figure; chosen by us.
const (
	mostMinutes = 240
	mostSaving  = 0.95
)
