package crew

import (
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
)

// rowDone gives the day on which a row without anything left came to its end, and
// whose row it is counted as. It came to its end when the last of its living
// vines was done, or skipped where no vine of it was done. It is the crew's that
// did most of its vines; of crews with as many each, that of the last vine. Rows
// are counted once, however many people were in them.
func (w *Work) rowDone(row stand.Row, states []state, crewOf map[string]string, zone *time.Location) (time.Time, string) {
	want := vine.Skipped
	for i := row.First; i < row.First+row.Count; i++ {
		if w.Minutes[i] > 0 && states[i].progress == vine.Done {
			want = vine.Done
		}
	}
	var last time.Time
	of, latest := "", map[string]time.Time{}
	count := map[string]int{}
	for i := row.First; i < row.First+row.Count; i++ {
		st := states[i]
		if w.Minutes[i] <= 0 || st.progress != want {
			continue
		}
		name := crewOf[st.who]
		count[name]++
		if st.when.After(latest[name]) {
			latest[name] = st.when
		}
		if st.when.After(last) {
			last = st.when
		}
	}
	for name, n := range count {
		most, at := count[of], latest[of]
		if n > most || n == most && (latest[name].After(at) || latest[name].Equal(at) && name < of) {
			of = name
		}
	}
	return dayOf(last, zone), of
}
