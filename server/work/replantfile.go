package work

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/replant"
	"courson/geo/vine"
)

// ReplantLine is a place that is a candidate, or on its way to a new plant.
type ReplantLine struct {
	Vine      int // index in the ground
	Candidate *replant.Candidate
	Place     *replant.Place
	Walk      int // which one it is on a walk back and forth through the rows, from 1
}

// Lines gives the candidates and the places on their way, in the order of the
// ground.
func (r *Replants) Lines() []ReplantLine {
	g := r.Stand.Ground
	at := map[int]*ReplantLine{}
	line := func(i int) *ReplantLine {
		if at[i] == nil {
			at[i] = &ReplantLine{Vine: i}
		}
		return at[i]
	}
	for k := range r.Candidates {
		line(r.Candidates[k].Vine).Candidate = &r.Candidates[k]
	}
	for k := range r.Places {
		if i, ok := g.IndexOf(r.Places[k].Vine); ok && r.Places[k].Stage != replant.Withdrawn {
			line(i).Place = &r.Places[k]
		}
	}
	n := 0
	for _, i := range (replant.Walk{BackForth: true}).Order(g) {
		if l := at[i]; l != nil {
			n++
			l.Walk = n
		}
	}
	out := make([]ReplantLine, 0, n)
	for i := range g.Len() {
		if l := at[i]; l != nil {
			out = append(out, *l)
		}
	}
	return out
}

// replantOut is one line of a file of replants.
type replantOut struct {
	r *Replants
	l ReplantLine
}

// replantFields are the columns of such a file, beside the lasting id and the point.
func replantFields() []layerField[replantOut] {
	return []layerField[replantOut]{
		{text("address", "block/row/vine"), func(o replantOut) any { return o.r.Stand.Ground.Address(o.l.Vine).String() }},
		{text("block", "Code of the block"), func(o replantOut) any { return o.r.Block.Code }},
		{text("variety", "Variety of the block"), func(o replantOut) any { return orNothing(o.r.Block.Variety) }},
		{text("clone", "Clone of the block"), func(o replantOut) any { return orNothing(o.r.Block.Clone) }},
		{text("rootstock", "Rootstock of the block"), func(o replantOut) any { return orNothing(o.r.Block.Rootstock) }},
		{whole("season", "Season whose record was judged"), func(o replantOut) any { return o.r.Stand.Season }},
		{whole("walk", "Which one it is on a walk back and forth through the rows"), func(o replantOut) any { return o.l.Walk }},
		{text("stands", "What stands there"), func(o replantOut) any { return o.r.Findings.Verdicts[o.l.Vine].State.String() }},
		{text("look_again", "Day on which a doubtful one is to be looked at again"), ofDoubtful(func(day, _ replant.Day) any { return day.String() })},
		{whole("overdue_days", "Days since that day, where it has passed"), ofDoubtful(func(day, today replant.Day) any {
			if day >= today {
				return nil
			}
			return int(today - day)
		})},
		{text("what", "What to do there"), ofCandidate(func(c *replant.Candidate) any { return c.Action.String() })},
		{text("stage", "How far the place has got"), ofPlace(func(p *replant.Place) any { return p.Stage.String() })},
		{text("since", "Since which day"), ofPlace(func(p *replant.Place) any { return p.Since.String() })},
		{text("batch", "Batch of the nursery"), ofPlace(func(p *replant.Place) any { return orNothing(p.Batch) })},
		{text("grade", "Grade of the plant"), ofPlace(func(p *replant.Place) any { return orNothing(p.Grade) })},
		{text("said", "What each source said last, and what would hold by it alone"), func(o replantOut) any { return orNothing(o.said()) }},
		{text("reason", "Why it was picked"), ofCandidate(func(c *replant.Candidate) any { return c.Text })},
	}
}

func ofCandidate(of func(*replant.Candidate) any) func(replantOut) any {
	return func(o replantOut) any {
		if o.l.Candidate == nil {
			return nil
		}
		return of(o.l.Candidate)
	}
}

// ofDoubtful says something of the day to look again, where there is one.
func ofDoubtful(of func(day, today replant.Day) any) func(replantOut) any {
	return func(o replantOut) any {
		v := o.r.Findings.Verdicts[o.l.Vine]
		if v.State != replant.Doubtful || v.LookAgain == 0 {
			return nil
		}
		return of(v.LookAgain, o.r.Today)
	}
}

// said puts the sources side by side in one cell.
func (o replantOut) said() string {
	var out []string
	for _, s := range o.r.Findings.Said(o.l.Vine) {
		out = append(out, fmt.Sprintf("%s %s: %s", s.Source, s.Day, s.State))
	}
	return strings.Join(out, "; ")
}

func ofPlace(of func(*replant.Place) any) func(replantOut) any {
	return func(o replantOut) any {
		if o.l.Place == nil {
			return nil
		}
		return of(o.l.Place)
	}
}

// WriteReplants writes a line for every candidate and every place on its way.
func WriteReplants(w io.Writer, form Form, blocks []*Replants) error {
	x := &exporter{job: ExportJob{What: ReplantLayer, Form: form, Now: time.Now}, units: unitsFor(false)}
	x.layer = &format.Layer{Name: string(ReplantLayer), Title: "Replants", Shape: format.PointShape, Columns: columnsOf(replantFields(), idColumn())}
	defer x.clear()
	if err := x.open(w); err != nil {
		return err
	}
	for _, r := range blocks {
		if err := x.replantsOf(r); err != nil {
			return err
		}
	}
	return x.out.close()
}

func (x *exporter) replantsOf(r *Replants) error {
	g, fields := r.Stand.Ground, replantFields()
	for _, l := range r.Lines() {
		if err := putAll(x, fields, g.ID[l.Vine], "", replantOut{r, l}, orb.Geometry(pointOf(g, l.Vine))); err != nil {
			return err
		}
	}
	return nil
}

// RowOfVine gives the label and the lasting id of a place's row, and its number.
func (r *Replants) RowOfVine(i int) (label string, row vine.ID, number int) {
	g := r.Stand.Ground
	at := g.Rows[g.Row[i]]
	return strings.TrimSpace(at.Label), at.ID, int(g.Number[i])
}
