package crew

import (
	"cmp"
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// DayDone is what was done on a day that is over.
type DayDone struct {
	Day         time.Time
	PersonHours float64 // that people were at work
	Minutes     float64 // of work done, at the table's rates
}

// PastOf sums up what crews did, day by day, with the hours of those crews that
// did something on it. Days that are not in the calendar are left out.
func PastOf(done []DayProgress, days []Day, crews []Crew) (out []DayDone) {
	for _, d := range days {
		p := DayDone{Day: d.Date}
		worked := map[string]bool{}
		for _, x := range done {
			if dayNumber(x.Day) == dayNumber(d.Date) && x.Minutes > 0 {
				p.Minutes += x.Minutes
				worked[x.Crew] = true
			}
		}
		for _, c := range crews {
			if worked[c.Name] {
				p.PersonHours += d.PersonHours([]Crew{c})
			}
		}
		if p.PersonHours > 0 {
			out = append(out, p)
		}
	}
	return out
}

// Outlook is what a forecast is made from.
type Outlook struct {
	Minutes float64   // of work left, at the table's rates
	Past    []DayDone // days without person-hours do not count
	Days    []Day     // from the next day of work on; rain and days off that are known are in it
	Crews   []Crew
	// Rain is the chance, 0 to below 1, that a day of the calendar is lost
	// besides.
	Rain float64
	// Level is the share of forecasts whose range should hold the truth; 0 means
	// 0.8.
	Level float64
	// Expected is the efficiency that is expected before the first day is over; 0
	// means UsualEfficiency.
	Expected float64
}

// Forecast says when the work will be finished. A date is zero where the calendar
// ends before it.
type Forecast struct {
	Early      time.Time `json:"early,omitzero"`
	Likely     time.Time `json:"likely,omitzero"` // as likely before or on it as after
	Late       time.Time `json:"late,omitzero"`
	Level      float64   `json:"level"`
	Efficiency float64   `json:"efficiency"` // share of the person-hours that goes into the vines, as learnt
	PastDays   int       `json:"past_days"`  // that it rests on
	days       []Day
	chance     []float64
}

// What is taken to be known of the efficiency before any day is over, chosen by
// us: from day to day it varies by a quarter of itself, and the mean of a season
// lies within a fifth of what was expected (like blocks differ by up to 40 %: La
// Vigne no. 83, article VI0832110969, 1997).
const (
	dayToDay     = 0.25
	betweenYears = 0.2
	priorFreedom = 8 // days that the spread from day to day counts for
)

// Foresee gives the finish as a range.
//
// The efficiency of a day is minutes of work done over minutes of people at work.
// Days are taken to vary about an unknown mean with an unknown spread, as
// observations from a normal distribution, with a prior that counts for about a
// day and a half (normal and inverse gamma: A. Gelman and others, Bayesian Data
// Analysis, third edition, 2013, section 3.3). What is done by the k-th day of
// the calendar is the sum of h × efficiency over its days, each lost to rain with
// its chance; the sum's spread joins that of the days and that of the mean:
//
//	mean     m (1-r) Σh
//	variance s² ((1-r) Σh² + ((1-r) Σh)²/n) + m² r (1-r) Σh²
//
// and P(finished by k) = P(sum ≥ work left), by Student's t. The range runs from
// the first day on which that passes (1-level)/2 to the first on which it passes
// (1+level)/2. As days are whole, the range holds the truth a little more often
// than the level says. The error wraps ErrForecast.
func Foresee(o Outlook) (Forecast, error) {
	o.Level, o.Expected = cmp.Or(o.Level, 0.8), cmp.Or(o.Expected, UsualEfficiency)
	if err := o.check(); err != nil {
		return Forecast{}, err
	}
	mean, n, spread, freedom, past := o.learn()
	f := Forecast{Level: o.Level, Efficiency: mean, PastDays: past, days: o.Days}
	var sum, squares, chance float64
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}
	for _, d := range o.Days {
		h := 60 * d.PersonHours(o.Crews)
		sum, squares = sum+h, squares+h*h
		stays := 1 - o.Rain
		variance := spread*spread*(stays*squares+stays*stays*sum*sum/n) + mean*mean*o.Rain*stays*squares
		switch {
		case o.Minutes <= 0:
			chance = 1
		case variance > 0:
			chance = max(chance, t.CDF((mean*stays*sum-o.Minutes)/math.Sqrt(variance)))
		}
		f.chance = append(f.chance, chance)
	}
	for _, q := range []struct {
		at *time.Time
		p  float64
	}{{&f.Early, (1 - o.Level) / 2}, {&f.Likely, 0.5}, {&f.Late, (1 + o.Level) / 2}} {
		for k, c := range f.chance {
			if c >= q.p {
				*q.at = o.Days[k].Date
				break
			}
		}
	}
	return f, nil
}

func (o Outlook) check() error {
	for _, v := range []struct {
		field    string
		v        float64
		from, to float64
	}{{"minutes left", o.Minutes, 0, 1e12}, {"chance of rain", o.Rain, 0, 0.99}, {"level", o.Level, 0.01, 0.99}, {"expected efficiency", o.Expected, 0.05, 5}} {
		if !(v.v >= v.from && v.v <= v.to) {
			return wrong(ErrForecast, v.field, v.v, fmt.Sprintf("%g to %g", v.from, v.to))
		}
	}
	for _, p := range o.Past {
		if !(p.PersonHours >= 0 && p.Minutes >= 0) || math.IsInf(p.PersonHours+p.Minutes, 0) {
			return wrong(ErrForecast, "past day "+p.Day.Format(time.DateOnly), fmt.Sprintf("%g h, %g min", p.PersonHours, p.Minutes), "0 and up")
		}
	}
	if len(o.Crews) == 0 {
		return wrong(ErrForecast, "crews", "none", "one at least")
	}
	for _, c := range o.Crews {
		if c.People < 0 || !(c.Hours >= 0 && c.Hours <= 24) {
			return wrong(ErrForecast, fmt.Sprintf("crew %q", c.Name), fmt.Sprintf("%d people, %g h", c.People, c.Hours), "0 people and up, 0 to 24 h")
		}
	}
	return checkDays(o.Days, ErrForecast)
}

// learn gives the mean efficiency, the days that it rests on (with those of the
// prior), the spread of a day and its freedom.
func (o Outlook) learn() (mean, n, spread, freedom float64, past int) {
	var sum float64
	var seen []float64
	for _, p := range o.Past {
		if p.PersonHours > 0 {
			seen = append(seen, p.Minutes/60/p.PersonHours)
			sum += seen[len(seen)-1]
		}
	}
	past = len(seen)
	prior := (dayToDay / betweenYears) * (dayToDay / betweenYears)
	s0 := dayToDay * o.Expected
	n = prior + float64(past)
	mean = (prior*o.Expected + sum) / n
	squares := priorFreedom * s0 * s0
	if past > 0 {
		own := sum / float64(past)
		for _, e := range seen {
			squares += (e - own) * (e - own)
		}
		squares += prior * float64(past) / n * (own - o.Expected) * (own - o.Expected)
	}
	freedom = priorFreedom + float64(past)
	return mean, n, math.Sqrt(squares / freedom), freedom, past
}

// ChanceBy is how likely the work is finished on a day or before; 0 before the
// first day of the calendar. After its last day it is that of the last.
func (f Forecast) ChanceBy(day time.Time) (p float64) {
	for k, d := range f.days {
		if dayNumber(d.Date) <= dayNumber(day) {
			p = f.chance[k]
		}
	}
	return p
}

// Answer is what a forecast says of a date that must be kept, such as budburst.
type Answer string

// The answers.
const (
	InTime  Answer = "in time"  // the whole range lies before the date
	InDoubt Answer = "in doubt" // the date lies in the range
	TooLate Answer = "too late" // the whole range lies on the date or after
)

// Before says whether the finish lies before a date.
func (f Forecast) Before(date time.Time) Answer {
	earlier := func(t time.Time) bool { return !t.IsZero() && dayNumber(t) < dayNumber(date) }
	switch {
	case earlier(f.Late):
		return InTime
	case earlier(f.Early):
		return InDoubt
	}
	return TooLate
}
