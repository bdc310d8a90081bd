package server

import (
	"context"
	"net/http"
	"strings"
	"time"

	"courson/geo/vine"
)

// ogcSpan is a stretch of time: from is in it, to is not. Zero times are open.
type ogcSpan struct{ from, to time.Time }

// seasonTime is how long a season lasts: from the day after leaf fall on which
// the estate's calendar turns to the same day a year later.
func seasonTime(c vine.Calendar, season int) ogcSpan {
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	day := func(year int) time.Time { return time.Date(year, c.TurnMonth, 1, 0, 0, 0, 0, zone) }
	return ogcSpan{day(season - 1), day(season)}
}

// common is how long two bounded stretches overlap.
func (s ogcSpan) common(o ogcSpan) time.Duration {
	from, to := s.from, s.to
	if o.from.After(from) {
		from = o.from
	}
	if o.to.Before(to) {
		to = o.to
	}
	return to.Sub(from)
}

// meets tells whether an instant or stretch and a season have a moment in
// common.
func (s ogcSpan) meets(season ogcSpan) bool {
	return (s.from.IsZero() || s.from.Before(season.to)) && (s.to.IsZero() || s.to.After(season.from))
}

// readDatetime reads the parameter datetime (OGC 17-069r4, 7.15.4): an instant
// or an interval of RFC 3339 times, either side of which may be open (".." or
// nothing). A day alone is taken too, as that day in the estate's time zone. An
// instant comes out as a stretch of a nanosecond.
func readDatetime(text string, zone *time.Location) (ogcSpan, error) {
	first, last, isInterval := strings.Cut(text, "/")
	from, err := readMoment(first, zone)
	if err != nil || !isInterval && from.open {
		return ogcSpan{}, badDatetime(text)
	}
	if !isInterval {
		return ogcSpan{from.begin, from.end}, nil
	}
	to, err := readMoment(last, zone)
	switch {
	case err != nil:
		return ogcSpan{}, badDatetime(text)
	case !from.open && !to.open && to.end.Before(from.end):
		return ogcSpan{}, refuse(http.StatusBadRequest, "datetime", "datetime %s: the end lies before the start", text)
	}
	return ogcSpan{from.begin, to.end}, nil
}

func badDatetime(text string) error {
	return refuse(http.StatusBadRequest, "datetime",
		"datetime %q: wanted is a time such as 2027-01-12T10:00:00Z or a day such as 2027-01-12, or two of them with / between, .. for an open side", text)
}

type moment struct {
	begin, end time.Time
	open       bool
}

func readMoment(text string, zone *time.Location) (moment, error) {
	if text == "" || text == ".." {
		return moment{open: true}, nil
	}
	if day, err := time.ParseInLocation(time.DateOnly, text, zone); err == nil {
		return moment{begin: day, end: day.AddDate(0, 0, 1)}, nil
	}
	// RFC 3339, 5.6 allows small letters, and a second 60 that Go does not know.
	at, err := time.Parse(time.RFC3339Nano, strings.Replace(strings.ToUpper(text), ":60", ":59", 1))
	return moment{begin: at, end: at.Add(1)}, err
}

// pickSeason gives the season that is shown for a datetime; ok is false where
// no known season meets it.
//
// An interval that is open on a side means how things stand: the season to open
// if it meets that, else the last that it meets. Of several seasons that a bounded
// interval meets it is the one covered for the longest time; of equals the one to
// open, else the later.
func (s seasonSpan) pickSeason(cal vine.Calendar, asked ogcSpan) (season int, ok bool) {
	var longest time.Duration
	for n := s.list[0]; n <= s.list[len(s.list)-1]+1; n++ {
		t := seasonTime(cal, n)
		if !asked.meets(t) {
			continue
		}
		var long time.Duration // all count the same where a side is open
		if !asked.from.IsZero() && !asked.to.IsZero() {
			long = min(asked.common(t), 365*24*time.Hour) // a leap year is no longer than others
		}
		if !ok || long > longest || long == longest && season != s.open {
			season, longest, ok = n, long, true
		}
	}
	return season, ok
}

// ogcSeason gives the season that a request shows: of ?season=, else of
// ?datetime=, else the one to open. ok is false where nothing is of that time.
func (s *Server) ogcSeason(ctx context.Context, q *ogcQuery) (ok bool, err error) {
	span, err := s.seasons(ctx)
	if err != nil {
		return false, err
	}
	cal, err := s.calendar(ctx)
	if err != nil {
		return false, err
	}
	q.season = span.open
	if q.seasonAsked != 0 {
		if q.season = q.seasonAsked; !span.holds(q.season) {
			return false, refuse(http.StatusBadRequest, "season", "there is no season %d; known are %s", q.season, span)
		}
	}
	if q.datetime == "" {
		return true, nil
	}
	asked, err := readDatetime(q.datetime, cal.Zone)
	if err != nil {
		return false, err
	}
	if q.seasonAsked != 0 {
		return asked.meets(seasonTime(cal, q.season)), nil
	}
	q.season, ok = span.pickSeason(cal, asked)
	if !ok {
		q.season = span.open
	}
	return ok, nil
}
