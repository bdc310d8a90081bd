package work

import (
	"context"
	"fmt"
	"time"

	"courson/geo/stand"
	"courson/store"
)

// Source gives what was worked out of a block in the season of an export.
type Source interface {
	Stand(ctx context.Context, b store.Block) (*stand.Stand, error)
	Findings(ctx context.Context, b store.Block) (*Findings, error)
	Replants(ctx context.Context, b store.Block) (*Replants, error)
}

// FreshSource works everything out anew from a store.
type FreshSource struct {
	Store  store.Store
	Season int
	Now    func() time.Time
}

// Stand loads the vines of a block.
func (s FreshSource) Stand(ctx context.Context, b store.Block) (*stand.Stand, error) {
	m, err := MeasuredIn(ctx, s.Store, b, s.Season)
	return m.Stand, err
}

// Findings works out vigour, patches and change.
func (s FreshSource) Findings(ctx context.Context, b store.Block) (*Findings, error) {
	seasons, err := s.Store.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("seasons: %w", err)
	}
	return findBlockSeason(ctx, s.Store, b, s.Season, seasons)
}

// Replants judges gaps and picks candidates.
func (s FreshSource) Replants(ctx context.Context, b store.Block) (*Replants, error) {
	book, err := ReadRulebook(ctx, s.Store)
	if err != nil {
		return nil, err
	}
	settled, err := book.For(b)
	if err != nil {
		return nil, err
	}
	now, err := s.Stand(ctx, b)
	if err != nil {
		return nil, err
	}
	zone, err := zoneOf(ctx, s.Store)
	if err != nil {
		return nil, err
	}
	job := ReplantJob{Block: ShareBlock{Block: b, Stand: now, Settled: settled}, Zone: zone, Today: s.Now()}
	if job.Moves, err = ReplantMoves(ctx, s.Store, b.ID); err != nil {
		return nil, err
	}
	for back := 1; back < settled.Replants.Rules.WeakWinters; back++ {
		past, err := LoadStand(ctx, s.Store, now.Ground, s.Season-back)
		if err != nil {
			return nil, err
		}
		job.Past = append(job.Past, past)
	}
	return PlanReplants(ctx, s.Store, job)
}

// zoneOf is where the estate's clocks stand; UTC where this machine does not know
// the zone.
func zoneOf(ctx context.Context, st store.Store) (*time.Location, error) {
	e, err := st.Estate(ctx)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(e.Zone)
	if err != nil {
		return time.UTC, nil
	}
	return zone, nil
}
