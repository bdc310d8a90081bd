package crew

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"courson/geo/vine"
)

// DoneVine is a vine done the day before.
type DoneVine struct {
	Vine   vine.ID `json:"vine"`
	Row    vine.ID `json:"row"`
	Label  string  `json:"label"` // the row's
	Number int     `json:"number"`
	Who    string  `json:"who"`
}

// CheckList draws vines to look at, at random: of each person's vines the given
// share, rounded up, and at least so many, as far as there are that many. The same
// seed and vines, in whatever order, give the same choice. The list is in the order
// of rows, as they first come in done, and numbers. The error wraps ErrCheck.
func CheckList(done []DoneVine, share float64, least int, seed uint64) ([]DoneVine, error) {
	if !(share >= 0 && share <= 1) || least < 0 {
		return nil, wrong(ErrCheck, "share and least number", fmt.Sprint(share, " and ", least), "0 to 1, and 0 and up")
	}
	byPerson := map[string][]DoneVine{}
	seen := map[vine.ID]bool{}
	rank := map[vine.ID]int{}
	for _, d := range done {
		if _, ok := rank[d.Row]; !ok {
			rank[d.Row] = len(rank)
		}
	}
	sorted := slices.Clone(done)
	slices.SortStableFunc(sorted, func(a, b DoneVine) int { return cmp.Or(cmp.Compare(a.Vine, b.Vine), cmp.Compare(a.Who, b.Who)) })
	var people []string
	for _, d := range sorted {
		if seen[d.Vine] {
			continue
		}
		seen[d.Vine] = true
		if byPerson[d.Who] == nil {
			people = append(people, d.Who)
		}
		byPerson[d.Who] = append(byPerson[d.Who], d)
	}
	slices.Sort(people)
	random := rand.New(rand.NewPCG(seed, 0x636865636b))
	var out []DoneVine
	for _, who := range people {
		own := byPerson[who]
		n := min(len(own), max(least, int(math.Ceil(share*float64(len(own))-tiny))))
		random.Shuffle(len(own), func(i, j int) { own[i], own[j] = own[j], own[i] })
		out = append(out, own[:n]...)
	}
	slices.SortFunc(out, func(a, b DoneVine) int {
		return cmp.Or(rank[a.Row]-rank[b.Row], cmp.Compare(a.Number, b.Number), cmp.Compare(a.Vine, b.Vine))
	})
	return out, nil
}

// Checked is a vine that was looked at.
type Checked struct {
	DoneVine
	Planned int  `json:"planned"` // nodes prescribed
	Found   int  `json:"found"`   // nodes found
	Fault   bool `json:"fault"`   // anything else that has to be done again
}

// Quality sums up checked vines.
type Quality struct {
	Of       string  `json:"of"` // the row's label, or whatever they were gathered by
	Checked  int     `json:"checked"`
	TooMany  int     `json:"too_many"` // nodes over the allowance
	TooFew   int     `json:"too_few"`
	Faults   int     `json:"faults"`    // vines with another fault
	Wrong    int     `json:"wrong"`     // vines with any of these
	MeanOff  float64 `json:"mean_off"`  // mean of found less planned: the leaning
	WrongLow float64 `json:"wrong_low"` // range of the share of wrong vines, 80 %
	WrongTop float64 `json:"wrong_top"`
}

// QualityOf sets what was found beside what was prescribed, gathered by what by
// gives, such as ByRow, in the order of their first vines. allowed is how many
// nodes more or less are no fault. The error wraps ErrCheck.
func QualityOf(list []Checked, allowed int, by func(Checked) string) ([]Quality, error) {
	if allowed < 0 {
		return nil, wrong(ErrCheck, "allowed", allowed, "0 nodes and up")
	}
	var out []Quality
	at := map[string]int{}
	for _, c := range list {
		if c.Planned < 0 || c.Found < 0 {
			return nil, wrong(ErrCheck, fmt.Sprintf("row %s, vine %d", c.Label, c.Number), fmt.Sprintf("%d nodes planned, %d found", c.Planned, c.Found), "0 and up")
		}
		key := by(c)
		k, ok := at[key]
		if !ok {
			k = len(out)
			at[key] = k
			out = append(out, Quality{Of: key})
		}
		out[k].count(c, allowed)
	}
	for k := range out {
		q := &out[k]
		q.MeanOff /= float64(q.Checked)
		q.WrongLow, q.WrongTop, _ = ShareRange(q.Wrong, q.Checked, 0.8)
	}
	return out, nil
}

func (q *Quality) count(c Checked, allowed int) {
	off := c.Found - c.Planned
	q.Checked++
	q.MeanOff += float64(off)
	switch {
	case off > allowed:
		q.TooMany++
	case off < -allowed:
		q.TooFew++
	}
	if c.Fault {
		q.Faults++
	}
	if c.Fault || off > allowed || off < -allowed {
		q.Wrong++
	}
}

// ByRow gathers checked vines by row.
func ByRow(c Checked) string { return c.Label }
