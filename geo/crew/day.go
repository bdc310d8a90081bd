package crew

import (
	"fmt"
	"slices"
	"time"
)

// Day is a day in the calendar of work.
type Day struct {
	Date time.Time `json:"date"`
	// Work is the share of a usual day that can be worked: 1 a whole one, 0 none.
	Work float64 `json:"work"`
	Why  string  `json:"why,omitempty"` // rain, frost, holiday …
	// People are the sizes of crews on this day where they are not the usual
	// ones, by the crew's name.
	People map[string]int `json:"people,omitempty"`
}

// Calendar gives so many days from one on. Days of the week in off have no work.
func Calendar(from time.Time, days int, off ...time.Weekday) []Day {
	out := make([]Day, 0, max(0, days))
	for k := range max(0, days) {
		d := Day{Date: from.AddDate(0, 0, k), Work: 1}
		if slices.Contains(off, d.Date.Weekday()) {
			d.Work, d.Why = 0, "day off"
		}
		out = append(out, d)
	}
	return out
}

// Lost gives the calendar with a day on which nothing can be done, such as for
// rain: no pruning in rain nor for 36 h after it (Growers respond to trunk disease
// threat, Wine Australia). The rest is as it was.
func Lost(days []Day, date time.Time, why string) []Day {
	out := slices.Clone(days)
	for i := range out {
		if sameDay(out[i].Date, date) {
			out[i].Work, out[i].Why = 0, why
		}
	}
	return out
}

func sameDay(a, b time.Time) bool {
	ay, am, ad := a.Date()
	by, bm, bd := b.Date()
	return ay == by && am == bm && ad == bd
}

// dayNumber counts calendar days, whatever the zone.
func dayNumber(t time.Time) int {
	y, m, d := t.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// room is how many minutes of work a crew gets through on a day.
func (d Day) room(c Crew) float64 {
	if n, ok := d.People[c.Name]; ok {
		c.People = n
	}
	return c.PerDay() * d.Work
}

// PersonHours gives the hours that people are at work on a day.
func (d Day) PersonHours(crews []Crew) (hours float64) {
	for _, c := range crews {
		n, ok := d.People[c.Name]
		if !ok {
			n = c.People
		}
		hours += float64(n) * c.Hours * d.Work
	}
	return hours
}

// checkDays wants rising dates and shares of a day.
func checkDays(days []Day, why error) error {
	for i, d := range days {
		at := fmt.Sprintf("day %s", d.Date.Format(time.DateOnly))
		if !(d.Work >= 0 && d.Work <= 1) {
			return wrong(why, at, d.Work, "a share of the day from 0 to 1")
		}
		if i > 0 && dayNumber(d.Date) <= dayNumber(days[i-1].Date) {
			return wrong(why, at, "it after "+days[i-1].Date.Format(time.DateOnly), "days in their order, each once")
		}
		for name, n := range d.People {
			if n < 0 {
				return wrong(why, at, fmt.Sprintf("%d people in crew %q", n, name), "0 and up")
			}
		}
	}
	return nil
}
