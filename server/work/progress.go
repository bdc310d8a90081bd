package work

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"courson/geo/crew"
	"courson/geo/vine"
	"courson/store"
)

// BlockProgress is how far an operation has got in a block.
type BlockProgress struct {
	Block    vine.ID `json:"block"`
	Code     string  `json:"code"`
	Vines    int     `json:"vines"`
	Done     int     `json:"done"`
	Rows     int     `json:"rows"`
	RowsDone int     `json:"rows_done"`
}

// DayProgress is what was done on a day.
type DayProgress struct {
	Day   string `json:"day"`
	Done  int    `json:"done"`
	Total int    `json:"total"` // up to and with that day
}

// CrewDay is what one crew did on a day.
type CrewDay struct {
	Crew string `json:"crew"`
	Day  string `json:"day"`
	Done int    `json:"done"`
}

// RateLearnt is vines per person-hour of an operation.
type RateLearnt struct {
	System   string  `json:"system"`
	Class    string  `json:"class"`
	PerHour  float64 `json:"per_hour"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Vines    int     `json:"vines"`
	Records  int     `json:"records"`
	Spells   int     `json:"spells"`   // people × days
	Standard bool    `json:"standard"` // nothing learnt yet: the planning figure
}

// Finish is when the work will be done, as a range.
type Finish struct {
	LeftHours float64 `json:"left_hours"` // of one person
	Early     string  `json:"early"`      // "" beyond the calendar
	Likely    string  `json:"likely"`
	Late      string  `json:"late"`
	Level     float64 `json:"level"`
	Deadline  string  `json:"deadline"`
	Within    *bool   `json:"within"` // null: in doubt, or no deadline
	Why       string  `json:"why"`
}

// RowClash is two people in one row at the same time.
type RowClash struct {
	Row    string    `json:"row"`
	Code   string    `json:"code"`
	Label  string    `json:"label"`
	First  string    `json:"first"`
	Second string    `json:"second"`
	Vines  []int     `json:"vines"`
	When   time.Time `json:"when"`
}

// Progressed is how far an operation has got on the estate.
type Progressed struct {
	Operation string          `json:"operation"`
	Blocks    []BlockProgress `json:"blocks"`
	Days      []DayProgress   `json:"days"`
	Crews     []CrewDay       `json:"crews"`
	Rows      []RowDay        `json:"rows"`
	Lines     []RowLine       `json:"-"`    // row by row
	Lost      []string        `json:"lost"` // days on which nobody could work
	Rates     []RateLearnt    `json:"rates"`
	Forecast  *Finish         `json:"forecast"`
	Clashes   []RowClash      `json:"clashes"`
}

// ProgressJob says of what progress is asked.
type ProgressJob struct {
	Season    int
	Operation string
	Zone      *time.Location
	Today     time.Time // the first day that is still to come, or is under way
	Deadline  string    // "" none
	Lost      []string  // days on which nobody can work; see LostDays
}

// visitApart: records of one person in one row further apart than this are two
// visits; chosen by us.
const visitApart = 20 * time.Minute

// calendarDays is how far a finish is looked for.
const calendarDays = 200

// Progress gathers how far an operation has got: by block, day and crew, with
// rates learnt and the finish.
func Progress(ctx context.Context, st reader, blocks []ShareBlock, job ProgressJob) (*Progressed, error) {
	crews, err := Crews(ctx, st)
	if err != nil {
		return nil, err
	}
	orders, err := Orders(ctx, st, OrderQuery{Season: job.Season})
	if err != nil {
		return nil, err
	}
	p := progressing{job: job, crewOf: crewsOfPeople(crews), byDay: map[string]int{}, byCrew: map[[2]string]int{}, minutes: map[string]float64{}, rows: newRowBook(orders, job.Operation),
		out: &Progressed{Operation: job.Operation, Blocks: []BlockProgress{}, Days: []DayProgress{}, Crews: []CrewDay{}, Lost: append([]string{}, job.Lost...), Rates: []RateLearnt{}, Clashes: []RowClash{}}}
	for _, b := range blocks {
		if err := p.block(ctx, st, b); err != nil {
			return nil, err
		}
	}
	p.days()
	p.out.Rows, p.out.Lines = p.rows.days(), p.rows.lines
	if err := p.learn(); err != nil {
		return nil, err
	}
	return p.out, p.foresee(crews)
}

// crewsOfPeople: a record is by a person or by a crew; a name that holds a crew's
// name belongs to it ("crew North", "North: Ana").
func crewsOfPeople(crews []Crew) func(by string) string {
	return func(by string) string {
		for _, c := range crews {
			if strings.Contains(strings.ToLower(by), strings.ToLower(c.Name)) {
				return c.Name
			}
		}
		return ""
	}
}

type progressing struct {
	job     ProgressJob
	crewOf  func(string) string
	byDay   map[string]int
	byCrew  map[[2]string]int
	minutes map[string]float64 // of work done, by day
	left    float64            // minutes
	records []crew.Record
	table   *crew.Table
	rows    *rowBook
	out     *Progressed
}

func (p *progressing) block(ctx context.Context, st reader, b ShareBlock) error {
	w, err := weigh(ctx, st, b, p.job.Operation)
	if err != nil {
		return err
	}
	p.table = w.Table
	events, err := st.Events(ctx, store.EventQuery{Block: b.Block.ID, Season: p.job.Season})
	if err != nil {
		return fmt.Errorf("records of block %s: %w", b.Block.Code, err)
	}
	list, names := plainEvents(events), map[string]string{}
	for _, e := range list {
		if c := p.crewOf(e.By); c != "" {
			names[e.By] = c
		}
	}
	got, err := crew.ProgressOf(b.Stand, list, systemOf(b.Settled), p.job.Operation, w.Table, names, p.job.Zone)
	if err != nil {
		return fmt.Errorf("progress of block %s: %w", b.Block.Code, err)
	}
	bp := BlockProgress{Block: b.Block.ID, Code: b.Block.Code, Vines: got.Block.Vines, Done: got.Block.Done + got.Block.Skipped}
	for _, r := range got.Rows {
		if r.Vines > 0 {
			bp.Rows++
			if r.Left == 0 {
				bp.RowsDone++
			}
		}
	}
	p.out.Blocks = append(p.out.Blocks, bp)
	op, _ := w.Table.Operation(p.job.Operation)
	p.rows.add(b, got, op.SickLast)
	p.left += w.All().Minutes
	for _, d := range got.Days {
		day := d.Day.Format(time.DateOnly)
		p.byDay[day] += d.Vines
		p.byCrew[[2]string{day, d.Crew}] += d.Vines
		p.minutes[day] += d.Minutes
	}
	p.record(b, list, names)
	return nil
}

// record takes up who was where when, for rates and clashes.
func (p *progressing) record(b ShareBlock, events []vine.Event, names map[string]string) {
	g := b.Stand.Ground
	if op, ok := p.table.Operation(p.job.Operation); ok {
		p.records = append(p.records, crew.RecordsOf(b.Stand, events, systemOf(b.Settled), op, names, false)...)
	}
	for _, c := range crew.Clashes(crew.SeenOf(b.Stand, events, p.job.Operation), visitApart) {
		label := ""
		for _, r := range g.Rows {
			if r.ID == c.Row {
				label = r.Label
			}
		}
		p.out.Clashes = append(p.out.Clashes, RowClash{Row: fmt.Sprint(c.Row), Code: g.Code, Label: label, First: c.A.Who, Second: c.B.Who, Vines: orNone(c.Both), When: c.B.Begin})
	}
}

func orNone(list []int) []int {
	if list == nil {
		return []int{}
	}
	return list
}

func plainEvents(logged []store.LoggedEvent) []vine.Event {
	out := make([]vine.Event, len(logged))
	for i, e := range logged {
		out[i] = e.Event
	}
	return out
}

// days puts the days in order and adds up.
func (p *progressing) days() {
	var days []string
	for day := range p.byDay {
		days = append(days, day)
	}
	slices.Sort(days)
	total := 0
	for _, day := range days {
		total += p.byDay[day]
		p.out.Days = append(p.out.Days, DayProgress{day, p.byDay[day], total})
	}
	for k, n := range p.byCrew {
		p.out.Crews = append(p.out.Crews, CrewDay{Crew: k[1], Day: k[0], Done: n})
	}
	slices.SortFunc(p.out.Crews, func(a, b CrewDay) int { return strings.Compare(a.Day+"\x00"+a.Crew, b.Day+"\x00"+b.Crew) })
}

// learn gives the rates that the log tells, of all people together.
func (p *progressing) learn() error {
	if p.table == nil {
		return nil
	}
	got, err := p.table.Learn(p.records, crew.LearnOptions{Zone: p.job.Zone})
	if err != nil {
		return fmt.Errorf("rates of %s: %w", p.job.Operation, err)
	}
	for _, r := range got.Rates {
		if r.Minutes <= 0 {
			continue
		}
		p.out.Rates = append(p.out.Rates, RateLearnt{System: r.Key.System.Key, Class: r.Key.Class.String(), PerHour: r.PerHour(), Low: 60 / r.High, High: 60 / max(r.Low, 1e-6), Vines: r.Vines, Records: r.Records, Spells: r.Spells})
	}
	return nil
}

// foresee gives the finish as a range, by the crews there are.
func (p *progressing) foresee(crews []Crew) error {
	f := &Finish{LeftHours: p.left / 60, Level: 0.8, Deadline: p.job.Deadline}
	p.out.Forecast = f
	if len(crews) == 0 {
		f.Why = "There is no crew yet."
		return nil
	}
	var list []crew.Crew
	for _, c := range crews {
		list = append(list, crew.Crew{Name: c.Name, People: c.People, Hours: c.HoursPerDay, Skilled: c.Skilled})
	}
	var past []crew.DayDone
	for _, d := range p.out.Days {
		day, err := time.ParseInLocation(time.DateOnly, d.Day, p.job.Zone)
		if err != nil {
			return err
		}
		if day.Before(p.job.Today) && d.Done >= leastOfDay {
			past = append(past, crew.DayDone{Day: day, PersonHours: p.hoursOn(d.Day, crews), Minutes: p.minutes[d.Day]})
		}
	}
	days := crew.Calendar(p.job.Today, calendarDays, time.Sunday)
	for _, text := range p.job.Lost {
		lost, err := time.ParseInLocation(time.DateOnly, text, p.job.Zone)
		if err != nil {
			return fmt.Errorf("lost day %q: %w", text, err)
		}
		days = crew.Lost(days, lost, "lost")
	}
	got, err := crew.Foresee(crew.Outlook{Minutes: p.left, Past: past, Days: days, Crews: list, Level: f.Level})
	if errors.Is(err, crew.ErrForecast) {
		f.Why = err.Error()
		return nil
	}
	if err != nil {
		return err
	}
	f.Early, f.Likely, f.Late = dayText(got.Early), dayText(got.Likely), dayText(got.Late)
	f.Why = fmt.Sprintf("By %s on six days a week, from %s of the log.", countOf(len(crews), "crew"), countOf(got.PastDays, "day"))
	if n := stillAhead(p.job); n > 0 {
		f.Why += fmt.Sprintf(" %s to come that nobody can work on left out.", countOf(n, "day"))
	}
	if p.job.Deadline != "" {
		day, err := time.ParseInLocation(time.DateOnly, p.job.Deadline, p.job.Zone)
		if err != nil {
			return fmt.Errorf("%w: deadline %q: write it like 2027-03-15", ErrOrder, p.job.Deadline)
		}
		switch got.Before(day) {
		case crew.InTime:
			f.Within = &[]bool{true}[0]
		case crew.TooLate:
			f.Within = &[]bool{false}[0]
		}
	}
	return nil
}

// hoursOn is the person-hours of the crews that were at work on a day; where the
// log does not say whose the records are, of all.
func (p *progressing) hoursOn(day string, crews []Crew) (hours float64) {
	for _, c := range crews {
		if p.byCrew[[2]string{day, c.Name}] > 0 || p.byCrew[[2]string{day, ""}] > 0 {
			hours += float64(c.People) * c.HoursPerDay
		}
	}
	return hours
}

// leastOfDay: days with fewer vines were visits, not days of work; chosen by us.
const leastOfDay = 20

func dayText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
