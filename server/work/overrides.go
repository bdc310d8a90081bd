package work

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PlanOverride is the kind of plan that keeps what the agronomist decided vine by
// vine; whole for its block and season.
const PlanOverride store.PlanKind = "pruning-override"

// Override is an agronomist's decision for one vine.
type Override struct {
	Vine    vine.ID `json:"vine"`
	Address string  `json:"address"`
	Nodes   int     `json:"nodes"` // -1: as computed
	Canes   int     `json:"canes"` // -1: as computed
	Reason  string  `json:"reason"`
	By      string  `json:"by"`
}

// decision is what the planner takes; the vine stands at index i.
func (o *Override) decision(i int) pruning.Override {
	return pruning.Override{Vine: i, Nodes: o.Nodes, Canes: o.Canes, Reason: o.Reason, Author: o.By}
}

type overrideDetail struct {
	By string `json:"by"`
}

// Overrides gives those in force for a block and season.
func Overrides(ctx context.Context, st reader, g *stand.Ground, season int) ([]Override, error) {
	entries, err := st.PlanEntries(ctx, PlanOverride, season, g.Block)
	if err != nil {
		return nil, fmt.Errorf("overrides of block %s, season %d: %w", g.Code, season, err)
	}
	var out []Override
	for _, e := range entries {
		i, ok := g.IndexOf(e.Vine)
		if !ok {
			continue
		}
		var d overrideDetail
		if len(e.Detail) > 0 {
			if err := json.Unmarshal(e.Detail, &d); err != nil {
				return nil, fmt.Errorf("override of vine %s: %w", g.Address(i), err)
			}
		}
		out = append(out, Override{e.Vine, g.Address(i).String(), e.Nodes, e.Canes, e.Reason, d.By})
	}
	return out, nil
}

// OverrideJob sets or takes back overrides of some vines.
type OverrideJob struct {
	Season int
	By     string
	Reason string
	Vines  []vine.ID
	Nodes  int // -1: as computed
	Canes  int // -1: as computed
	Clear  bool
	Now    time.Time
}

// SaveOverrides writes a new version of a block's overrides in which those of
// the job's vines are set or gone.
func SaveOverrides(ctx context.Context, tx store.Tx, block vine.ID, job OverrideJob) error {
	if !job.Clear && (job.By == "" || job.Reason == "") {
		return fmt.Errorf("%w: an override wants by and reason", ErrStandards)
	}
	old, err := tx.PlanEntries(ctx, PlanOverride, job.Season, block)
	if err != nil {
		return err
	}
	named := make(map[vine.ID]bool, len(job.Vines))
	for _, id := range job.Vines {
		named[id] = true
	}
	var entries []store.PlanEntry
	for _, e := range old {
		if !named[e.Vine] {
			entries = append(entries, e)
		}
	}
	if !job.Clear {
		detail, err := json.Marshal(overrideDetail{job.By})
		if err != nil {
			return err
		}
		for _, id := range job.Vines {
			entries = append(entries, store.PlanEntry{Vine: id, Nodes: job.Nodes, Canes: job.Canes, Spurs: -1, Reason: job.Reason, Detail: detail})
		}
	}
	_, err = tx.SavePlan(store.Plan{Kind: PlanOverride, Season: job.Season, Block: block, Made: job.Now, By: job.By, Source: "override"}, entries)
	return err
}
