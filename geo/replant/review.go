package replant

import (
	"courson/geo/stand"
	"courson/geo/vine"
)

// Walk says how a person goes through the rows.
type Walk struct {
	FarFirst  bool // the first row is walked from its far end
	BackForth bool // each next row is walked the other way
	LastFirst bool // begin with the last row
}

// Rows gives the rows in walking order and for each whether it is walked from its
// far end.
func (w Walk) Rows(rows int) (order []int, far []bool) {
	order, far = make([]int, rows), make([]bool, rows)
	for k := range rows {
		order[k] = k
		if w.LastFirst {
			order[k] = rows - 1 - k
		}
		far[k] = w.FarFirst != (w.BackForth && k%2 == 1)
	}
	return order, far
}

// Order gives all positions of a block in walking order.
func (w Walk) Order(g *stand.Ground) []int {
	out := make([]int, 0, g.Len())
	rows, far := w.Rows(len(g.Rows))
	for k, r := range rows {
		for j := range g.Rows[r].Count {
			if far[k] {
				j = g.Rows[r].Count - 1 - j
			}
			out = append(out, g.Rows[r].First+j)
		}
	}
	return out
}

// ReviewRow is what is to be confirmed or refused in one row, in walking order.
type ReviewRow struct {
	Row   int          `json:"row"` // index in the ground
	Label string       `json:"label"`
	Far   bool         `json:"far"` // walked from the far end
	Items []ReviewItem `json:"items"`
}

// ReviewItem is one position to look at.
type ReviewItem struct {
	Vine    int      `json:"vine"` // index in the ground
	Address string   `json:"address"`
	Verdict Verdict  `json:"verdict"`
	Run     int      `json:"run"` // gaps or suspected gaps side by side that it belongs to
	Reasons []string `json:"reasons"`
}

// Review lists the positions that a person should look at: suspected and doubtful
// ones, gaps that nobody confirmed, and living vines with a contradiction. Rows
// without any are left out. The error wraps ErrEvidence where the findings are
// not of this ground.
func Review(f *Findings, g *stand.Ground, walk Walk) ([]ReviewRow, error) {
	if g.Len() != len(f.Verdicts) {
		return nil, wrong(ErrEvidence, "places", len(f.Verdicts), "as many as the ground has vines")
	}
	var out []ReviewRow
	rows, far := walk.Rows(len(g.Rows))
	for k, r := range rows {
		if items := f.reviewRow(g, r, far[k]); len(items) > 0 {
			out = append(out, ReviewRow{Row: r, Label: g.Rows[r].Label, Far: far[k], Items: items})
		}
	}
	return out, nil
}

func (f *Findings) reviewRow(g *stand.Ground, r int, far bool) (items []ReviewItem) {
	row := g.Rows[r]
	runs := f.runs(row)
	for k := range row.Count {
		i := row.First + k
		if far {
			i = row.First + row.Count - 1 - k
		}
		v := f.Verdicts[i]
		if !v.ToLook() {
			continue
		}
		items = append(items, ReviewItem{Vine: i, Address: g.Address(i).String(), Verdict: v, Run: runs[i-row.First], Reasons: f.Explain(i)})
	}
	return items
}

// ToLook tells whether a person should look at the position: it is no living vine
// and nobody confirmed that, or the evidence contradicts itself.
func (v Verdict) ToLook() bool {
	return v.Contradictions != 0 || v.State > Living && !v.Confirmed
}

// runs gives for each vine of a row how many gaps or suspected gaps lie side by
// side there.
func (f *Findings) runs(row stand.Row) []int {
	runs := make([]int, row.Count)
	for from := 0; from < row.Count; {
		to := from
		for to < row.Count && f.open(row.First+to) {
			to++
		}
		for k := from; k < to; k++ {
			runs[k] = to - from
		}
		from = max(to, from+1)
	}
	return runs
}

func (f *Findings) open(i int) bool {
	s := f.Verdicts[i].State
	return s.Gap() || s == Suspected
}

// Answer is what a person said to an item of the review list.
type Answer struct {
	Vine  int
	By    string
	Day   Day
	State State // what stands there: Living, Missing, DeadStanding, DeadAboveGraft or Doubtful
}

// Sighting turns an answer into evidence: a confirmed sighting. The error wraps
// ErrEvidence where a person cannot have seen that state, or day or name lack.
func (a Answer) Sighting() (Sighting, error) {
	s := Sighting{Vine: int32(a.Vine), Day: a.Day, By: a.By, Confirmed: true}
	switch a.State {
	case Living:
		s.Condition = vine.Bearing
	case Missing:
		s.Condition = vine.Missing
	case DeadStanding, DeadAboveGraft:
		s.Condition, s.AboveGraft = vine.Dead, a.State == DeadAboveGraft
	case Doubtful:
		s.Condition = vine.Doubtful
	default:
		return s, wrong(ErrEvidence, "answer: state", a.State, "living, missing, dead standing, dead above graft or doubtful")
	}
	if a.By == "" || a.Day == 0 {
		return s, wrong(ErrEvidence, "answer: who and when", a.By+" "+a.Day.String(), "a name and a day: only a person's word confirms")
	}
	return s, nil
}
