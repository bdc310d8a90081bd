package crew

import (
	"bytes"
	"cmp"
	"slices"
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
)

// RowProgress is how far an operation is in one row.
type RowProgress struct {
	Row     vine.ID `json:"row"`
	Label   string  `json:"label"`
	Vines   int     `json:"vines"` // positions that the operation reaches
	Done    int     `json:"done"`
	Skipped int     `json:"skipped"`
	Left    int     `json:"left"` // neither done nor skipped
	// Day and Crew say when a row without anything left came to its end, and whose
	// it is counted as; see rowDone. Zero while something is left.
	Day  time.Time `json:"day,omitzero"`
	Crew string    `json:"crew,omitempty"`
}

// DayProgress is what a crew did on a day.
type DayProgress struct {
	Day     time.Time `json:"day"` // its beginning, where the estate's clocks stand
	Crew    string    `json:"crew"`
	Vines   int       `json:"vines"`   // done, and not taken up again since
	Minutes float64   `json:"minutes"` // of work at the table's rates
}

// Progress is how far an operation is in a block.
type Progress struct {
	Rows  []RowProgress `json:"rows"`
	Block RowProgress   `json:"block"` // sum; row 0, label the block's code
	Days  []DayProgress `json:"days"`  // by day, then crew
	Left  []bool        `json:"-"`     // of each vine: the operation reaches it, and it is neither done nor skipped
}

// ProgressOf counts what the log says of an operation in the stand's season. A
// vine is done where vine.Fold says so, on the day and by the crew of the event
// that made it so; vines done twice count once, for the first. crewOf names the crew of a
// person; one that it does not know is counted under "". Minutes come from work
// weighed as if nothing were done; nil: they stay 0. Events may come in any order.
func ProgressOf(s *stand.Stand, events []vine.Event, system System, operation string, t *Table, crewOf map[string]string, zone *time.Location) (Progress, error) {
	w, err := Weigh(Job{Stand: s, System: system, Table: t, Operation: operation, Progress: make([]vine.Progress, s.Ground.Len())})
	if err != nil {
		return Progress{}, err
	}
	states := lastWord(s, events, operation)
	zone = cmp.Or(zone, time.UTC)
	p := Progress{Block: RowProgress{Label: s.Ground.Code}, Left: make([]bool, s.Ground.Len())}
	for _, row := range s.Ground.Rows {
		rp := RowProgress{Row: row.ID, Label: row.Label}
		for i := row.First; i < row.First+row.Count; i++ {
			if w.Minutes[i] > 0 {
				p.Left[i] = rp.count(states[i].progress)
			}
		}
		if rp.Vines > 0 && rp.Left == 0 {
			rp.Day, rp.Crew = w.rowDone(row, states, crewOf, zone)
		}
		p.Rows = append(p.Rows, rp)
		p.Block.Vines, p.Block.Done = p.Block.Vines+rp.Vines, p.Block.Done+rp.Done
		p.Block.Skipped, p.Block.Left = p.Block.Skipped+rp.Skipped, p.Block.Left+rp.Left
	}
	p.Days = w.daysOf(states, crewOf, zone)
	return p, nil
}

// count takes up one vine, and tells whether it is left.
func (r *RowProgress) count(p vine.Progress) (left bool) {
	r.Vines++
	switch p {
	case vine.Done:
		r.Done++
	case vine.Skipped:
		r.Skipped++
	default:
		r.Left++
		return true
	}
	return false
}

// daysOf gathers the vines that are done by day and crew.
func (w *Work) daysOf(states []state, crewOf map[string]string, zone *time.Location) (out []DayProgress) {
	at := map[DayProgress]int{}
	for i, st := range states {
		if st.progress != vine.Done || w.Minutes[i] <= 0 {
			continue
		}
		key := DayProgress{Day: dayOf(st.when, zone), Crew: crewOf[st.who]}
		k, ok := at[key]
		if !ok {
			k = len(out)
			at[key] = k
			out = append(out, key)
		}
		out[k].Vines++
		out[k].Minutes += w.Minutes[i]
	}
	slices.SortFunc(out, func(a, b DayProgress) int { return cmp.Or(a.Day.Compare(b.Day), cmp.Compare(a.Crew, b.Crew)) })
	return out
}

// dayOf is the beginning of the day that an instant falls into.
func dayOf(at time.Time, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone)
}

// state is what the log says of one vine and one operation.
type state struct {
	progress vine.Progress
	when     time.Time
	who      string
}

// lastWord takes the progress from the fold, and who made it so from the events
// in their order: the first that said done since anything else was said.
func lastWord(s *stand.Stand, events []vine.Event, operation string) []state {
	g := s.Ground
	states := make([]state, g.Len())
	places := make([]vine.Place, g.Len())
	for i := range places {
		places[i] = vine.Place{ID: g.ID[i], Row: g.Rows[g.Row[i]].ID, Block: g.Block}
	}
	vine.FoldMany(places, events, func(i int, life vine.Life) {
		states[i].progress = life.In(s.Season, places[i]).Work[operation]
	})
	for _, to := range []vine.Progress{vine.Done, vine.Skipped} {
		eachTurn(s, events, operation, to, func(e vine.Event, newly []int) {
			for _, i := range newly {
				if states[i].progress == to {
					states[i].when, states[i].who = timeOf(e), e.By
				}
			}
		})
	}
	return states
}

// eachTurn goes through the events of the stand's season in their order and gives
// each that brings vines to a progress, with those that were not there before it.
func eachTurn(s *stand.Stand, events []vine.Event, operation string, to vine.Progress, do func(e vine.Event, newly []int)) {
	taken := takenBack(s.Ground, events)
	there := make([]bool, s.Ground.Len())
	for _, e := range inTime(events) {
		said, ok := progressOf(e, operation)
		if !ok || e.Season != s.Season {
			continue
		}
		var newly []int
		each(s.Ground, e.Target, func(i int) {
			if taken[void{e.ID, i}] {
				return
			}
			if said == to && !there[i] {
				newly = append(newly, i)
			}
			there[i] = said == to
		})
		if len(newly) > 0 {
			do(e, newly)
		}
	}
}

func inTime(events []vine.Event) []vine.Event {
	events = slices.Clone(events)
	slices.SortStableFunc(events, func(a, b vine.Event) int {
		return cmp.Or(timeOf(a).Compare(timeOf(b)), cmp.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq), bytes.Compare(a.ID[:], b.ID[:]))
	})
	return events
}

// void is an event that was taken back for a vine.
type void struct {
	event [16]byte
	vine  int
}

func takenBack(g *stand.Ground, events []vine.Event) map[void]bool {
	taken := map[void]bool{}
	for _, e := range events {
		if v, ok := e.Body.(vine.Void); ok {
			each(g, e.Target, func(i int) { taken[void{v.Event, i}] = true })
		}
	}
	return taken
}

// progressOf gives what an event says of an operation; a pruned event says that
// pruning is done.
func progressOf(e vine.Event, operation string) (vine.Progress, bool) {
	switch body := e.Body.(type) {
	case vine.Work:
		return body.Progress, body.Operation == operation
	case vine.Pruned:
		return vine.Done, operation == vine.Pruning
	}
	return 0, false
}

func timeOf(e vine.Event) time.Time {
	if !e.When.IsZero() {
		return e.When
	}
	return e.At
}

// each calls do for the vines of a target that stand in the ground.
func each(g *stand.Ground, t vine.Target, do func(i int)) {
	if t.Block != g.Block {
		return
	}
	if len(t.Vines) > 0 {
		for _, id := range t.Vines {
			if i, ok := g.IndexOf(id); ok {
				do(i)
			}
		}
		return
	}
	for _, row := range g.Rows {
		if t.Row != 0 && t.Row != row.ID {
			continue
		}
		for i := row.First; i < row.First+row.Count; i++ {
			do(i)
		}
	}
}
