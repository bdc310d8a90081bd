package access

import (
	"context"
	"encoding/json"
	"fmt"

	"courson/geo/vine"
	"courson/store"
)

// Covers tells whether a crew has open work in a row.
func (g *Gate) Covers(ctx context.Context, crew string, row vine.ID) (bool, error) {
	return g.cfg.Covers(ctx, crew, row)
}

// coveredByOrders looks the row up in the crew's open orders. No order is for a
// whole block at once; a row is one thing whichever block it is in.
func (g *Gate) coveredByOrders(ctx context.Context, crew string, row vine.ID) (bool, error) {
	if crew == "" || row == 0 {
		return false, nil
	}
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindOrder})
	if err != nil {
		return false, err
	}
	for _, p := range list {
		var o struct {
			Crew  string `json:"crew"`
			State string `json:"state"`
			Rows  []struct {
				Row vine.ID `json:"row"`
			} `json:"rows"`
		}
		if err := json.Unmarshal(p.Value, &o); err != nil {
			return false, fmt.Errorf("read order %s: %w", p.Key, err)
		}
		if o.Crew != crew || o.State != "open" {
			continue
		}
		for _, r := range o.Rows {
			if r.Row == row {
				return true, nil
			}
		}
	}
	return false, nil
}
