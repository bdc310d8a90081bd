package work

import (
	"cmp"
	"fmt"
	"slices"

	"courson/geo/rate"
	"courson/geo/stand"
)

// ZonesCompared is two zonings of one block side by side.
type ZonesCompared struct {
	Vines   int     `json:"vines"`   // in a zone of both
	Changed int     `json:"changed"` // of these, in a zone of another number
	Rand    float64 `json:"rand"`    // adjusted Rand index
	// Table counts the vines in zone i+1 of the first and zone j+1 of the second.
	Table [][]int     `json:"table"`
	Rows  []RowMoved  `json:"rows"` // where zones differ most, at most 20
	Rates *RatesMoved `json:"rates"`
}

// RowMoved counts what differs in a row.
type RowMoved struct {
	Row     string `json:"row"`
	Vines   int    `json:"vines"`
	Changed int    `json:"changed"`
}

// RatesMoved compares what two plans take; null where a plan has no rates or they
// measure different things.
type RatesMoved struct {
	Measure  string  `json:"measure"`
	Total    float64 `json:"total"` // of the first less the second
	Cost     float64 `json:"cost"`
	Material bool    `json:"material"` // both are of one material
}

const mostRowsMoved = 20

// CompareZones compares two kept zonings on the ground as it is now. Errors wrap
// ErrRates.
func CompareZones(g *stand.Ground, now, with *KeptZones) (*ZonesCompared, error) {
	a, b := now.Column(g), with.Column(g)
	got, err := rate.Agree(a, b)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrRates, err)
	}
	out := &ZonesCompared{Vines: got.Vines, Changed: got.Changed, Rand: got.Rand, Table: got.Table, Rows: []RowMoved{}}
	for _, row := range g.Rows {
		m := RowMoved{Row: row.Label}
		for i := row.First; i < row.First+row.Count; i++ {
			if a[i] == 0 || b[i] == 0 {
				continue
			}
			m.Vines++
			if a[i] != b[i] {
				m.Changed++
			}
		}
		if m.Changed > 0 {
			out.Rows = append(out.Rows, m)
		}
	}
	out.worst()
	if p, q := now.View.Rates, with.View.Rates; p != nil && q != nil && p.Measure == q.Measure {
		out.Rates = &RatesMoved{p.Measure, p.Total - q.Total, p.Cost - q.Cost, p.Material == q.Material}
	}
	return out, nil
}

// worst keeps the rows that differ most, the most first.
func (c *ZonesCompared) worst() {
	slices.SortStableFunc(c.Rows, func(a, b RowMoved) int { return cmp.Compare(b.Changed, a.Changed) })
	c.Rows = c.Rows[:min(len(c.Rows), mostRowsMoved)]
}
