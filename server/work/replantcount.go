package work

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"courson/geo/replant"
	"courson/geo/vine"
)

// ReplantSettings reads settings over those that count, and checks them; nothing
// leaves them as they are.
func ReplantSettings(base ReplantStandards, value json.RawMessage) (ReplantStandards, error) {
	if len(value) == 0 {
		return base, nil
	}
	if err := strictly(value, &base, ErrStandards); err != nil {
		return base, err
	}
	return base, base.check()
}

// SampleWish is a sample of rows to count: how many, drawn by which seed, and what
// was counted in them on a walk, by row; a row without such a count has that of
// the record.
type SampleWish struct {
	Rows    int             `json:"rows"`
	Seed    uint64          `json:"seed"`
	Counted map[vine.ID]int `json:"counted"`
}

// SampledRow is a row of a sample.
type SampledRow struct {
	ID        vine.ID `json:"id"`
	Label     string  `json:"row"`
	Positions int     `json:"positions"`
	Gaps      int     `json:"gaps"`    // by the record
	Counted   *int    `json:"counted"` // on a walk
}

// RowSample is the share of gaps from a sample of rows beside that of all.
type RowSample struct {
	Seed      uint64       `json:"seed"`
	Rows      []SampledRow `json:"rows"`
	Allowance float64      `json:"allowance"` // share by which people who count are taken to count too many
	Rate      replant.Rate `json:"rate"`
	Text      string       `json:"text"` // sample and full count side by side
}

// MostSampleRows is how many rows a sample may ask for.
const MostSampleRows = 1000

// Sample draws rows at random, the same for the same seed, and gives their share
// of gaps. A row without places is never drawn; nil where there are not two.
func (r *Replants) Sample(w SampleWish) (*RowSample, error) {
	var rows []int
	for k, row := range r.Stand.Ground.Rows {
		if row.Count > 0 {
			rows = append(rows, k)
		}
	}
	all := len(rows)
	n := min(max(w.Rows, 2), all)
	if n < 2 {
		return nil, nil
	}
	random := rand.New(rand.NewPCG(w.Seed, uint64(r.Stand.Ground.Block)))
	random.Shuffle(all, func(a, b int) { rows[a], rows[b] = rows[b], rows[a] })
	rows = rows[:n]
	slices.Sort(rows)
	out := &RowSample{Seed: w.Seed}
	counts := make([]replant.RowCount, n)
	for k, at := range rows {
		row := r.Stand.Ground.Rows[at]
		line := SampledRow{ID: row.ID, Label: row.Label, Positions: row.Count}
		for i := row.First; i < row.First+row.Count; i++ {
			if r.gap(i) {
				line.Gaps++
			}
		}
		counts[k] = replant.RowCount{Row: at, Positions: row.Count, Gaps: line.Gaps}
		if said, ok := w.Counted[row.ID]; ok {
			line.Counted, counts[k].Gaps, out.Allowance = &said, said, replant.DefaultAllowance
		}
		out.Rows = append(out.Rows, line)
	}
	var err error
	if out.Rate, err = replant.SampleRate(counts, all, out.Allowance, countLevel); err != nil {
		return nil, err
	}
	out.Text = replant.SideBySide(out.Rate, r.Full)
	return out, nil
}

// SourceCount is what one source by itself would make of the places.
type SourceCount struct {
	Source string         `json:"source"`
	Counts map[string]int `json:"counts"` // places by state; those it says nothing of are left out
	Of     int            `json:"of"`     // places it says anything of
}

// BySource counts places as each source sees them by itself. The verdicts are not
// their sum.
func (r *Replants) BySource() []SourceCount {
	out := make([]SourceCount, replant.Sources)
	for k := range out {
		out[k] = SourceCount{Source: replant.Source(k).String(), Counts: map[string]int{}}
	}
	for i := range r.Findings.Verdicts {
		for k, v := range r.Findings.BySource(i) {
			if v.State != replant.Unjudged {
				out[k].Counts[v.State.String()]++
				out[k].Of++
			}
		}
	}
	return out
}

// BatchSurvival is how long the plants of one delivery lasted.
type BatchSurvival struct {
	Batch string        `json:"batch"`
	Known bool          `json:"known"` // the delivery is named; else plants are put together by their first season
	Curve replant.Curve `json:"curve"`
}

// layersBatch stands in place of a delivery for what no nursery delivered.
const layersBatch = "layers of neighbours"

// survival gives the share of plants alive by delivery, the largest first. Those
// that were planted with the block and of which no delivery is named stand apart
// from replants, and layered vines from those of a nursery.
func survival(all []replant.History, season int) ([]BatchSurvival, error) {
	known := map[string]bool{}
	groups := replant.Lifetimes(all, season, func(p replant.Plant) string {
		if p.OwnRooted() {
			return layersBatch
		}
		if p.Batch != "" {
			known[p.Batch] = true
			return p.Batch
		}
		if p.From == 0 {
			return ""
		}
		return fmt.Sprintf("planted %d, delivery not named", p.From)
	})
	out := []BatchSurvival{}
	for batch, list := range groups {
		curve, err := replant.Survive(list, countLevel)
		if err != nil {
			return nil, err
		}
		if curve.Steps == nil {
			curve.Steps = []replant.Step{}
		}
		out = append(out, BatchSurvival{batch, known[batch], curve})
	}
	slices.SortFunc(out, func(a, b BatchSurvival) int {
		if a.Known != b.Known {
			if a.Known {
				return -1
			}
			return 1
		}
		if a.Curve.Plants != b.Curve.Plants {
			return b.Curve.Plants - a.Curve.Plants
		}
		return strings.Compare(a.Batch, b.Batch)
	})
	return out, nil
}

// whyWords are the reasons of a candidate, in the order of their bits.
var whyWords = [...]string{"missing", "dead standing", "dead above graft", "suspected", "doubtful", "sick", "weak", "neighbour of a sick vine"}

// WhyWords gives the reasons of a candidate as words to filter by.
func WhyWords(w replant.Why) []string {
	out := []string{}
	for k, word := range whyWords {
		if w&(1<<k) != 0 {
			out = append(out, word)
		}
	}
	return out
}

// OwnStock gives the plants in hand of the sorts that are needed.
func OwnStock(stock []replant.Stock, needs []replant.Need) (out []replant.Stock) {
	for _, s := range stock {
		if slices.ContainsFunc(needs, func(n replant.Need) bool { return n.Sort == s.Sort }) {
			out = append(out, s)
		}
	}
	return out
}
