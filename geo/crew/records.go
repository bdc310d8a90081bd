package crew

import (
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
)

// RecordsOf turns the log of a block into records of work at one operation in the
// stand's season, ready for Table.Learn: each event that made vines done, with as
// many as it newly made so, under the class that most of them have. Events that
// were taken back for a vine do not count for it. crewOf names the crew of a
// person; saved says that the operation that saves work went over the block.
func RecordsOf(s *stand.Stand, events []vine.Event, system System, operation Operation, crewOf map[string]string, saved bool) (out []Record) {
	eachTurn(s, events, operation.Name, vine.Done, func(e vine.Event, newly []int) {
		var count [ClassYoung + 1]int
		n, most := 0, ClassUnknown
		for _, i := range newly {
			if !operation.On.reaches(s.Condition[i]) {
				continue
			}
			c := ClassOf(s, i)
			n++
			count[c]++
			if count[c] > count[most] {
				most = c
			}
		}
		if n > 0 {
			out = append(out, Record{Who: e.By, Crew: crewOf[e.By], When: timeOf(e), Operation: operation.Name, System: system, Class: most, Vines: n, Saved: saved})
		}
	})
	return out
}

// DoneOn lists the vines that were done on a day and still are, row by row: what
// a check list is drawn from. zone is where days begin; nil: UTC.
func DoneOn(s *stand.Stand, events []vine.Event, operation string, day time.Time, zone *time.Location) (out []DoneVine) {
	if zone == nil {
		zone = time.UTC
	}
	for i, st := range lastWord(s, events, operation) {
		if st.progress == vine.Done && sameDay(st.when.In(zone), day) {
			row := s.Ground.Rows[s.Ground.Row[i]]
			out = append(out, DoneVine{Vine: s.Ground.ID[i], Row: row.ID, Label: row.Label, Number: int(s.Ground.Number[i]), Who: st.who})
		}
	}
	return out
}

// SeenOf lists who was at which vine at an operation by the log of the stand's
// season, ready for Clashes. Events that were taken back are in it too: whoever
// made them was there.
func SeenOf(s *stand.Stand, events []vine.Event, operation string) (out []Seen) {
	for _, e := range inTime(events) {
		if _, ok := progressOf(e, operation); !ok || e.Season != s.Season {
			continue
		}
		each(s.Ground, e.Target, func(i int) {
			out = append(out, Seen{Who: e.By, Row: s.Ground.Rows[s.Ground.Row[i]].ID, Number: int(s.Ground.Number[i]), When: timeOf(e), Operation: operation})
		})
	}
	return out
}
