package crew

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// Record is one entry of the log of work: at When, so many more vines were done.
type Record struct {
	Who       string
	Crew      string
	When      time.Time
	Operation string
	System    System
	Class     Class // of the vines, or of most of them
	Vines     int   // done since the record before; 1 and up
	Saved     bool  // an operation that saves work went before, such as pre-pruning
}

// LearnOptions say how the log is read. Zero values mean the defaults, which are
// chosen by us.
type LearnOptions struct {
	Level      float64        // of the interval; 0.8
	BreakTimes float64        // a pause this many times longer than usual is a break; 3
	BreakOver  time.Duration  // and this much longer than expected; 2 min
	Burst      time.Duration  // records closer than this were tapped together; 10 s
	PriorVines float64        // the planning figure counts as much as so many vines; 200
	Zone       *time.Location // where days begin; UTC
}

func (o LearnOptions) withDefaults() (LearnOptions, error) {
	o.Level = cmp.Or(o.Level, 0.8)
	o.BreakTimes = cmp.Or(o.BreakTimes, 3)
	o.BreakOver = cmp.Or(o.BreakOver, 2*time.Minute)
	o.Burst = cmp.Or(o.Burst, 10*time.Second)
	o.PriorVines = cmp.Or(o.PriorVines, 200)
	o.Zone = cmp.Or(o.Zone, time.UTC)
	switch {
	case !(o.Level > 0 && o.Level < 1):
		return o, wrong(ErrRecord, "level", o.Level, "between 0 and 1")
	case !(o.BreakTimes > 1):
		return o, wrong(ErrRecord, "break times", o.BreakTimes, "above 1")
	case o.BreakOver < 0 || o.Burst < 0:
		return o, wrong(ErrRecord, "break and burst", fmt.Sprint(o.BreakOver, o.Burst), "no time below 0")
	case !(o.PriorVines > 0) || math.IsInf(o.PriorVines, 0):
		return o, wrong(ErrRecord, "prior vines", o.PriorVines, "above 0")
	}
	return o, nil
}

// Rate is what was learnt of a kind of vine. It speaks of all people together.
type Rate struct {
	Key     Key     `json:"key"`
	Minutes float64 `json:"minutes"`  // of one person per vine, as learnt; without saving. 0 for ClassAll
	Low     float64 `json:"low"`      // interval of Minutes
	High    float64 `json:"high"`     //
	Factor  float64 `json:"factor"`   // Minutes ÷ planning figure
	FacLow  float64 `json:"fac_low"`  // interval of Factor
	FacHigh float64 `json:"fac_high"` //
	Vines   int     `json:"vines"`    // that it rests on
	Records int     `json:"records"`
	Spells  int     `json:"spells"` // people × days
	People  int     `json:"people"`
}

// PerHour gives vines per person-hour; 0 where the minutes are 0.
func (r Rate) PerHour() float64 {
	if r.Minutes <= 0 {
		return 0
	}
	return 60 / r.Minutes
}

// Learnt is what a log says, and what of it was left out.
type Learnt struct {
	Rates  []Rate `json:"rates"`  // by operation, system, class; ClassAll first
	Breaks int    `json:"breaks"` // pauses cut out
	Firsts int    `json:"firsts"` // records that only open a day, or a change of operation
	Bursts int    `json:"bursts"` // records tapped together with the one before
}

// Learn estimates rates from the log.
//
// The minutes between two records of one person on one day, at one operation,
// belong to the vines of the later one; records tapped together share them in
// proportion to the planning figures. An interval far longer than this person's
// usual one is a break and is cut out; a break inside an interval of many vines
// cannot be seen. What is left of one person, day and kind of vine is a spell;
// its minutes over its planning minutes is its factor.
//
// The factor of a kind of vine is the median of its spells, weighted by their
// work, drawn towards what is known beforehand as if that rested on PriorVines
// vines: all classes of an operation and system are drawn to the planning
// figure, a class to all classes. The interval takes the spread of the spells
// from the median absolute deviation (F. R. Hampel, The influence curve and its
// role in robust estimation, Journal of the American Statistical Association 69,
// 1974), and √(π/2) × spread / √n for the error of a median.
func (t *Table) Learn(records []Record, o LearnOptions) (Learnt, error) {
	var out Learnt
	o, err := o.withDefaults()
	if err != nil {
		return out, err
	}
	if err := t.checkRecords(records); err != nil {
		return out, err
	}
	intervals := cutIntervals(records, o, &out, func(r Record) float64 {
		return float64(r.Vines) * t.Standard(Key{r.Operation, r.System, r.Class}, r.Saved)
	})
	byKey := map[Key][]interval{}
	for _, v := range intervals {
		k := Key{v.Operation, v.System, v.Class}
		byKey[k] = append(byKey[k], v)
		k.Class = ClassAll
		byKey[k] = append(byKey[k], v)
	}
	for _, k := range sortedKinds(byKey) {
		prior := 1.0
		if k.Class != ClassAll {
			prior = out.Rates[slices.IndexFunc(out.Rates, func(r Rate) bool {
				return r.Key == Key{k.Operation, k.System, ClassAll}
			})].Factor
		}
		r := rateOf(byKey[k], prior, o)
		r.Key = k
		if k.Class != ClassAll {
			m := t.Standard(k, false)
			r.Minutes, r.Low, r.High = r.Factor*m, r.FacLow*m, r.FacHigh*m
		}
		out.Rates = append(out.Rates, r)
	}
	return out, nil
}

func (t *Table) checkRecords(records []Record) error {
	for i, r := range records {
		at := func(field string) string { return fmt.Sprintf("record %d, %s", i+1, field) }
		switch {
		case r.Who == "":
			return wrong(ErrRecord, at("who"), "nobody", "a person")
		case r.When.IsZero():
			return wrong(ErrRecord, at("when"), "no time", "a time")
		case r.Vines < 1:
			return wrong(ErrRecord, at("vines"), r.Vines, "1 and up")
		case r.Class > ClassYoung:
			return wrong(ErrRecord, at("class"), uint8(r.Class), "0 to 6")
		}
		if _, ok := t.Operation(r.Operation); !ok {
			return wrong(ErrRecord, at("operation"), fmt.Sprintf("%q", r.Operation), "an operation of the list")
		}
	}
	return nil
}

// sortedKinds brings ClassAll before the classes of its operation and system.
func sortedKinds(m map[Key][]interval) []Key {
	var keys []Key
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b Key) int {
		return cmp.Or(cmp.Compare(a.Operation, b.Operation), cmp.Compare(a.System.Key, b.System.Key), cmp.Compare(a.System.Form, b.System.Form),
			cmp.Compare(a.Class+1, b.Class+1)) // ClassAll + 1 is 0
	})
	return keys
}

// Pace is how a crew's minutes compare with the table: 1.1 takes a tenth longer.
type Pace struct {
	Crew   string  `json:"crew"`
	Pace   float64 `json:"pace"`
	Low    float64 `json:"low"` // interval of Pace
	High   float64 `json:"high"`
	Vines  int     `json:"vines"`
	People int     `json:"people"`
}

// Paces sets each crew's log beside the table's rates, so that rows can be shared
// by what each crew really does. It is worked out like a rate and drawn towards 1.
// Records without a crew count for none.
func (t *Table) Paces(records []Record, o LearnOptions) ([]Pace, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if err := t.checkRecords(records); err != nil {
		return nil, err
	}
	byCrew := map[string][]interval{}
	for _, v := range cutIntervals(records, o, &Learnt{}, func(r Record) float64 {
		return float64(r.Vines) * t.Minutes(Key{r.Operation, r.System, r.Class}, r.Saved)
	}) {
		if v.Crew != "" {
			byCrew[v.Crew] = append(byCrew[v.Crew], v)
		}
	}
	var out []Pace
	for name, list := range byCrew {
		r := rateOf(list, 1, o)
		out = append(out, Pace{Crew: name, Pace: r.Factor, Low: r.FacLow, High: r.FacHigh, Vines: r.Vines, People: r.People})
	}
	slices.SortFunc(out, func(a, b Pace) int { return cmp.Compare(a.Crew, b.Crew) })
	return out, nil
}
