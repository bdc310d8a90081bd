package tile

import (
	"errors"
	"fmt"

	"courson/geo/stand"
)

// ErrView says that a stand cannot be drawn because its columns do not fit its
// ground.
var ErrView = errors.New("stand does not fit its ground")

// BlockView is a block in one season, ready to be drawn. Make one with NewView
// whenever the stand changes; Index and Outline last as long as the ground
// does. It is never changed, so many tiles can be drawn from it at once.
type BlockView struct {
	Stand   *stand.Stand
	Index   *Index   // of Stand.Ground
	Outline *Outline // may be nil
	Name    string
	Variety string

	sums  *sums
	areas Areas
}

// WithAreas gives the view with areas drawn over it.
func (v BlockView) WithAreas(areas Areas) BlockView {
	v.areas = areas
	return v
}

// NewView sums up a stand for drawing, about 3 ns per vine. A nil index is made
// from the stand's ground.
func NewView(s *stand.Stand, ix *Index, o *Outline, name, variety string) (BlockView, error) {
	if err := checkStand(s); err != nil {
		return BlockView{}, err
	}
	if ix == nil {
		ix = NewIndex(s.Ground)
	}
	if ix.ground != s.Ground {
		return BlockView{}, fmt.Errorf("%w: block %s: the index belongs to ground revision %d, the stand to %d",
			ErrView, s.Ground.Code, ix.ground.Revision, s.Ground.Revision)
	}
	return BlockView{Stand: s, Index: ix, Outline: o, Name: name, Variety: variety, sums: sumPieces(ix, s)}, nil
}

// checkStand refuses columns of unequal length and rows that are no runs of
// the ground's vines.
func checkStand(s *stand.Stand) error {
	if s == nil || s.Ground == nil {
		return fmt.Errorf("%w: there is no ground", ErrView)
	}
	g := s.Ground
	n := g.Len()
	for _, c := range []struct {
		name string
		len  int
	}{
		{"row", len(g.Row)}, {"number", len(g.Number)}, {"wx", len(g.WX)}, {"wy", len(g.WY)},
		{"condition", len(s.Condition)}, {"leaf", len(s.Leaf)}, {"progress", len(s.Progress)},
		{"vigour", len(s.Vigour)}, {"nodes", len(s.Nodes)},
	} {
		if c.len != n {
			return fmt.Errorf("%w: block %s: column %s has %d entries for %d vines", ErrView, g.Code, c.name, c.len, n)
		}
	}
	at := 0
	for i, r := range g.Rows {
		if r.First != at || r.Count < 0 || r.Count > n-at {
			return fmt.Errorf("%w: block %s: row %d (%s) holds vines %d to %d of %d, the next should be %d",
				ErrView, g.Code, i, r.Label, r.First, r.First+r.Count-1, n, at)
		}
		at += r.Count
	}
	if at != n {
		return fmt.Errorf("%w: block %s: the rows hold %d of %d vines", ErrView, g.Code, at, n)
	}
	return nil
}

// Touches tells whether any of the block may show in a tile, its margin
// included: for choosing the blocks that a tile's ETag depends on.
func (v *BlockView) Touches(t Tile) bool {
	win := windowOf(t, marginUnits)
	if v.Index.Len() > 0 && win.meets(v.Index.box) {
		return true
	}
	return v.Outline.touches(t)
}

// Touches tells whether a block with this index and outline may show in a
// tile, before its stand is loaded.
func Touches(t Tile, ix *Index, o *Outline) bool {
	v := BlockView{Index: ix, Outline: o}
	return v.Touches(t)
}
