package work

import (
	"courson/geo/vine"
)

// Layer is something that a block can be cut into zones from: a RateColumn, and on
// how many vines it rests.
type Layer struct {
	Of     string `json:"of"`
	Season int    `json:"season"`
	Vines  int    `json:"vines"`
}

// LayersOf tells which layers a season has.
func LayersOf(m Measured) (out []Layer) {
	measured, index := 0, 0
	count := func(known func(i int) bool) (n int) {
		for i, c := range m.Stand.Condition {
			if c.Living() && known(i) {
				n++
			}
		}
		return n
	}
	measured = max(count(func(i int) bool { return m.Stand.WeightG[i] >= 0 }), count(func(i int) bool { return m.Stand.Score[i] >= 0 }))
	for _, c := range m.Columns {
		n := count(func(i int) bool { return c.Known[i] })
		if c.Quantity == vine.CanopyIndex {
			index = n
		} else if c.Quantity != vine.Yield {
			measured = max(measured, n)
		}
	}
	if measured > 0 {
		out = append(out, Layer{"vigour", m.Stand.Season, measured})
	}
	if index > 0 {
		out = append(out, Layer{"canopy_index", m.Stand.Season, index})
	}
	return out
}
