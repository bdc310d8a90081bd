package replant

import (
	"fmt"
	"time"
)

// Day is a day of the calendar, counted from 1 January 1970. 0 means that the
// day is not known.
type Day int32

const daySeconds = 86_400

// DayOf gives the day on which a moment falls where the clocks stand in zone;
// nil means UTC.
func DayOf(t time.Time, zone *time.Location) Day {
	if t.IsZero() {
		return 0
	}
	if zone == nil {
		zone = time.UTC
	}
	y, m, d := t.In(zone).Date()
	return Date(y, m, d)
}

// Date gives the day of a date.
func Date(year int, month time.Month, day int) Day {
	return Day(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / daySeconds)
}

// ParseDay reads a day written as 2027-01-12.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, wrong(ErrInput, "day", fmt.Sprintf("%q", s), "a day such as 2027-01-12")
	}
	return DayOf(t, nil), nil
}

func (d Day) time() time.Time { return time.Unix(int64(d)*daySeconds, 0).UTC() }

// String writes 2027-01-12; "an unknown day" where it is not known.
func (d Day) String() string {
	if d == 0 {
		return "an unknown day"
	}
	return d.time().Format(time.DateOnly)
}

// MarshalText writes 2027-01-12, or nothing.
func (d Day) MarshalText() ([]byte, error) {
	if d == 0 {
		return nil, nil
	}
	return []byte(d.String()), nil
}

// UnmarshalText reads what MarshalText writes.
func (d *Day) UnmarshalText(text []byte) (err error) {
	*d = 0
	if len(text) > 0 {
		*d, err = ParseDay(string(text))
	}
	return err
}

// AddMonths gives the same day of another month, or that month's last day where
// it has no such day.
func (d Day) AddMonths(n int) Day {
	y, m, day := d.time().Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Date(first.Year(), first.Month(), min(day, last))
}
