package server

import (
	"fmt"

	"courson/geo/patch"
)

// groupJSON is how the vines of one kind changed.
type groupJSON struct {
	Label    string      `json:"label"`
	LeafFrom int         `json:"leaf_from"` // 0: any leaf
	LeafTo   int         `json:"leaf_to"`
	Cultivar string      `json:"cultivar"` // empty: any
	Vines    pairedJSON  `json:"vines"`
	Rows     pairedJSON  `json:"rows"`
	Turned   *turnedJSON `json:"turned"`
}

type pairedJSON struct {
	N             int           `json:"n"`
	Before        float64       `json:"before"`
	After         float64       `json:"after"`
	Mean          float64       `json:"mean"`
	Median        float64       `json:"median"`
	SD            float64       `json:"sd"`
	Percent       float64       `json:"percent"`
	MedianPercent float64       `json:"median_percent"`
	Effect        float64       `json:"effect"`
	T             *studentJSON  `json:"t"`
	Rank          *rankTestJSON `json:"rank"`
}

type studentJSON struct {
	T    float64 `json:"t"`
	DF   float64 `json:"df"`
	P    float64 `json:"p"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

type rankTestJSON struct {
	V        float64 `json:"v"`
	P        float64 `json:"p"`
	Biserial float64 `json:"biserial"`
}

type turnedJSON struct {
	Sound      int     `json:"sound"`
	TurnedWeak int     `json:"turned_weak"`
	Recovered  int     `json:"recovered"`
	Weak       int     `json:"weak"`
	P          float64 `json:"p"`
}

func groupsOf(groups []patch.Group) []groupJSON {
	out := make([]groupJSON, len(groups))
	for i, g := range groups {
		out[i] = groupOf(g)
	}
	return out
}

func groupOf(g patch.Group) groupJSON {
	out := groupJSON{Label: "all vines", Vines: pairedOf(g.Vines), Rows: pairedOf(g.Rows)}
	if g.Leaf != nil {
		out.LeafFrom, out.LeafTo = g.Leaf.From, min(g.Leaf.To, 255) // 255: open
		out.Label = leafLabel(*g.Leaf)
	}
	if g.Cultivar != nil {
		out.Cultivar = *g.Cultivar
		if out.Label = *g.Cultivar; g.Leaf != nil {
			out.Label += ", " + leafLabel(*g.Leaf)
		}
	}
	if t := g.Turned; t != nil {
		out.Turned = &turnedJSON{t.Sound, t.TurnedWeak, t.Recovered, t.Weak, t.P}
	}
	return out
}

// oldest is the leaf from which a class is open to the top.
const oldest = 100

func leafLabel(c patch.LeafClass) string {
	switch {
	case c.From == 0 && c.To == 0:
		return "leaf not known"
	case c.From == c.To:
		return fmt.Sprintf("leaf %d", c.From)
	case c.To >= oldest:
		return fmt.Sprintf("leaf %d and later", c.From)
	}
	return fmt.Sprintf("leaf %d to %d", c.From, c.To)
}

func pairedOf(p patch.Paired) pairedJSON {
	out := pairedJSON{N: p.N, Before: p.MeanBefore, After: p.MeanAfter, Mean: p.Mean, Median: p.Median, SD: p.SD,
		Percent: p.Percent, MedianPercent: p.MedianPercent, Effect: p.Effect}
	if p.T != nil {
		out.T = &studentJSON{p.T.T, p.T.DF, p.T.P, p.T.Low, p.T.High}
	}
	if p.Rank != nil {
		out.Rank = &rankTestJSON{p.Rank.V, p.Rank.P, p.Rank.Biserial}
	}
	return out
}
