package work

import (
	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/vine"
)

// Regrouped is what a split or a join comes to.
type Regrouped struct {
	Parts []GroundPart        `json:"parts"` // the blocks as they are to be
	Rows  []RegroupedRow      `json:"rows"`  // those that change their block, in their order
	Vines int                 `json:"vines"` // that change their block
	Carry []CarriedOver       `json:"carry"` // what goes with them
	Words []string            `json:"words"` // what should be known before
	Lines orb.MultiLineString `json:"lines"` // the line within the block, for drawing
}

// GroundPart is one block of them.
type GroundPart struct {
	Block   vine.ID          `json:"block"` // 0: new
	Code    string           `json:"code"`
	Rows    int              `json:"rows"`
	Vines   int              `json:"vines"`
	AreaM2  float64          `json:"area_m2"` // 0: without an outline
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

// tell gives a split for people.
func (s *split) tell() *Regrouped {
	out := s.regroup.tell()
	stay := GroundPart{Block: s.from.ID, Code: s.from.Code}
	goes := GroundPart{Block: s.to.ID, Code: s.to.Code}
	for _, r := range s.stored {
		to := s.rows[r.ID]
		all := len(s.vines[r.ID])
		if to == nil {
			stay.Rows, stay.Vines = stay.Rows+1, stay.Vines+all
			continue
		}
		line := r.Line
		if c := s.cuts[r.ID]; c != nil {
			line = c.goes.Line
			stay.Rows, stay.Vines = stay.Rows+1, stay.Vines+all-len(to.vines)
		}
		goes.Rows, goes.Vines = goes.Rows+1, goes.Vines+len(to.vines)
		out.Rows = append(out.Rows, RegroupedRow{Row: r.ID, Label: to.label, Was: r.Label, Vines: len(to.vines), Stay: all - len(to.vines), Line: line})
	}
	stay.measure(s.outline[0])
	goes.measure(s.outline[1])
	out.Parts = []GroundPart{stay, goes}
	out.Lines = linesOf(s.frame, s.cut.Within(s.reach(s.frame.MultiPolygon(s.from.Outline))))
	return out
}

func (g *regroup) tell() *Regrouped {
	out := &Regrouped{Rows: []RegroupedRow{}, Vines: len(g.goes), Carry: g.carry, Words: g.words, Lines: orb.MultiLineString{}}
	if out.Carry == nil {
		out.Carry = []CarriedOver{}
	}
	if out.Words == nil {
		out.Words = []string{}
	}
	return out
}

func (p *GroundPart) measure(outline orb.MultiPolygon) {
	p.AreaM2 = frame.WGS84.MultiPolygonArea(outline)
	p.Outline = outerRings(outline)
}

func outerRings(outline orb.MultiPolygon) []orb.LineString {
	out := []orb.LineString{}
	for _, pg := range outline {
		out = append(out, orb.LineString(pg[0]))
	}
	return out
}
