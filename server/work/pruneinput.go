package work

import (
	"context"
	"fmt"

	"courson/geo/frame"
	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/store"
)

// PruneOptions are what is decided for one season.
type PruneOptions struct {
	// Drought: the wood comes from a drought year; the owner's wish for weak vines
	// then applies.
	Drought bool `json:"drought"`
	// UntreatedEvery prunes every n-th row as after any other year, so that the
	// year after both can be compared; 0: none.
	UntreatedEvery int `json:"untreated_every"`
}

// Check refuses what cannot be meant.
func (o PruneOptions) Check() error {
	if o.UntreatedEvery < 0 || o.UntreatedEvery == 1 || o.UntreatedEvery > 1000 {
		return fmt.Errorf("%w: options.untreated_every: found %d, wanted 0 (no row) or 2 to 1000", ErrStandards, o.UntreatedEvery)
	}
	return nil
}

// PruneJob says which block is to be planned and how.
type PruneJob struct {
	Block     store.Block
	Now       Measured       // of the season that is being prepared
	Vigour    *vigour.Result // of that; nil: estimated here
	Standards pruning.Standards
	Options   PruneOptions
}

// weakShootCM is the shoot length under which last year's wood counts as weak:
// shoots of 3 to 7 ft are normal (Fertilizing wine grapes: linking shoot growth to
// petiole nitrogen, University of Wisconsin).
const weakShootCM = 90

// input gathers what is known of the block's vines.
func (j *PruneJob) input(ctx context.Context, st reader) (*pruning.Block, error) {
	s := j.Now.Stand
	b := &pruning.Block{Stand: s, AreaHa: frame.WGS84.MultiPolygonArea(j.Block.Outline) / 1e4, Drought: j.Options.Drought}
	if err := j.growth(b); err != nil {
		return nil, err
	}
	if err := lastWinter(ctx, st, b); err != nil {
		return nil, err
	}
	if err := j.countShoots(ctx, st, b); err != nil {
		return nil, err
	}
	overrides, err := Overrides(ctx, st, s.Ground, s.Season)
	if err != nil {
		return nil, err
	}
	for _, o := range overrides {
		if i, ok := s.Ground.IndexOf(o.Vine); ok {
			b.Overrides = append(b.Overrides, o.decision(i))
		}
	}
	if n := j.Options.UntreatedEvery; n > 0 && j.Options.Drought {
		b.Treated = make([]bool, s.Ground.Len())
		for i, row := range s.Ground.Row {
			b.Treated[i] = (int(row)+1)%n != 0
		}
	}
	return b, nil
}

// growth puts in what last year's wood says.
func (j *PruneJob) growth(b *pruning.Block) error {
	s := j.Now.Stand
	v := j.Vigour
	if v == nil {
		var err error
		if v, err = j.Now.Vigour(nil, nil); err != nil {
			return fmt.Errorf("vigour of block %s, season %d: %w", s.Ground.Code, s.Season, err)
		}
		j.Vigour = v
	}
	n := s.Ground.Len()
	b.WeightG, b.WeightSE, b.WeightBasis = unknown(n), unknown(n), make([]pruning.Basis, n)
	b.OccupiedM, b.CaneG, b.WeakShoots = v.OccupiedM, v.CaneG, make([]int8, n)
	for i := range n {
		b.WeakShoots[i] = -1
		if v.Basis[i] == vigour.None {
			b.WeakShoots[i] = weakByScore(s, i)
			continue
		}
		b.WeightBasis[i] = pruning.Basis(v.Basis[i])
		b.WeightG[i] = 1000 * v.KgPerM[i] * v.OccupiedM[i]
		b.WeightSE[i] = 1000 * max(0, v.SE[i]) * v.OccupiedM[i]
	}
	for _, c := range j.Now.Columns {
		switch c.Quantity {
		case vine.CaneDiameter:
			b.CaneMM = c.Values
		case vine.ShootLength:
			for i, cm := range c.Values {
				if c.Known[i] {
					b.WeakShoots[i] = asFlag(cm < weakShootCM)
				}
			}
		}
	}
	return nil
}

// weakByScore takes the two lowest fifths of the scale for weak shoots, where
// there is no weight to go by; -1 where there is no score.
func weakByScore(s *stand.Stand, i int) int8 {
	if s.Score[i] < 0 {
		return -1
	}
	return asFlag(s.Rule.Scale.Class(float64(s.Score[i])) <= 2)
}

func asFlag(is bool) int8 {
	if is {
		return 1
	}
	return 0
}

func unknown(n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

// lastWinter puts in what was left on each vine last winter: as recorded, else,
// where the vine was pruned as instructed, as planned.
func lastWinter(ctx context.Context, st reader, b *pruning.Block) error {
	g, season := b.Stand.Ground, b.Stand.Season-1
	b.NodesLeft, b.CanesLeft = none16(g.Len()), none16(g.Len())
	planned, err := planOf(ctx, st, g, season)
	if err != nil {
		return err
	}
	for vs, err := range st.States(ctx, g.Block, season, 0) {
		if err != nil {
			return fmt.Errorf("what was left in block %s, season %d: %w", g.Code, season, err)
		}
		i, ok := g.IndexOf(vs.Vine)
		if !ok {
			continue
		}
		left := leftOn(vs.State, planned[vs.Vine])
		b.NodesLeft[i], b.CanesLeft[i] = int16(left.Nodes), int16(left.Canes)
	}
	return nil
}

// leftOn gives nodes and canes left in a winter, below 0 where nobody said.
func leftOn(st vine.State, planned store.PlanEntry) store.PlanEntry {
	out := store.PlanEntry{Nodes: -1, Canes: -1, Spurs: -1}
	if st.Work[vine.Pruning] != vine.Done {
		return out
	}
	if st.Pruned != nil {
		if nodes, ok := st.Pruned.NodesLeft(); ok {
			out.Nodes = nodes
			if _, canes, spurs, ok := st.Pruned.Totals(); ok && (st.Pruned.Canes != nil || len(st.Pruned.Arms) > 0) {
				out.Canes, out.Spurs = canes, spurs
			}
			return out
		}
	}
	if planned.Vine != 0 {
		return planned
	}
	return out
}

func none16(n int) []int16 {
	out := make([]int16, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

// planOf gives the newest pruning plan of a season by vine.
func planOf(ctx context.Context, st reader, g *stand.Ground, season int) (map[vine.ID]store.PlanEntry, error) {
	entries, err := st.PlanEntries(ctx, store.PlanPruning, season, g.Block)
	if err != nil {
		return nil, fmt.Errorf("pruning plan of block %s, season %d: %w", g.Code, season, err)
	}
	out := make(map[vine.ID]store.PlanEntry, len(entries))
	for _, e := range entries {
		out[e.Vine] = e
	}
	return out, nil
}
