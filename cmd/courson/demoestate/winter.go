package demoestate

import (
	"time"

	"courson/geo/vine"
)

// day gives a day of winter w: 0 is leaf fall, the 20th of May of the year
// before the harvest.
func (l *logbook) day(w, n int) time.Time {
	return time.Date(seasonAt(w)-1, time.May, 20+n, 9, 0, 0, 0, l.zone)
}

// Days of a winter: the survey walk comes first, then pruning through June to
// August. The present winter has come to day today.
const (
	surveyDay   = 1
	sampleDay   = 8 // a sample is pruned and weighed early, so that loads can be planned
	pruningFrom = 14
	pruningTo   = 88
	today       = 49
)

// live records three winters of a block: the n-th of so many blocks in the
// order of pruning.
func (m *maker) live(rows []rowOf, n, of int) {
	for w := range 3 {
		for i, r := range rows {
			walk := m.log.day(w, surveyDay+n%8).Add(time.Duration(i) * 4 * time.Minute)
			m.log.survey(r, w, walk)
			m.log.scores(r, w, walk)
			m.log.weights(r, w, walk.AddDate(0, 0, sampleDay-surveyDay))
			m.winterWork(r, w, i, len(rows), n, of)
		}
		m.remarks(rows, w, n)
	}
}

// order in which the home farm's blocks are pruned: hardy and old ones first,
// young and weak ones last (common practice where frost threatens).
var pruningOrder = [...]int{3, 5, 13, 9, 2, 0, 6, 10, 7, 12, 4, 1, 11, 8}

// people gives who prunes a row: each crew has its own.
func people(crew, row int) string {
	return [2][]string{
		{"North: Ana", "North: Leo", "North: Mia", "North: Tom", "North: Eva"},
		{"South: Bea", "South: Juan", "South: Rosa", "South: Paul"},
	}[crew][row%(5-crew)]
}

// winterWork prunes one row of the block on its day and weighs its sample.
func (m *maker) winterWork(r rowOf, w, row, rows, n, of int) {
	turn := (float64(pruningOrder[n%len(pruningOrder)]) + float64(row)/float64(rows)) / float64(min(of, len(pruningOrder)))
	on := pruningFrom + turn*(pruningTo-pruningFrom)
	share := 1.0
	if w == 2 {
		share = min(1, max(0, (today-on)*2))
	}
	if share == 0 {
		return
	}
	// A person does one row before noon and one after it.
	day := m.log.day(w, int(on)).Add(time.Duration(row/(5-n%2)%2)*265*time.Minute - 90*time.Minute)
	m.log.pruned(r, w, day, share, people(n%2, row), func(i int) int { return planned(r, i, w) })
	if w == 2 {
		m.rowsDone++
	}
}

// remarks adds a few notes, a row to be redone and a disagreement to the
// present winter, as a real one has them.
func (m *maker) remarks(rows []rowOf, w, n int) {
	if w != 2 || len(rows) < 12 {
		return
	}
	l := m.log
	if n%3 == 0 {
		r := rows[4]
		l.add("phone of leader", "crew leader", l.day(w, 20), seasonAt(w), vine.Target{Block: r.block, Row: r.row},
			vine.Note{Text: "end post loose at the far end"})
	}
	v := rows[7].vines[len(rows[7].vines)/2]
	if n%4 == 1 {
		l.add("phone of leader", "crew leader", l.day(w, 48), seasonAt(w), rows[7].some([]vine.ID{v}),
			vine.Note{Text: "low shoot kept on purpose: next winter's spur"})
	}
	if n == 3 || n == 5 {
		redo := rows[2].vines[3:9]
		l.add("phone of leader", "crew leader", l.day(w, 47), seasonAt(w), rows[2].some(redo),
			vine.Work{Operation: vine.Pruning, Progress: vine.ToRedo})
	}
	if n == 13 {
		m.disagree(rows[9], w)
	}
}

// disagree records a vine that one phone calls dead and another, out of signal
// at the same hour, weak.
func (m *maker) disagree(r rowOf, w int) {
	at := m.log.day(w, 46)
	t := r.some([]vine.ID{r.vines[11]})
	m.log.add("phone of crew North", "crew North", at, seasonAt(w), t, vine.Sighting{Condition: vine.Dead, Cause: "no green wood"})
	m.log.add("phone of crew South", "crew South", at.Add(3*time.Minute), seasonAt(w), t, vine.Sighting{Condition: vine.Weak})
}
