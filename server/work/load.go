// Package work does what the pages and the program's commands both need: take
// files into a store, write them out again, and load a block's vines as the
// columns that everything is computed from. It knows no HTTP.
package work

import (
	"context"
	"fmt"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// LoadGround reads where the vines of a block stand. The ground's frame is
// centred on the block's outline, or on its rows where it has none. It is
// wrapped store.ErrNotFound when there is no such block.
func LoadGround(ctx context.Context, st store.Ground, id vine.ID) (*stand.Ground, store.Block, []store.Row, error) {
	b, err := findBlock(ctx, st, id)
	if err != nil {
		return nil, store.Block{}, nil, err
	}
	g, rows, err := GroundOf(ctx, st, b)
	return g, b, rows, err
}

// findBlock gives the block's record as it stands now.
func findBlock(ctx context.Context, st store.Ground, id vine.ID) (store.Block, error) {
	blocks, err := st.Blocks(ctx)
	if err != nil {
		return store.Block{}, fmt.Errorf("look for block %d: %w", id, err)
	}
	for _, b := range blocks {
		if b.ID == id {
			return b, nil
		}
	}
	return store.Block{}, fmt.Errorf("block %d: %w", id, store.ErrNotFound)
}

// BlocksOf gives the blocks of these codes, all where none is named. A code that
// is not known is wrapped store.ErrNotFound.
func BlocksOf(ctx context.Context, st store.Ground, codes []string) ([]store.Block, error) {
	blocks, err := st.Blocks(ctx)
	if err != nil || len(codes) == 0 {
		return blocks, err
	}
	var out []store.Block
	for _, code := range codes {
		i := slices.IndexFunc(blocks, func(b store.Block) bool { return b.Code == code })
		if i < 0 {
			return nil, fmt.Errorf("block %q: %w", code, store.ErrNotFound)
		}
		out = append(out, blocks[i])
	}
	return out, nil
}

// GroundOf is LoadGround for a block whose record has been read already. The
// ground carries that record's revision: when the block changed since, it shows
// the older revision and the next look at it loads anew.
func GroundOf(ctx context.Context, st store.Ground, b store.Block) (*stand.Ground, []store.Row, error) {
	rows, err := st.Rows(ctx, b.ID)
	if err != nil {
		return nil, nil, fmt.Errorf("rows of block %s: %w", b.Code, err)
	}
	g, err := buildGround(ctx, st, b, rows)
	if err != nil {
		return nil, nil, fmt.Errorf("ground of block %s: %w", b.Code, err)
	}
	return g, rows, nil
}

func buildGround(ctx context.Context, st store.Ground, b store.Block, rows []store.Row) (*stand.Ground, error) {
	var f frame.Frame
	var build *stand.Builder
	begin := func(first orb.Point) {
		f = blockFrame(b, rows, first)
		build = stand.NewBuilder(stand.Ground{Block: b.ID, Code: b.Code, Revision: b.GroundRev, Origin: f.Origin(),
			RowSpacingM: b.RowSpacingM, VineSpacingM: b.VineSpacingM})
	}
	row := -1
	next := func() {
		row++
		r := rows[row]
		build.Row(r.ID, r.Label, r.SpacingM)
		if first, last, ok := lineEnds(r.Line); ok {
			build.Ends(first, last)
		}
	}
	for v, err := range st.Vines(ctx, b.ID) {
		if err != nil {
			return nil, err
		}
		if build == nil {
			begin(v.Point)
		}
		for row < 0 || rows[row].ID != v.Row {
			if row == len(rows)-1 {
				return nil, fmt.Errorf("vine %d stands in row %d, which was not read: %w", v.ID, v.Row, store.ErrConflict)
			}
			next()
		}
		x, y := f.Forward(v.Point)
		build.Vine(stand.Position{ID: v.ID, Number: v.Number, ChainageM: v.ChainageM, Part: v.Part,
			Lon: v.Point[0], Lat: v.Point[1], X: x, Y: y, Planted: plantedSeason(v, b)})
	}
	if build == nil {
		begin(orb.Point{})
	}
	for row < len(rows)-1 {
		next()
	}
	return build.Ground()
}

// blockFrame gives the frame of a block: centred on its outline, else on its
// rows, else on its first vine.
func blockFrame(b store.Block, rows []store.Row, first orb.Point) frame.Frame {
	if f, err := frame.ForGeometry(b.Outline); err == nil {
		return f
	}
	var lines orb.Collection
	for _, r := range rows {
		lines = append(lines, r.Line)
	}
	if f, err := frame.ForGeometry(lines); err == nil {
		return f
	}
	return frame.New(first)
}

// lineEnds gives the numbering end and the far end of a row's line.
func lineEnds(l orb.MultiLineString) (first, last orb.Point, ok bool) {
	for _, part := range l {
		if len(part) == 0 {
			continue
		}
		if !ok {
			first, ok = part[0], true
		}
		last = part[len(part)-1]
	}
	return first, last, ok
}

// plantedSeason is the season of the first leaf of a vine's first plant: its
// own, else its block's; 0 unknown.
func plantedSeason(v store.Vine, b store.Block) int {
	if v.Planted != 0 {
		return v.Planted
	}
	return b.Planted
}

// reader is what a store and a transaction both give.
type reader interface {
	store.Ground
	store.Log
	store.Plans
}

// RuleOf says how measures become classes of vigour in a block.
func RuleOf(ctx context.Context, st reader, estate store.Estate, b store.Block) (stand.Rule, error) {
	book, err := ReadRulebook(ctx, st)
	if err != nil {
		return stand.Rule{}, err
	}
	return book.Rule(estate, b)
}

// LoadStand gives the columns of a season on a ground: the states that the log
// gives and the nodes of the newest pruning plan. Scores are on the estate's
// scale. Its revision is the block's before the states were read, so that a
// change made meanwhile is looked for again.
func LoadStand(ctx context.Context, st reader, g *stand.Ground, season int) (*stand.Stand, error) {
	estate, err := st.Estate(ctx)
	if err != nil {
		return nil, fmt.Errorf("stand of block %s, season %d: %w", g.Code, season, err)
	}
	b, err := findBlock(ctx, st, g.Block)
	if err != nil {
		return nil, fmt.Errorf("stand of block %s, season %d: %w", g.Code, season, err)
	}
	s := stand.NewStand(g, season, b.Revision)
	if s.Rule, err = RuleOf(ctx, st, estate, b); err != nil {
		return nil, fmt.Errorf("stand of block %s, season %d: %w", g.Code, season, err)
	}
	for vs, err := range st.States(ctx, g.Block, season, 0) {
		if err != nil {
			return nil, fmt.Errorf("states of block %s, season %d: %w", g.Code, season, err)
		}
		// A vine that is not on this ground is newer than it; the ground's
		// revision tells that it must be loaded anew.
		if i, ok := g.IndexOf(vs.Vine); ok {
			s.Set(i, vs.State, vs.Changed)
		}
	}
	plan, err := st.PlanEntries(ctx, store.PlanPruning, season, g.Block)
	if err != nil {
		return nil, fmt.Errorf("pruning plan of block %s, season %d: %w", g.Code, season, err)
	}
	for _, e := range plan {
		if i, ok := g.IndexOf(e.Vine); ok {
			s.SetPlan(i, e.Nodes, b.Revision)
		}
	}
	return s, nil
}
