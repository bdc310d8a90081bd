package logbook

import (
	"encoding/json"
	"fmt"
	"reflect"
	"time"

	"courson/geo/vine"
)

// Record is one vine's state in one season as the columns of a table. Common
// values have columns of their own, so that a GIS can style by them and a block
// loads fast; the rest stands in Detail as JSON. Together they hold the whole
// state: State gives back what NewRecord was given.
type Record struct {
	Vine, Block vine.ID
	Season      int
	Changed     int64 // block revision at which this record last changed

	Condition vine.Condition
	Cause     string
	SeenAt    time.Time // zero: none, as for all times here
	LookAgain time.Time
	Planted   int

	PruningWeight Measured // g
	CaneCount     Measured
	Score         Measured // visual score, on ScoreScale
	ScoreScale    string
	Yield         Measured // g

	NodesLeft, CanesLeft, SpursLeft *int // totals of the pruned event that stands
	PrunedAt                        time.Time
	PrunedBy                        string
	Progress                        vine.Progress // of pruning
	Notes                           int
	Clashes                         int    // number of them; what they are stands in Detail
	Detail                          []byte // JSON object, nil where there is nothing more
}

// Measured is a value with the time of the look; the zero Measured is none.
type Measured struct {
	Value float64
	At    time.Time
	Known bool
}

// detail is what has no column.
type detail struct {
	Measures map[vine.Quantity]reading `json:"measures,omitempty"`
	Pruned   *vine.Pruned              `json:"pruned,omitempty"`
	Work     map[string]vine.Progress  `json:"work,omitempty"`
	Clashes  []vine.Clash              `json:"clashes,omitempty"`
}

type reading struct {
	Value float64   `json:"value"`
	Scale string    `json:"scale,omitempty"`
	At    time.Time `json:"at"`
}

// NewRecord spreads a state over columns.
func NewRecord(id, block vine.ID, s vine.State) (Record, error) {
	r := Record{
		Vine: id, Block: block, Season: s.Season,
		Condition: s.Condition, Cause: s.Cause, SeenAt: Instant(s.SeenAt), LookAgain: Instant(s.LookAgain), Planted: s.Planted,
		PrunedAt: Instant(s.PrunedAt), PrunedBy: s.PrunedBy, Notes: s.Notes, Clashes: len(s.Clashes),
	}
	d := detail{Clashes: s.Clashes}
	for q, m := range s.Measures {
		if !r.takeMeasure(q, m) {
			if d.Measures == nil {
				d.Measures = map[vine.Quantity]reading{}
			}
			d.Measures[q] = reading{m.Value, m.Scale, Instant(m.At)}
		}
	}
	d.Pruned = r.takePruned(s.Pruned)
	for op, p := range s.Work {
		if op == vine.Pruning && p != vine.NotStarted {
			r.Progress = p
			continue
		}
		if d.Work == nil {
			d.Work = map[string]vine.Progress{}
		}
		d.Work[op] = p
	}
	if len(d.Measures) == 0 && d.Pruned == nil && len(d.Work) == 0 && len(d.Clashes) == 0 {
		return r, nil
	}
	text, err := json.Marshal(d)
	if err != nil {
		return Record{}, fmt.Errorf("state of vine %d in %d: %w", id, s.Season, err)
	}
	r.Detail = text
	return r, nil
}

// takeMeasure puts a reading into its column; false where it has none.
func (r *Record) takeMeasure(q vine.Quantity, m vine.Reading) bool {
	col := Measured{m.Value, Instant(m.At), true}
	switch {
	case q == vine.VisualScore:
		r.Score, r.ScoreScale = col, m.Scale
	case m.Scale != "":
		return false
	case q == vine.PruningWeight:
		r.PruningWeight = col
	case q == vine.CaneCount:
		r.CaneCount = col
	case q == vine.Yield:
		r.Yield = col
	default:
		return false
	}
	return true
}

// takePruned puts the totals into their columns and gives what they do not
// hold: arms, a reason, or that a pruned event without any total stands.
func (r *Record) takePruned(p *vine.Pruned) *vine.Pruned {
	if p == nil {
		return nil
	}
	if nodes, canes, spurs, ok := p.Totals(); ok {
		arms := len(p.Arms) > 0
		if arms || p.Nodes != nil {
			r.NodesLeft = &nodes
		}
		if arms || p.Canes != nil {
			r.CanesLeft = &canes
		}
		if arms || p.Spurs != nil {
			r.SpursLeft = &spurs
		}
	}
	if r.NodesLeft != nil && len(p.Arms) == 0 && p.Reason == "" {
		return nil
	}
	return p
}

// State puts the columns together again.
func (r Record) State() (vine.State, error) {
	s := vine.State{
		Season:    r.Season,
		Condition: r.Condition, Cause: r.Cause, SeenAt: r.SeenAt, LookAgain: r.LookAgain, Planted: r.Planted,
		PrunedAt: r.PrunedAt, PrunedBy: r.PrunedBy, Notes: r.Notes,
	}
	var d detail
	if len(r.Detail) > 0 {
		if err := json.Unmarshal(r.Detail, &d); err != nil {
			return vine.State{}, fmt.Errorf("state of vine %d in %d: detail: %w", r.Vine, r.Season, err)
		}
	}
	s.Measures = r.measures(d)
	s.Pruned, s.Clashes = d.Pruned, d.Clashes
	if s.Pruned == nil && r.NodesLeft != nil {
		s.Pruned = &vine.Pruned{Nodes: r.NodesLeft, Canes: r.CanesLeft, Spurs: r.SpursLeft}
	}
	s.Work = d.Work
	if r.Progress != vine.NotStarted {
		if s.Work == nil {
			s.Work = make(map[string]vine.Progress, 1)
		}
		s.Work[vine.Pruning] = r.Progress
	}
	return s, nil
}

func (r Record) measures(d detail) map[vine.Quantity]vine.Reading {
	var out map[vine.Quantity]vine.Reading
	put := func(q vine.Quantity, m vine.Reading) {
		if out == nil {
			out = make(map[vine.Quantity]vine.Reading, 2)
		}
		out[q] = m
	}
	for _, c := range []struct {
		quantity vine.Quantity
		from     Measured
		scale    string
	}{
		{vine.PruningWeight, r.PruningWeight, ""},
		{vine.CaneCount, r.CaneCount, ""},
		{vine.VisualScore, r.Score, r.ScoreScale},
		{vine.Yield, r.Yield, ""},
	} {
		if c.from.Known {
			put(c.quantity, vine.Reading{Value: c.from.Value, Scale: c.scale, At: c.from.At})
		}
	}
	for q, m := range d.Measures {
		put(q, vine.Reading{Value: m.Value, Scale: m.Scale, At: m.At})
	}
	return out
}

// Same tells whether two records say the same; when they changed counts not. A
// database may have written the JSON of Detail in its own way.
func (r Record) Same(o Record) bool {
	r.Changed, o.Changed = 0, 0
	a, b := r.Detail, o.Detail
	r.Detail, o.Detail = nil, nil
	if !reflect.DeepEqual(r, o) {
		return false
	}
	if string(a) == string(b) {
		return true
	}
	var da, db detail
	if len(a) > 0 && json.Unmarshal(a, &da) != nil || len(b) > 0 && json.Unmarshal(b, &db) != nil {
		return false
	}
	return reflect.DeepEqual(da, db)
}

// Carried gives what of the record holds in a later season: condition, cause
// and plant. Measures, work and what was left are of the record's own season.
func (r Record) Carried(season int) Record {
	return Record{Vine: r.Vine, Block: r.Block, Season: season, Changed: r.Changed,
		Condition: r.Condition, Cause: r.Cause, SeenAt: r.SeenAt, LookAgain: r.LookAgain, Planted: r.Planted}
}
