package pruning

import "fmt"

// Ravaz is the crop load: yield divided by the prunings of the winter after that
// harvest, both in one unit. ok is false where the prunings weigh nothing.
func Ravaz(yieldKg, pruningKg float64) (index float64, ok bool) {
	if !(pruningKg > 0) || !(yieldKg >= 0) {
		return 0, false
	}
	return yieldKg / pruningKg, true
}

// Span is the range within which a figure is in balance.
type Span struct {
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Unit   string  `json:"unit,omitempty"`
	Source string  `json:"source"`
}

// Side says how a figure lies to a span.
type Side string

// The sides.
const (
	Under  Side = "under"
	Within Side = "within"
	Over   Side = "over"
)

// Side judges a figure; both ends belong to the span.
func (s Span) Side(v float64) Side {
	switch {
	case v < s.Low:
		return Under
	case v > s.High:
		return Over
	}
	return Within
}

// RavazSpan gives the span of balanced crop load for a case: "general", "single
// canopy", "divided canopy", "concord" or "pinot noir, cool".
func RavazSpan(kind string) (Span, error) {
	switch kind {
	case "general":
		return Span{5, 10, "", srcNZ}, nil
	case "single canopy":
		return Span{4, 10, "", "Kliewer W.M., Dokoozlian N.K., Am. J. Enol. Vitic. 56:170, 2005"}, nil
	case "divided canopy":
		return Span{5, 10, "", "Kliewer W.M., Dokoozlian N.K., Am. J. Enol. Vitic. 56:170, 2005"}, nil
	case "concord":
		return Span{10, 20, "", "Bates T., Cornell Lake Erie Research and Extension Laboratory"}, nil
	case "pinot noir, cool":
		return Span{3, 6, "", srcMemory}, nil
	}
	return Span{}, wrong(ErrInput, "kind of crop load", fmt.Sprintf("%q", kind), "general, single canopy, divided canopy, concord, or pinot noir, cool")
}

// SizeSpan gives the span of balanced pruning weight per metre of row for a
// single canopy, or per metre of canopy for a divided one, kg/m (Kliewer and
// Dokoozlian, 2005; warm California).
func SizeSpan(divided bool) Span {
	s := Span{0.5, 1.0, "kg/m", "Kliewer W.M., Dokoozlian N.K., Am. J. Enol. Vitic. 56:170, 2005"}
	if divided {
		s.Low, s.High = 0.4, 0.8
	}
	return s
}

// BudburstRead says what the ratio of shoots to nodes means.
type BudburstRead string

// The readings.
const (
	BudburstBlind    BudburstRead = "blind"     // blind nodes: too many were left
	BudburstRight    BudburstRead = "right"     // as many as were left
	BudburstNonCount BudburstRead = "non_count" // shoots from elsewhere: too few were left
)

// BudburstRatio is effective shoots divided by the count nodes left the winter
// before, and what it means: under 0.90 blind, over 1.10 non-count shoots
// (Practical Winery & Vineyard, June 2017). Count on canes rather than the head:
// with few nodes the head pushes shoots that nobody counted on (Epee P. et al.,
// OENO One 56(4), 2022). ok is false where no nodes were left.
func BudburstRatio(shoots, nodes float64) (ratio float64, read BudburstRead, ok bool) {
	if !(nodes > 0) || !(shoots >= 0) {
		return 0, "", false
	}
	ratio = shoots / nodes
	switch {
	case ratio < 0.90:
		read = BudburstBlind
	case ratio > 1.10:
		read = BudburstNonCount
	default:
		read = BudburstRight
	}
	return ratio, read, true
}

// Budburst sums up the spring count of a block.
type Budburst struct {
	Vines int                  `json:"vines"` // with both counts
	Ratio float64              `json:"ratio"` // all shoots to all nodes; 0 where there is none
	Read  BudburstRead         `json:"read"`
	By    map[BudburstRead]int `json:"by"` // vines by their own reading
}

// CountBudburst compares shoots counted in spring with nodes left, vine by vine;
// below 0 is not counted. The error wraps ErrInput.
func CountBudburst(shoots, nodes []int16) (Budburst, error) {
	out := Budburst{By: map[BudburstRead]int{}}
	if len(shoots) != len(nodes) {
		return out, wrong(ErrInput, "shoots", fmt.Sprint(len(shoots), " entries"), fmt.Sprintf("%d, as of nodes", len(nodes)))
	}
	var allShoots, allNodes float64
	for i := range shoots {
		_, read, ok := BudburstRatio(float64(shoots[i]), float64(nodes[i]))
		if !ok {
			continue
		}
		out.Vines++
		out.By[read]++
		allShoots += float64(shoots[i])
		allNodes += float64(nodes[i])
	}
	out.Ratio, out.Read, _ = BudburstRatio(allShoots, allNodes)
	return out, nil
}
