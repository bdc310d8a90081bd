// Package work does what the pages and the program's commands both need: take
// files into a store, write them out again, and load a block's vines as the
// columns that everything is computed from. It knows no HTTP.
package work

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/store"
)

// LoadGround reads where the vines of a block stand. The ground's frame is
// centred on the block's outline, or on its rows where it has none. It is
// wrapped store.ErrNotFound when there is no such block.
//
// The block's record is read first: when the block changes meanwhile, the
// ground carries the older revision and the next look at it loads anew.
func LoadGround(ctx context.Context, st store.Ground, id vine.ID) (*stand.Ground, store.Block, []store.Row, error) {
	b, err := findBlock(ctx, st, id)
	if err != nil {
		return nil, store.Block{}, nil, err
	}
	g, rows, err := groundOf(ctx, st, b)
	if err != nil {
		return nil, store.Block{}, nil, fmt.Errorf("load the ground of block %s: %w", b.Code, err)
	}
	return g, b, rows, nil
}

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

func groundOf(ctx context.Context, st store.Ground, b store.Block) (*stand.Ground, []store.Row, error) {
	rows, err := st.Rows(ctx, b.ID)
	if err != nil {
		return nil, nil, err
	}
	var vines []store.Vine
	for v, err := range st.Vines(ctx, b.ID) {
		if err != nil {
			return nil, nil, err
		}
		vines = append(vines, v)
	}
	f := blockFrame(b, rows, vines)
	g := &stand.Ground{Block: b.ID, Code: b.Code, Revision: b.GroundRev, Origin: f.Origin(),
		RowSpacingM: b.RowSpacingM, VineSpacingM: b.VineSpacingM}
	if err := fillRows(g, rows); err != nil {
		return nil, nil, err
	}
	if err := fillVines(g, f, b, rows, vines); err != nil {
		return nil, nil, err
	}
	return g, rows, nil
}

// blockFrame gives the frame of a block: centred on its outline, else on its
// rows, else on its vines.
func blockFrame(b store.Block, rows []store.Row, vines []store.Vine) frame.Frame {
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
	points := make(orb.MultiPoint, len(vines))
	for i, v := range vines {
		points[i] = v.Point
	}
	if f, err := frame.ForGeometry(points); err == nil {
		return f
	}
	return frame.New(orb.Point{})
}

func fillRows(g *stand.Ground, rows []store.Row) error {
	g.Rows = make([]stand.Row, len(rows))
	for i, r := range rows {
		s := stand.Row{ID: r.ID, Label: r.Label}
		if first, last, ok := lineEnds(r.Line); ok {
			for e, p := range []orb.Point{first, last} {
				x, y, err := tile.ToWorld(p[0], p[1])
				if err != nil {
					return fmt.Errorf("row %s: %w", r.Label, err)
				}
				s.Ends[e] = [2]uint32{x, y}
			}
		}
		g.Rows[i] = s
	}
	return nil
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

// fillVines fills the columns from vines in row order and by number.
func fillVines(g *stand.Ground, f frame.Frame, b store.Block, rows []store.Row, vines []store.Vine) error {
	n := len(vines)
	g.ID, g.Row, g.Number, g.Planted = make([]vine.ID, n), make([]int32, n), make([]int32, n), make([]int16, n)
	g.Chainage, g.X, g.Y, g.Occupied = make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)
	g.WX, g.WY = make([]uint32, n), make([]uint32, n)
	row := -1
	for i, v := range vines {
		for row < 0 || rows[row].ID != v.Row {
			if row++; row == len(rows) {
				return fmt.Errorf("vine %d stands in row %d, which is not in order: %w", v.ID, v.Row, store.ErrConflict)
			}
			g.Rows[row].First = i
		}
		g.Rows[row].Count++
		g.ID[i], g.Row[i], g.Number[i], g.Chainage[i] = v.ID, int32(row), int32(v.Number), float32(v.ChainageM)
		x, y := f.Forward(v.Point)
		g.X[i], g.Y[i] = float32(x), float32(y)
		var err error
		if g.WX[i], g.WY[i], err = tile.ToWorld(v.Point[0], v.Point[1]); err != nil {
			return fmt.Errorf("vine %d: %w", v.ID, err)
		}
		g.Planted[i] = int16(plantedSeason(v, b))
	}
	for row++; row < len(rows); row++ {
		g.Rows[row].First = n
	}
	for r := range g.Rows {
		occupied(g, vines, r, rowSpacing(rows[r], b))
	}
	return nil
}

// plantedSeason is the season of the first leaf of a vine's first plant: its
// own, else its block's; 0 unknown.
func plantedSeason(v store.Vine, b store.Block) int {
	if v.Planted != 0 {
		return v.Planted
	}
	return b.Planted
}

// rowSpacing is the planting distance along a row, m; 0 unknown.
func rowSpacing(r store.Row, b store.Block) float64 {
	if r.SpacingM > 0 {
		return r.SpacingM
	}
	return b.VineSpacingM
}

// occupied gives each vine of a row the ground half way to its neighbours. At
// the ends of the row, and of the parts of a row that a road cuts, it is half a
// planting distance; where that is not known, as far as on the other side.
func occupied(g *stand.Ground, vines []store.Vine, row int, spacing float64) {
	first, end := g.Rows[row].First, g.Rows[row].First+g.Rows[row].Count
	half := func(i, neighbour int) float64 {
		if neighbour < first || neighbour >= end || vines[neighbour].Part != vines[i].Part {
			return -1
		}
		d := vines[neighbour].ChainageM - vines[i].ChainageM
		return max(d, -d) / 2
	}
	for i := first; i < end; i++ {
		before, after := half(i, i-1), half(i, i+1)
		if before < 0 {
			before = endHalf(after, spacing)
		}
		if after < 0 {
			after = endHalf(before, spacing)
		}
		g.Occupied[i] = float32(before + after)
	}
}

func endHalf(other, spacing float64) float64 {
	if spacing > 0 {
		return spacing / 2
	}
	return max(0, other)
}
