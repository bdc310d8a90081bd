package access

import (
	"context"
	"encoding/json"
	"fmt"

	"courson/geo/vine"
	"courson/store"
)

// VineAt is a vine of a block.
type VineAt struct{ Block, Vine vine.ID }

// HandedToWeigh gives the vines on open lists to weigh that a crew was handed, by
// its name or with all crews.
func (g *Gate) HandedToWeigh(ctx context.Context, crew string) (map[VineAt]bool, error) {
	return g.handed(ctx, kindWeighing, crew)
}

// HandedToLook gives the places on open lists of gaps to look at, in the same way.
func (g *Gate) HandedToLook(ctx context.Context, crew string) (map[VineAt]bool, error) {
	return g.handed(ctx, kindReview, crew)
}

func (g *Gate) handed(ctx context.Context, kind store.PaperKind, crew string) (map[VineAt]bool, error) {
	out := map[VineAt]bool{}
	if crew == "" {
		return out, nil
	}
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kind})
	if err != nil {
		return nil, err
	}
	for _, p := range list {
		var l struct {
			Crew  string    `json:"crew"`
			Block vine.ID   `json:"block"`
			State string    `json:"state"`
			Vines []vine.ID `json:"vines"`
		}
		if err := json.Unmarshal(p.Value, &l); err != nil {
			return nil, fmt.Errorf("read list %s %s: %w", kind, p.Key, err)
		}
		if l.State != "open" || l.Crew != "" && l.Crew != crew {
			continue
		}
		for _, id := range l.Vines {
			out[VineAt{l.Block, id}] = true
		}
	}
	return out, nil
}
