package crew

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"courson/geo/vine"
)

// Row is one row with work in it.
type Row struct {
	Block   vine.ID `json:"block"`
	ID      vine.ID `json:"id"`
	Label   string  `json:"label"`
	Vines   int     `json:"vines"`
	Minutes float64 `json:"minutes"` // of one person at the table's rates
	Skilled bool    `json:"skilled"` // goes to a skilled crew only
}

// Crew is a group of people who work together.
type Crew struct {
	Name       string  `json:"name"`
	People     int     `json:"people"`
	Hours      float64 `json:"hours"`                // a person works in a day
	Efficiency float64 `json:"efficiency,omitempty"` // share of the hours that goes into the vines; 0 means UsualEfficiency
	Pace       float64 `json:"pace,omitempty"`       // 1.1: takes a tenth longer than the rates; 0 means 1
	Skilled    bool    `json:"skilled,omitempty"`
}

// UsualEfficiency is what breaks, walking, sharpening and talk leave of the hours
// (chosen by us).
const UsualEfficiency = 0.85

// PerDay is how many minutes of work, at the table's rates, a crew gets through
// in a usual day.
func (c Crew) PerDay() float64 {
	return float64(c.People) * c.Hours * 60 * cmp.Or(c.Efficiency, UsualEfficiency) / cmp.Or(c.Pace, 1)
}

func (c Crew) check() error {
	at := func(field string) string { return fmt.Sprintf("crew %q, %s", c.Name, field) }
	switch {
	case c.Name == "":
		return wrong(ErrShare, "crew", "no name", "a name")
	case c.People < 1 || c.People > 1000:
		return wrong(ErrShare, at("people"), c.People, "1 to 1000")
	case !(c.Hours > 0 && c.Hours <= 24):
		return wrong(ErrShare, at("hours"), c.Hours, "above 0, to 24")
	case !(c.Efficiency >= 0 && c.Efficiency <= 1):
		return wrong(ErrShare, at("efficiency"), c.Efficiency, "above 0 to 1, or 0 for the usual")
	case c.Pace != 0 && !(c.Pace >= 0.1 && c.Pace <= 10):
		return wrong(ErrShare, at("pace"), c.Pace, "0.1 to 10, or 0 for 1")
	}
	return nil
}

// ShareOptions say how rows are shared. Zero values mean the defaults.
type ShareOptions struct {
	// Slack is how much longer than the fairest sharing the last crew may take so
	// that each crew's rows lie side by side; 0 means 0.05, below 0 none.
	Slack float64
	// Had is what each crew has to do already, in minutes; nil: nothing.
	Had []float64
}

// Share is what one crew gets.
type Share struct {
	Crew      string  `json:"crew"`
	Rows      []int   `json:"rows"` // indices into the rows, rising
	Vines     int     `json:"vines"`
	Minutes   float64 `json:"minutes"`
	Days      float64 `json:"days"`      // usual days that the crew has to work, with what it had
	Stretches int     `json:"stretches"` // of rows side by side
}

// Shares is how rows are shared out.
type Shares struct {
	Each []Share `json:"each"` // in the order of the crews
	// Greatest is the days of the crew that finishes last; Least is a figure that
	// no sharing can be below.
	Greatest float64 `json:"greatest"`
	Least    float64 `json:"least"`
	// Exact: nothing of its kind finishes earlier: where every crew has one
	// stretch, no other such sharing; else no sharing at all.
	Exact bool `json:"exact"`
	// Bound is how many times longer than the fairest sharing it can be at the
	// most, by what is known of the method and by Least.
	Bound float64 `json:"bound"`
}

// ShareOut shares rows fairly: so that the crew that finishes last finishes as
// early as can be, by work and by what each crew gets through in a day. Rows lie
// in their order across the blocks. Rows that want skilled hands go to skilled
// crews only.
//
// First each crew gets one stretch of rows side by side; the best such sharing
// over all orders of the crews is found exactly, with up to ten crews (see
// oneStretch). Where the stretches make the last crew later than Slack allows, two
// stretches are tried for each skilled crew, one of them of the rows for skilled
// hands; and then rows one by one, longest first, by trying everything where the
// rows are few. The same input gives the same shares. The error wraps ErrShare.
func ShareOut(rows []Row, crews []Crew, o ShareOptions) (Shares, error) {
	s, err := newSharing(rows, crews, o)
	if err != nil {
		return Shares{}, err
	}
	slack := o.Slack
	if slack == 0 {
		slack = 0.05
	}
	slack = max(0, slack)
	least := s.least()
	one, exact := s.oneStretch(s.all(), s.had)
	if one != nil && s.greatest(one) <= least*(1+slack)+tiny {
		return s.result(one, least, exact, math.Inf(1)), nil
	}
	free, freeExact := s.rowByRow()
	bound := s.knownBound()
	if freeExact {
		bound = 1
	}
	limit := s.greatest(free)*(1+slack) + tiny
	for k, neat := range [][]int{one, s.twoStretches()} {
		if neat != nil && s.greatest(neat) <= limit {
			return s.result(neat, least, exact && k == 0, bound*(1+slack)), nil
		}
	}
	return s.result(free, least, freeExact, bound), nil
}

// tiny is how far apart two sums of minutes or days may be and count as equal.
const tiny = 1e-9

// sharing is the work to be shared.
type sharing struct {
	rows  []Row
	crews []Crew
	speed []float64 // minutes a day
	had   []float64
}

func newSharing(rows []Row, crews []Crew, o ShareOptions) (*sharing, error) {
	if len(crews) == 0 {
		return nil, wrong(ErrShare, "crews", "none", "one at least")
	}
	s := &sharing{rows: rows, crews: crews, had: slices.Clone(o.Had)}
	if s.had == nil {
		s.had = make([]float64, len(crews))
	}
	if len(s.had) != len(crews) {
		return nil, wrong(ErrShare, "had", fmt.Sprintf("%d entries", len(s.had)), fmt.Sprintf("%d, one per crew", len(crews)))
	}
	skilled := false
	names := map[string]bool{}
	for i, c := range crews {
		if err := c.check(); err != nil {
			return nil, err
		}
		if names[c.Name] {
			return nil, wrong(ErrShare, "crews", fmt.Sprintf("%q twice", c.Name), "each crew once")
		}
		if !(s.had[i] >= 0) || math.IsInf(s.had[i], 0) {
			return nil, wrong(ErrShare, fmt.Sprintf("had of crew %q", c.Name), s.had[i], "0 and up")
		}
		names[c.Name], skilled = true, skilled || c.Skilled
		s.speed = append(s.speed, c.PerDay())
	}
	for _, r := range rows {
		if !(r.Minutes >= 0) || math.IsInf(r.Minutes, 0) {
			return nil, wrong(ErrShare, fmt.Sprintf("row %s, minutes", r.Label), r.Minutes, "0 and up")
		}
		if r.Skilled && !skilled {
			return nil, wrong(ErrShare, fmt.Sprintf("row %s", r.Label), "work for skilled hands and no skilled crew", "a skilled crew, or the row open to anyone")
		}
	}
	return s, nil
}

func (s *sharing) all() []int {
	list := make([]int, len(s.rows))
	for i := range list {
		list[i] = i
	}
	return list
}

func (s *sharing) may(crew, row int) bool { return s.crews[crew].Skilled || !s.rows[row].Skilled }

// loads gives the minutes of each crew, with what it had.
func (s *sharing) loads(to []int) []float64 {
	load := slices.Clone(s.had)
	for r, c := range to {
		load[c] += s.rows[r].Minutes
	}
	return load
}

// greatest gives the days of the crew that finishes last; to is the crew of each
// row.
func (s *sharing) greatest(to []int) (days float64) {
	for c, load := range s.loads(to) {
		days = max(days, load/s.speed[c])
	}
	return days
}

// least is a bound from below: everybody busy all the time, the skilled ones with
// what only they may do, the longest row with the quickest crew that may take it,
// and nobody done before what he had.
func (s *sharing) least() float64 {
	var all, few, speed, skilled, days float64
	for c := range s.crews {
		days = max(days, s.had[c]/s.speed[c])
		all, speed = all+s.had[c], speed+s.speed[c]
		if s.crews[c].Skilled {
			few, skilled = few+s.had[c], skilled+s.speed[c]
		}
	}
	for r, row := range s.rows {
		all += row.Minutes
		if row.Skilled {
			few += row.Minutes
		}
		soonest := math.Inf(1)
		for c := range s.crews {
			if s.may(c, r) {
				soonest = min(soonest, (s.had[c]+row.Minutes)/s.speed[c])
			}
		}
		if row.Minutes > 0 {
			days = max(days, soonest)
		}
	}
	days = max(days, all/speed)
	if skilled > 0 {
		days = max(days, few/skilled)
	}
	return days
}

func (s *sharing) result(to []int, least float64, exact bool, bound float64) Shares {
	load := s.loads(to)
	out := Shares{Each: make([]Share, len(s.crews)), Greatest: s.greatest(to), Least: least, Exact: exact, Bound: bound}
	for c, crew := range s.crews {
		out.Each[c] = Share{Crew: crew.Name, Days: load[c] / s.speed[c]}
	}
	for r, c := range to {
		e := &out.Each[c]
		if n := len(e.Rows); n == 0 || e.Rows[n-1] != r-1 {
			e.Stretches++
		}
		e.Rows, e.Vines, e.Minutes = append(e.Rows, r), e.Vines+s.rows[r].Vines, e.Minutes+s.rows[r].Minutes
	}
	if least > 0 {
		out.Bound = min(out.Bound, out.Greatest/least)
	} else {
		out.Bound = 1
	}
	out.Bound = max(1, out.Bound)
	return out
}
