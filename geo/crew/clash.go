package crew

import (
	"cmp"
	"slices"
	"time"

	"courson/geo/vine"
)

// Seen is a record that somebody was at a vine.
type Seen struct {
	Who       string
	Row       vine.ID
	Number    int // of the vine
	When      time.Time
	Operation string
}

// Visit is one person's time in a row, and the vines recorded meanwhile.
type Visit struct {
	Who    string    `json:"who"`
	Begin  time.Time `json:"begin"`
	End    time.Time `json:"end"`
	Number []int     `json:"vines"` // rising, each once
}

// Clash is two people at one operation in one row at the same time. It is put
// before the leader; both records stay.
type Clash struct {
	Row       vine.ID `json:"row"`
	Operation string  `json:"operation"`
	A         Visit   `json:"a"` // who came first
	B         Visit   `json:"b"`
	Both      []int   `json:"both"` // vines that both recorded; empty: they may have shared the row
}

// Clashes lists who was in a row at the same time, by the beginning of the later
// visit. Records of one person in one row no further apart than within belong to
// one visit. Visits overlap where one begins before the other ends.
func Clashes(list []Seen, within time.Duration) (out []Clash) {
	type at struct {
		row       vine.ID
		operation string
	}
	visits := map[at][]Visit{}
	var order []at
	for _, own := range byPersonAndRow(list) {
		k := at{own[0].Row, own[0].Operation}
		if visits[k] == nil {
			order = append(order, k)
		}
		visits[k] = append(visits[k], visitsOf(own, within)...)
	}
	for _, k := range order {
		v := visits[k]
		slices.SortStableFunc(v, func(a, b Visit) int { return cmp.Or(a.Begin.Compare(b.Begin), cmp.Compare(a.Who, b.Who)) })
		for i := range v {
			for j := i + 1; j < len(v) && !v[j].Begin.After(v[i].End); j++ {
				if v[i].Who != v[j].Who {
					out = append(out, Clash{Row: k.row, Operation: k.operation, A: v[i], B: v[j], Both: common(v[i].Number, v[j].Number)})
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Clash) int {
		return cmp.Or(a.B.Begin.Compare(b.B.Begin), cmp.Compare(a.Row, b.Row), cmp.Compare(a.A.Who, b.A.Who), cmp.Compare(a.B.Who, b.B.Who))
	})
	return out
}

// byPersonAndRow parts the records, each part in order of time.
func byPersonAndRow(list []Seen) (parts [][]Seen) {
	list = slices.Clone(list)
	same := func(a, b Seen) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Operation, b.Operation), cmp.Compare(a.Who, b.Who))
	}
	slices.SortStableFunc(list, func(a, b Seen) int { return cmp.Or(same(a, b), a.When.Compare(b.When)) })
	for i, r := range list {
		if i == 0 || same(list[i-1], r) != 0 {
			parts = append(parts, nil)
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], r)
	}
	return parts
}

// visitsOf cuts one person's records in one row where they pause.
func visitsOf(own []Seen, within time.Duration) (out []Visit) {
	for i, r := range own {
		if i == 0 || r.When.Sub(own[i-1].When) > within {
			out = append(out, Visit{Who: r.Who, Begin: r.When})
		}
		v := &out[len(out)-1]
		v.End = r.When
		v.Number = append(v.Number, r.Number)
	}
	for i := range out {
		slices.Sort(out[i].Number)
		out[i].Number = slices.Compact(out[i].Number)
	}
	return out
}

func common(a, b []int) (both []int) {
	for _, n := range a {
		if _, ok := slices.BinarySearch(b, n); ok {
			both = append(both, n)
		}
	}
	return both
}
