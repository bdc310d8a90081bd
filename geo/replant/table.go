package replant

import (
	"cmp"
	"slices"
)

// YearLosses is what a block lost and gained in one season.
type YearLosses struct {
	Season int `json:"season"`
	// Stood is the positions with a plant in that season; Share is Lost over Stood.
	Stood int     `json:"stood"`
	Lost  int     `json:"lost"` // plants whose last season it was
	Share float64 `json:"share"`
	// Gaps are positions that held a plant before and none in that season.
	Gaps    int   `json:"gaps"`
	Planted int   `json:"planted"`  // plants in their first leaf, the first of a position left out
	ByCause []int `json:"by_cause"` // of Lost, in the order of LossTable.Causes
}

// LossTable is gaps by year and cause.
type LossTable struct {
	Causes []string     `json:"causes"` // most losses first; "unknown" where nothing was said
	Years  []YearLosses `json:"years"`
}

// Losses counts plants lost, gaps and replants of a block for the seasons from
// first to last. The error wraps ErrInput.
func Losses(all []History, first, last int) (LossTable, error) {
	if first > last || last-first > 500 {
		return LossTable{}, wrong(ErrInput, "seasons", spanText(first, last), "first to last, at most 500 years")
	}
	t := LossTable{Years: make([]YearLosses, last-first+1)}
	total := map[string]int{}
	for _, h := range all {
		for _, p := range h.Plants {
			if p.To >= first && p.To != 0 && p.To <= last {
				total[p.cause()]++
			}
		}
	}
	for c := range total {
		t.Causes = append(t.Causes, c)
	}
	slices.SortFunc(t.Causes, func(a, b string) int { return cmp.Or(cmp.Compare(total[b], total[a]), cmp.Compare(a, b)) })
	column := make(map[string]int, len(t.Causes))
	for k, c := range t.Causes {
		column[c] = k
	}
	for k := range t.Years {
		y := &t.Years[k]
		y.Season, y.ByCause = first+k, make([]int, len(t.Causes))
		for _, h := range all {
			h.countIn(y, column)
		}
		y.Share = share(y.Lost, y.Stood)
	}
	return t, nil
}

func (p Plant) cause() string { return cmp.Or(p.Why, "unknown") }

func (h History) countIn(y *YearLosses, column map[string]int) {
	if _, ok := h.In(y.Season); ok {
		y.Stood++
	} else if len(h.Plants) > 0 && h.Plants[0].From <= y.Season {
		y.Gaps++
	}
	for k, p := range h.Plants {
		if p.To == y.Season && p.To != 0 {
			y.Lost++
			y.ByCause[column[p.cause()]]++
		}
		if k > 0 && p.From == y.Season && p.From != 0 {
			y.Planted++
		}
	}
}
