package crew

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// interval is the time that the vines of one record took.
type interval struct {
	Record
	day      int
	minutes  float64
	standard float64 // minutes by the table
}

// stretch is one or more records tapped together and the time before them.
type stretch struct {
	records  []Record
	day      int
	gap      time.Duration
	standard float64
}

// cutIntervals brings the records in order of people and time, joins bursts and
// cuts breaks out.
func cutIntervals(records []Record, o LearnOptions, out *Learnt, standard func(Record) float64) (list []interval) {
	records = slices.DeleteFunc(slices.Clone(records), func(r Record) bool { return standard(r) <= 0 })
	slices.SortStableFunc(records, func(a, b Record) int { return cmp.Or(cmp.Compare(a.Who, b.Who), a.When.Compare(b.When)) })
	type at struct{ who, operation string }
	own := map[at][]stretch{}
	var order []at
	opening := true // nothing but records that open a day so far
	for i, r := range records {
		k, day := at{r.Who, r.Operation}, dayNumber(r.When.In(o.Zone))
		if i == 0 || k != (at{records[i-1].Who, records[i-1].Operation}) || dayNumber(records[i-1].When.In(o.Zone)) != day {
			out.Firsts++
			opening = true
			continue
		}
		gap, s := r.When.Sub(records[i-1].When), standard(r)
		tapped := gap < min(o.Burst, time.Duration(s*20*float64(time.Second))) // a third of what it takes
		switch {
		case tapped && opening:
			out.Firsts++
		case tapped:
			last := &own[k][len(own[k])-1]
			last.records, last.gap, last.standard = append(last.records, r), last.gap+gap, last.standard+s
			out.Bursts++
		default:
			if own[k] == nil {
				order = append(order, k)
			}
			own[k] = append(own[k], stretch{[]Record{r}, day, gap, s})
			opening = false
		}
	}
	for _, k := range order {
		list = append(list, keep(own[k], o, out, standard)...)
	}
	return list
}

// keep drops the breaks among one person's stretches and spreads the rest over
// their records.
func keep(own []stretch, o LearnOptions, out *Learnt, standard func(Record) float64) (list []interval) {
	var seen []weighted
	for _, s := range own {
		seen = append(seen, weighted{s.gap.Minutes() / s.standard, s.standard})
	}
	usual := median(seen)
	for _, s := range own {
		expected := usual * s.standard
		if m := s.gap.Minutes(); m > o.BreakTimes*expected && m > expected+o.BreakOver.Minutes() {
			out.Breaks++
			continue
		}
		for _, r := range s.records {
			part := standard(r)
			list = append(list, interval{Record: r, day: s.day, minutes: s.gap.Minutes() * part / s.standard, standard: part})
		}
	}
	return list
}

// weighted is a value with a weight above 0.
type weighted struct{ v, w float64 }

// median is where half the weight lies on either side; 0 for none.
func median(list []weighted) float64 {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b weighted) int { return cmp.Or(cmp.Compare(a.v, b.v), cmp.Compare(a.w, b.w)) })
	var all, sum float64
	for _, x := range list {
		all += x.w
	}
	for i, x := range list {
		sum += x.w
		switch {
		case math.Abs(sum-all/2) <= 1e-9*all && i+1 < len(list):
			return (x.v + list[i+1].v) / 2
		case sum > all/2:
			return x.v
		}
	}
	return 0
}

// What is taken to be known before the log says anything: the spread of spells
// about their mean, as a share of it. Like blocks differ by up to 40 % (La Vigne
// no. 83, article VI0832110969, 1997), so by 20 % to either side; it weighs as
// much as four spells (chosen by us).
const (
	priorSpread = 0.2
	priorSpells = 4
)

// rateOf works out factor and interval from the intervals of one kind.
func rateOf(list []interval, prior float64, o LearnOptions) Rate {
	var r Rate
	type spell struct {
		who string
		day int
	}
	minutes, standard := map[spell]float64{}, map[spell]float64{}
	people := map[string]bool{}
	var order []spell
	for _, v := range list {
		k := spell{v.Who, v.day}
		if _, ok := standard[k]; !ok {
			order = append(order, k)
		}
		minutes[k] += v.minutes
		standard[k] += v.standard
		people[v.Who] = true
		r.Vines += v.Vines
	}
	r.Records, r.Spells, r.People = len(list), len(order), len(people)
	var seen []weighted
	var sum, squares float64
	for _, k := range order {
		seen = append(seen, weighted{minutes[k] / standard[k], standard[k]})
		sum, squares = sum+standard[k], squares+standard[k]*standard[k]
	}
	n := sum * sum / squares // as many spells of equal weight (L. Kish, Survey Sampling, 1965)
	middle := median(seen)
	apart := slices.Clone(seen)
	for i := range apart {
		apart[i].v = math.Abs(apart[i].v - middle)
	}
	spread := 1.4826 * median(apart)
	before := priorSpread * prior
	freedom := priorSpells + n - 1
	spread = math.Sqrt((priorSpells*before*before + (n-1)*spread*spread) / freedom)
	share := float64(r.Vines) / (float64(r.Vines) + o.PriorVines)
	r.Factor = share*middle + (1-share)*prior
	se := math.Hypot(share*math.Sqrt(math.Pi/2/n)*spread, (1-share)*before)
	reach := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.5+o.Level/2) * se
	r.FacLow, r.FacHigh = max(0.05*r.Factor, r.Factor-reach), r.Factor+reach
	return r
}
