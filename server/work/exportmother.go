package work

import (
	"context"

	"courson/geo/vine"
	"courson/store"
)

// layerPlant says of a plant that is a layer whose cane it is, and whether it was cut
// from her.
type layerPlant struct {
	mother  string // her address
	severed bool
}

// layersIn gives the vines of a block whose present plant is a layer, going by the
// records given; of one whose mother stands in another block since a split nothing
// is told. Only vines that some record calls a layer are folded.
func layersIn(ctx context.Context, st reader, b store.Block, events []store.LoggedEvent) (map[vine.ID]layerPlant, error) {
	told := map[vine.ID]bool{}
	for _, e := range events {
		if s, ok := e.Body.(vine.Sighting); ok && s.Mother != 0 {
			for _, id := range e.Target.Vines {
				told[id] = true
			}
		}
	}
	if len(told) == 0 {
		return nil, nil
	}
	rows, err := st.Rows(ctx, b.ID)
	if err != nil {
		return nil, err
	}
	label := labelsOf(rows)
	var places []vine.Place
	address := map[vine.ID]string{}
	for v, err := range st.Vines(ctx, b.ID) {
		if err != nil {
			return nil, err
		}
		address[v.ID] = vine.Address{Block: b.Code, Row: label[v.Row], Number: v.Number}.String()
		if told[v.ID] {
			places = append(places, vine.Place{ID: v.ID, Row: v.Row, Block: b.ID, Planted: plantedSeason(v, b)})
		}
	}
	out := map[vine.ID]layerPlant{}
	vine.FoldMany(places, plainEvents(events), func(i int, life vine.Life) {
		p := life.Plantings[len(life.Plantings)-1]
		if mother := address[p.Mother]; p.Mother != 0 && p.To == 0 && mother != "" {
			out[places[i].ID] = layerPlant{mother: mother, severed: p.Severed != 0}
		}
	})
	return out, nil
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}
