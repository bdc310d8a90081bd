package work

import (
	"github.com/paulmach/orb"

	"courson/geo/vine"
)

// SplitOrder says along which line a block becomes two.
type SplitOrder struct {
	// Line of two points or more across the block, longitude and latitude in degrees;
	// it goes straight on beyond its ends.
	Line []orb.Point `json:"line"`
	Side string      `json:"side"` // compass word of the side of the line that becomes the new block
	Code string      `json:"code"` // of the new block
	Name string      `json:"name"`
}

// JoinOrder says which block is taken into another one, and then is no more.
type JoinOrder struct {
	With   vine.ID `json:"with"`
	Labels string  `json:"labels"` // of its rows: "keep", or "on" for counted on after the last row of the block that stays
}

// Regrouped is what a split or a join comes to.
type Regrouped struct {
	Known bool                `json:"known"` // it is so already; nothing was changed
	Parts []GroundPart        `json:"parts"` // the blocks as they are to be
	Rows  []RegroupedRow      `json:"rows"`  // those that change their block, in their new order
	Vines int                 `json:"vines"` // that change their block
	Carry []CarriedOver       `json:"carry"` // what goes with them
	Words []string            `json:"words"` // what should be known before
	Lines orb.MultiLineString `json:"lines"` // what is left of the line within the block, for drawing
}

// GroundPart is one block of them.
type GroundPart struct {
	Block   vine.ID          `json:"block"` // 0: new
	Code    string           `json:"code"`
	Rows    int              `json:"rows"`
	Vines   int              `json:"vines"`
	AreaM2  float64          `json:"area_m2"`
	Outline []orb.LineString `json:"outline"` // outer rings, closed
}

// RegroupedRow is one row that changes its block, or the part of one that does.
type RegroupedRow struct {
	Row   vine.ID             `json:"row"` // as it was
	Label string              `json:"label"`
	Was   string              `json:"was"`
	Vines int                 `json:"vines"` // that change their block
	Stay  int                 `json:"stay"`  // that do not: the row is cut
	Line  orb.MultiLineString `json:"line"`  // of what goes
}

// CarriedOver is one kind of thing that goes with the vines.
type CarriedOver struct {
	What  string `json:"what"` // orders, lists, plans, overrides, replants, renewals, surveys, standards
	Count int    `json:"count"`
}
