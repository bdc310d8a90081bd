package replant

import (
	"fmt"

	"courson/geo/vine"
)

// Plant is one plant that stood in a position.
type Plant struct {
	From int `json:"from"`         // season of its first leaf; 0 unknown
	To   int `json:"to,omitempty"` // last season it stood; 0: it still stands
	// Where it came from, as far as known.
	Batch     string `json:"batch,omitempty"`
	Grade     string `json:"grade,omitempty"`
	Cultivar  string `json:"cultivar,omitempty"`
	Clone     string `json:"clone,omitempty"`
	Rootstock string `json:"rootstock,omitempty"`
	Why       string `json:"why,omitempty"` // why it was lost
	Layer     *Layer `json:"layer,omitempty"`
}

// Layer says that a plant is a cane of a neighbour, laid into the ground. It
// stands on its own roots, so its Rootstock is empty.
type Layer struct {
	Mother  vine.ID `json:"mother"`            // position of the mother vine
	Laid    int     `json:"laid"`              // season before whose growth it was laid
	Severed int     `json:"severed,omitempty"` // season before whose growth it was cut from her; 0: still fed by her
}

// Leaf gives the plant's leaf in a season: its own, never the block's; 0 where it
// did not stand or its age is not known.
func (p Plant) Leaf(season int) int {
	if p.To != 0 && season > p.To {
		return 0
	}
	return vine.Leaf(p.From, season)
}

// OwnRooted tells whether the plant is a layer: not safe where phylloxera or
// harmful nematodes live (common practice).
func (p Plant) OwnRooted() bool { return p.Layer != nil }

// History is the plants of one position, in order of time.
type History struct {
	Vine   vine.ID `json:"vine"`
	Plants []Plant `json:"plants"`
}

// HistoryOf takes the plants that the record knows of a position.
func HistoryOf(id vine.ID, record []vine.Planting) History {
	h := History{Vine: id}
	for _, p := range record {
		plant := Plant{From: p.From, To: p.To, Batch: p.Batch, Grade: p.Grade, Clone: p.Clone, Rootstock: p.Rootstock, Why: p.Why}
		if p.Mother != 0 {
			plant.Layer = &Layer{Mother: p.Mother, Laid: p.From, Severed: p.Severed}
		}
		h.Plants = append(h.Plants, plant)
	}
	return h
}

// In gives the plant that stood in a season. Where a plant went and the next came
// within one season, the next one counts.
func (h History) In(season int) (Plant, bool) {
	for k := len(h.Plants) - 1; k >= 0; k-- {
		p := h.Plants[k]
		if season >= p.From && (p.To == 0 || season <= p.To) {
			return p, true
		}
	}
	return Plant{}, false
}

// Leaf gives the leaf of what stood there in a season, 0 where nothing did or its
// age is not known.
func (h History) Leaf(season int) int {
	p, _ := h.In(season)
	return p.Leaf(season)
}

// Plant adds a new plant. The one before must be gone. The error wraps
// ErrHistory.
func (h History) Plant(p Plant) (History, error) {
	h.Plants = append(append([]Plant(nil), h.Plants...), p)
	return h, h.Check()
}

// Lose ends the present plant: season is the last one it stood.
func (h History) Lose(season int, why string) (History, error) {
	n := len(h.Plants)
	if n == 0 || h.Plants[n-1].To != 0 {
		return h, fmt.Errorf("%w: vine %d: no plant stands there that could be lost in %d", ErrHistory, h.Vine, season)
	}
	h.Plants = append([]Plant(nil), h.Plants...)
	h.Plants[n-1].To, h.Plants[n-1].Why = season, why
	return h, h.Check()
}

// Check wants plants one after the other and layers that can be. The error wraps
// ErrHistory.
func (h History) Check() error {
	for k, p := range h.Plants {
		bad := func(field string, found any, wanted string) error {
			return wrong(ErrHistory, fmt.Sprintf("vine %d, plant %d: %s", h.Vine, k+1, field), found, wanted)
		}
		for _, s := range []int{p.From, p.To} {
			if s != 0 && (s < vine.MinSeason || s > vine.MaxSeason) {
				return bad("season", s, fmt.Sprintf("%d to %d", vine.MinSeason, vine.MaxSeason))
			}
		}
		if p.To != 0 && p.To < p.From {
			return bad("last season", p.To, fmt.Sprintf("%d or later", p.From))
		}
		if k > 0 {
			switch before := h.Plants[k-1]; {
			case before.To == 0:
				return bad("from", p.From, fmt.Sprintf("that plant %d is gone first", k))
			case p.From < before.To:
				return bad("from", p.From, fmt.Sprintf("%d or later", before.To))
			}
		}
		if l := p.Layer; l != nil {
			if err := l.check(p, h.Vine, bad); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l Layer) check(p Plant, place vine.ID, bad func(string, any, string) error) error {
	switch {
	case l.Mother == 0 || l.Mother == place:
		return bad("mother vine", l.Mother, "another vine's id")
	case l.Laid != p.From:
		return bad("season laid", l.Laid, fmt.Sprintf("%d, that of its first leaf", p.From))
	case l.Severed != 0 && l.Severed <= l.Laid:
		return bad("season severed", l.Severed, fmt.Sprintf("after %d", l.Laid))
	case p.Rootstock != "":
		return bad("rootstock", p.Rootstock, "none: a layer stands on its own roots")
	}
	return nil
}

// LayerNotes tells, over the positions of a block, of layers whose mother did not
// stand when they were laid, or went while she still fed them, and of those that hang
// on her for long. name tells a position to people.
func LayerNotes(all []History, season int, name func(vine.ID) string) (out []string) {
	byID := make(map[vine.ID]int, len(all))
	for i, h := range all {
		byID[h.Vine] = i
	}
	for _, h := range all {
		for _, p := range h.Plants {
			if p.Layer != nil {
				out = append(out, layerNote(h.Vine, p, all, byID, season, name)...)
			}
		}
	}
	return out
}

func layerNote(id vine.ID, p Plant, all []History, byID map[vine.ID]int, season int, name func(vine.ID) string) (out []string) {
	l, layer, mother := p.Layer, name(id), name(p.Layer.Mother)
	k, ok := byID[l.Mother]
	if !ok {
		return []string{fmt.Sprintf("%s is a layer of %s, which is not in this block.", layer, mother)}
	}
	fed, ok := all[k].In(l.Laid)
	if !ok {
		return []string{fmt.Sprintf("%s is a layer of %s, where no plant stood in %d.", layer, mother, l.Laid)}
	}
	fedTo := l.Severed
	if fedTo == 0 {
		fedTo = season
	}
	if fed.To != 0 && fed.To+1 < fedTo {
		out = append(out, fmt.Sprintf("%s was fed by %s, which last stood in %d: look whether it lives.", layer, mother, fed.To))
	}
	if stands := p.To == 0 || p.To >= season; stands && l.Severed == 0 && season-l.Laid >= layerSeasons {
		out = append(out, fmt.Sprintf("%s has hung on its mother %s for %d seasons: cut it from her (after one or two, Layering grape vines, my-grape-vine.com), or leave it.", layer, mother, season-l.Laid))
	}
	return out
}

// layerSeasons: a layer is cut from its mother after a year or two.
const layerSeasons = 2
