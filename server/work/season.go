package work

import (
	"fmt"
	"slices"
	"time"

	"courson/geo/format"
	"courson/geo/format/csv"
)

// hasRecords tells whether the files say anything that belongs to a season.
func (t *vineTable) hasRecords() bool {
	return len(t.measures) > 0 || t.cond.some() || t.nodes.some() || t.canes.some() || t.spurs.some() || t.pruned.some() ||
		t.left[0].some() || t.left[1].some() || t.left[2].some() || t.progress.some() || t.note.some()
}

// settleSeason finds the season of the records: as stated, as the files name
// it, or the one in which all pruning days lie. It refuses days that belong to
// another season, and seasons before a block was planted.
func (m *merge) settleSeason(tasks []*task) error {
	m.season = m.job.Season
	if len(m.seasons) > 1 {
		m.twoSeasons()
		return nil
	}
	for s := range m.seasons {
		m.season = s
	}
	if !m.vines.hasRecords() {
		return nil
	}
	nowhere := where{file: -1, feature: format.None}
	if m.season == 0 {
		m.season = m.seasonOfDays()
	}
	if m.season == 0 && !m.job.Date.IsZero() {
		m.season = m.cal.Season(m.job.Date)
	}
	if m.problems > 0 {
		return nil
	}
	if m.season == 0 {
		m.ask(nowhere, format.Question{Option: "season"}, string(csv.Season), "the files hold records, but not of which season", "nothing", "the season stated: the harvest year that this winter prepares, such as 2027")
		return nil
	}
	m.report.Season = m.season
	m.checkDays()
	m.checkRecordDays()
	for _, t := range tasks {
		if b := t.b; len(t.lines) > 0 && b.Planted != 0 && m.season < b.Planted {
			m.problem(nowhere, string(csv.Season), fmt.Sprintf("wrong season: block %s was planted in %d, after it", b.Code, b.Planted), fmt.Sprint(m.season), fmt.Sprintf("%d or later", b.Planted))
			return nil
		}
	}
	return nil
}

func (m *merge) twoSeasons() {
	list := make([]int, 0, len(m.seasons))
	for s := range m.seasons {
		list = append(list, s)
	}
	slices.Sort(list)
	m.problem(m.seasons[list[1]], string(csv.Season), "records of two seasons in one import", fmt.Sprintf("%d, and %d in %s", list[1], list[0], m.spot(m.seasons[list[0]])), "one season at a time")
}

// seasonOfDays gives the season in which the pruning days lie; 0 where there
// are none. Two seasons are a problem.
func (m *merge) seasonOfDays() int {
	season, first := 0, 0
	for i, day := range m.vines.pruned.v {
		if day == noDay {
			continue
		}
		s := m.cal.Season(dayTime(day, m.zone))
		if season != 0 && s != season {
			m.problem(m.at(i), string(csv.PrunedOn), "pruning days of two seasons in one import", fmt.Sprintf("%s is in season %d, line %d in season %d", dateText(day), s, m.vines.line[first], season), "one season at a time, or the season stated")
			return 0
		}
		season, first = s, i
	}
	return season
}

// earlyDays is how long before the turn of the season its pruning may begin;
// chosen by us.
const earlyDays = 60

// checkDays refuses pruning days outside the season.
func (m *merge) checkDays() {
	for i, day := range m.vines.pruned.v {
		if day == noDay {
			continue
		}
		at := dayTime(day, m.zone)
		if s := m.cal.Season(at); s != m.season && m.cal.Season(at.AddDate(0, 0, earlyDays)) != m.season {
			m.problem(m.at(i), string(csv.PrunedOn), fmt.Sprintf("wrong season: this day is in season %d", s), dateText(day), fmt.Sprintf("a day in season %d, or season %d stated", m.season, s))
		}
		if at.After(m.now.AddDate(0, 0, 2)) {
			m.problem(m.at(i), string(csv.PrunedOn), "a day that is still to come", dateText(day), "a day up to today")
		}
	}
}

// checkRecordDays refuses days of records that cannot belong to the season: those
// still to come, and those outside the two summers around its winter. Shoots
// measured in the summer before belong to the season whose winter weighs them.
func (m *merge) checkRecordDays() {
	type fault struct{ first, lines int }
	var strange, toCome fault
	note := func(f *fault, i int) {
		if f.lines++; f.lines == 1 {
			f.first = i
		}
	}
	for i, day := range m.vines.day.v {
		if day == noDay {
			continue
		}
		at := dayTime(day, m.zone)
		if at.After(m.now.AddDate(0, 0, 2)) {
			note(&toCome, i)
		} else if s := m.cal.Season(at); s != m.season && s != m.season-1 {
			note(&strange, i)
		}
	}
	tell := func(f fault, what, wanted string) {
		if f.lines > 1 {
			what += fmt.Sprintf(" (%d lines)", f.lines)
		}
		if f.lines > 0 {
			m.problem(m.at(f.first), string(csv.RecordedOn), what, dateText(m.vines.day.get(f.first)), wanted)
		}
	}
	tell(toCome, "a day that is still to come", "a day up to today")
	if strange.lines > 0 {
		s := m.cal.Season(dayTime(m.vines.day.get(strange.first), m.zone))
		tell(strange, fmt.Sprintf("wrong season: this day is in season %d", s), fmt.Sprintf("a day in season %d or the summer before it, or season %d stated", m.season, s))
	}
}

func dateText(day int32) string { return time.Unix(int64(day)*86400, 0).UTC().Format("2006-01-02") }
