package server

import (
	"context"
	"fmt"
	"slices"
	"time"

	"courson/geo/vine"
	"courson/server/stands"
	"courson/store"
)

type vineSeasonJSON struct {
	Season      int                    `json:"season"`
	Leaf        int                    `json:"leaf"`
	Condition   vine.Condition         `json:"condition"`
	Cause       string                 `json:"cause,omitempty"`
	SeenAt      *time.Time             `json:"seen_at,omitempty"`
	LookAgain   *time.Time             `json:"look_again,omitempty"`
	Measures    map[string]readingJSON `json:"measures"`
	Vigour      uint8                  `json:"vigour"`
	WeightGPerM *float64               `json:"weight_g_per_m"`
	Pruned      *prunedJSON            `json:"pruned"`
	Progress    vine.Progress          `json:"progress"`
	Plan        *planJSON              `json:"plan"`
	Clashes     []vine.Clash           `json:"clashes"`
}

type readingJSON struct {
	Value float64   `json:"value"`
	Unit  string    `json:"unit"`
	Scale string    `json:"scale,omitempty"`
	At    time.Time `json:"at"`
}

type prunedJSON struct {
	Nodes  *int       `json:"nodes,omitempty"`
	Canes  *int       `json:"canes,omitempty"`
	Spurs  *int       `json:"spurs,omitempty"`
	Arms   []vine.Arm `json:"arms,omitempty"`
	Reason string     `json:"reason,omitempty"`
	At     time.Time  `json:"at"`
	By     string     `json:"by"`
}

type planJSON struct {
	Nodes  *int   `json:"nodes,omitempty"`
	Canes  *int   `json:"canes,omitempty"`
	Spurs  *int   `json:"spurs,omitempty"`
	Reason string `json:"reason,omitempty"`
}

// vineSeason joins what the record says of a vine in a season with what the
// stand and the plan say.
func (s *Server) vineSeason(ctx context.Context, v store.Vine, season int, st vine.State) (vineSeasonJSON, error) {
	view, err := s.stands.Stand(ctx, v.Block, season)
	if err != nil {
		return vineSeasonJSON{}, err
	}
	i, ok := view.Find(v.ID)
	if !ok {
		return vineSeasonJSON{}, fmt.Errorf("vine %d: %w", v.ID, store.ErrNotFound)
	}
	c := view.Stand
	ans := vineSeasonJSON{Season: season, Leaf: int(c.Leaf[i]), Condition: st.Condition, Cause: st.Cause,
		SeenAt: timeOrNil(st.SeenAt), LookAgain: timeOrNil(st.LookAgain), Measures: measuresOf(st),
		Vigour: c.Vigour[i], Pruned: prunedOf(st), Progress: st.Work[vine.Pruning], Clashes: orEmpty(st.Clashes)}
	if perM, ok := c.WeightPerMetre(i); ok {
		ans.WeightGPerM = &perM
	}
	ans.Plan, err = s.planOf(ctx, view, v.ID, season)
	return ans, err
}

// planOf gives what the pruning plan says of one vine; nil where it says
// nothing.
func (s *Server) planOf(ctx context.Context, view *stands.View, id vine.ID, season int) (*planJSON, error) {
	if !view.Planned {
		return nil, nil
	}
	entries, err := s.cfg.Store.PlanEntries(ctx, store.PlanPruning, season, view.ID)
	if err != nil {
		return nil, fmt.Errorf("pruning plan of block %s season %d: %w", view.Code, season, err)
	}
	i := slices.IndexFunc(entries, func(e store.PlanEntry) bool { return e.Vine == id })
	if i < 0 {
		return nil, nil
	}
	e := entries[i]
	return &planJSON{Nodes: said(e.Nodes), Canes: said(e.Canes), Spurs: said(e.Spurs), Reason: e.Reason}, nil
}

// said turns "below 0 means not said" into nil.
func said(n int) *int {
	if n < 0 {
		return nil
	}
	return &n
}

func measuresOf(st vine.State) map[string]readingJSON {
	out := make(map[string]readingJSON, len(st.Measures))
	for q, m := range st.Measures {
		out[string(q)] = readingJSON{Value: m.Value, Unit: q.Unit(), Scale: m.Scale, At: m.At}
	}
	return out
}

func prunedOf(st vine.State) *prunedJSON {
	if st.Pruned == nil {
		return nil
	}
	out := &prunedJSON{Arms: st.Pruned.Arms, Reason: st.Pruned.Reason, At: st.PrunedAt, By: st.PrunedBy,
		Nodes: st.Pruned.Nodes, Canes: st.Pruned.Canes, Spurs: st.Pruned.Spurs}
	if len(st.Pruned.Arms) > 0 {
		nodes, canes, spurs, _ := st.Pruned.Totals()
		out.Nodes, out.Canes, out.Spurs = &nodes, &canes, &spurs
	}
	return out
}

func timeOrNil(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}
