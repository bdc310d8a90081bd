package stand

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"

	"courson/geo/vine"
)

// The numbers of conditions and of states of progress.
const (
	conditions = int(vine.Doubtful) + 1
	progresses = int(vine.Skipped) + 1
)

// ByCondition counts vines by condition; in JSON an object with every
// condition's word.
type ByCondition [conditions]int

// ByProgress counts living vines by progress of pruning; in JSON an object with
// every state's word.
type ByProgress [progresses]int

// MarshalJSON writes the words in the order of the legend.
func (c ByCondition) MarshalJSON() ([]byte, error) {
	return countsJSON(c[:], func(i int) string { return vine.Condition(i).String() }), nil
}

// MarshalJSON writes the words in the order of the legend.
func (p ByProgress) MarshalJSON() ([]byte, error) {
	return countsJSON(p[:], func(i int) string { return vine.Progress(i).String() }), nil
}

// UnmarshalJSON reads what MarshalJSON writes; words that are not known are
// refused.
func (c *ByCondition) UnmarshalJSON(data []byte) error {
	counts := map[vine.Condition]int{}
	if err := json.Unmarshal(data, &counts); err != nil {
		return err
	}
	for k, n := range counts {
		c[k] = n
	}
	return nil
}

// UnmarshalJSON reads what MarshalJSON writes; words that are not known are
// refused.
func (p *ByProgress) UnmarshalJSON(data []byte) error {
	counts := map[vine.Progress]int{}
	if err := json.Unmarshal(data, &counts); err != nil {
		return err
	}
	for k, n := range counts {
		p[k] = n
	}
	return nil
}

func countsJSON(counts []int, word func(int) string) []byte {
	var b bytes.Buffer
	for i, n := range counts {
		fmt.Fprintf(&b, `,"%s":%d`, word(i), n)
	}
	out := append(b.Bytes(), '}')
	out[0] = '{'
	return out
}

// Totals sums up a block or a row in one season.
type Totals struct {
	Vines     int         `json:"vines"` // positions
	Condition ByCondition `json:"condition"`
	Vigour    [6]int      `json:"vigour"` // [0] without a class
	Progress  ByProgress  `json:"progress"`
	// Load counts living vines by class of the nodes planned; [0] without a plan.
	Load [7]int `json:"load"`
	// FollowUps counts living vines by the job at shoot thinning (vine.FollowUp).
	FollowUps [4]int `json:"follow_ups"`
	ToPrune   int    `json:"to_prune"` // living vines
	Gaps      int    `json:"gaps"`     // dead or missing

	WeightMeanG *float64 `json:"weight_mean_g,omitempty"` // of the weighed vines; nil without any
	Weighed     int      `json:"weighed"`
	YieldMeanG  *float64 `json:"yield_mean_g,omitempty"` // of the vines with a yield; nil without any
	// YieldCV is the standard deviation of the yields over their mean, as a share
	// of 1; of a sample (divisor n - 1), nil below two vines or for no fruit.
	YieldCV *float64 `json:"yield_cv,omitempty"`
	Yielded int      `json:"yielded"`

	NodesPlanned int `json:"nodes_planned"`
	NodesLeft    int `json:"nodes_left"` // where the pruner said how many
	Clashes      int `json:"clashes"`    // vines about which devices disagree

	// Replants counts places by Replanting; nil until that is worked out.
	Replants *[Replantings]int `json:"replants,omitempty"`
	// Zones counts living vines by zone for rates; [0] in none. nil until that is
	// worked out.
	Zones *[MostZones + 1]int `json:"zones,omitempty"`
	// Patches, Change and Doubt count living vines by PatchOf, ChangeOf and DoubtOf;
	// nil until they are worked out.
	Patches *[PatchLikely + 1]int `json:"patches,omitempty"`
	Change  *[6]int               `json:"change,omitempty"`
	Doubt   *[5]int               `json:"doubt,omitempty"`
}

// TotalsOf sums up the whole block.
func TotalsOf(s *Stand) Totals { return s.sum(0, s.Ground.Len()) }

// RowTotals sums up each row, in their order.
func RowTotals(s *Stand) []Totals {
	out := make([]Totals, len(s.Ground.Rows))
	for r, row := range s.Ground.Rows {
		out[r] = s.sum(row.First, row.First+row.Count)
	}
	return out
}

// Done is the number of living vines that are pruned.
func (t Totals) Done() int { return t.Progress[vine.Done] }

// ToDo is the number of living vines still to be pruned: neither done nor
// skipped.
func (t Totals) ToDo() int { return t.ToPrune - t.Progress[vine.Done] - t.Progress[vine.Skipped] }

func (s *Stand) sum(first, end int) Totals {
	t := Totals{Vines: end - first}
	if s.Found != nil {
		t.Replants, t.Zones = &[Replantings]int{}, &[MostZones + 1]int{}
		t.Patches, t.Change, t.Doubt = &[PatchLikely + 1]int{}, &[6]int{}, &[5]int{}
	}
	var weight, yield tally
	for i := first; i < end; i++ {
		t.count(s, i)
		weight.add(s.WeightG[i])
		yield.add(s.YieldG[i])
	}
	t.Gaps = t.Vines - t.ToPrune
	t.Weighed, t.WeightMeanG = weight.n, weight.meanOf()
	t.Yielded, t.YieldMeanG, t.YieldCV = yield.n, yield.meanOf(), yield.cv()
	return t
}

func (t *Totals) count(s *Stand, i int) {
	c, p := s.Condition[i], s.Progress[i]
	t.Condition[min(int(c), conditions-1)]++
	t.Vigour[min(s.Vigour[i], 5)]++
	if c.Living() {
		t.ToPrune++
		t.Progress[min(int(p), progresses-1)]++
		t.Load[min(s.LoadOf(i), 6)]++
		t.FollowUps[min(int(s.FollowOf(i)), 3)]++
		if s.Found != nil {
			t.Zones[min(s.ZoneOf(i), MostZones)]++
			t.Patches[min(s.PatchOf(i), PatchLikely)]++
			t.Change[min(s.ChangeOf(i), 5)]++
			t.Doubt[min(s.DoubtOf(i), 4)]++
		}
	}
	if s.Nodes[i] != None {
		t.NodesPlanned += int(s.Nodes[i])
	}
	if s.Left[i] != None {
		t.NodesLeft += int(s.Left[i])
	}
	if s.Flags[i]&FlagClash != 0 {
		t.Clashes++
	}
	if t.Replants != nil {
		t.Replants[min(s.ReplantOf(i), Replantings-1)]++
	}
}

// tally keeps mean and spread of values as they come (B. P. Welford, Note on a
// method for calculating corrected sums of squares and products, Technometrics
// 4, 1962, 419-420).
type tally struct {
	n        int
	mean, m2 float64
}

// add takes a value in; one below 0 is none.
func (t *tally) add(v float32) {
	if v < 0 {
		return
	}
	t.n++
	d := float64(v) - t.mean
	t.mean += d / float64(t.n)
	t.m2 += d * (float64(v) - t.mean)
}

func (t *tally) meanOf() *float64 {
	if t.n == 0 {
		return nil
	}
	mean := t.mean
	return &mean
}

func (t *tally) cv() *float64 {
	if t.n < 2 || t.mean <= 0 {
		return nil
	}
	cv := math.Sqrt(t.m2/float64(t.n-1)) / t.mean
	return &cv
}
