package rate

import (
	"math"
	"slices"
)

// Grid is rates on a regular grid, north up, in metres of the block's frame: cell
// (c, r) reaches from West + c x CellE and South + r x CellN. Values lie row by
// row from the south, each from the west, as ISO 11783-10 has them.
type Grid struct {
	West, South  float64
	CellE, CellN float64
	Cols, Rows   int
	Unit         Unit
	// Values are means weighted by area over the ground of zones in the cell; 0
	// where there is none. Covered is that ground, 0 to 1 of the cell.
	Values  []float64
	Covered []float64
}

// At gives the value of a cell; ok is false where no zone has ground in it.
func (g *Grid) At(col, row int) (v float64, ok bool) {
	i := row*g.Cols + col
	return g.Values[i], g.Covered[i] > 0
}

// AreaM2 is the area of the whole grid.
func (g *Grid) AreaM2() float64 { return float64(g.Cols*g.Rows) * g.CellE * g.CellN }

// MostCells is the largest grid that is made.
const MostCells = 4_000_000

// leastCover is the share of a cell below which there is no ground but rounding.
const leastCover = 1e-9

// Grid lays the rates of zones on a grid. Cells begin at whole multiples of their
// size from the frame's origin, so that grids of one block fit on each other.
// Errors: ErrOption.
func (z *Zones) Grid(r *Rates, cellE, cellN float64) (*Grid, error) {
	if err := z.fits(r); err != nil {
		return nil, err
	}
	if !(cellE > 0) || !(cellN > 0) || !finite(cellE*cellN) {
		return nil, refuse(ErrOption, "cells of %g by %g m are not possible", cellE, cellN)
	}
	outlines := z.Outlines()
	g, err := gridAround(outlines, cellE, cellN)
	if err != nil {
		return nil, err
	}
	g.Unit = r.Unit
	cover := make([]float64, len(g.Values))
	for k, o := range outlines {
		clear(cover)
		g.cover(o, cover)
		for i, c := range cover {
			if c < leastCover {
				continue
			}
			g.Values[i] += c * r.Zones[k].Rate
			g.Covered[i] += c
		}
	}
	for i, c := range g.Covered {
		if c > 0 {
			g.Values[i], g.Covered[i] = g.Values[i]/c, min(1, c)
		}
	}
	return g, nil
}

func (z *Zones) fits(r *Rates) error {
	if r == nil || len(r.Zones) != len(z.List) {
		return refuse(ErrOption, "the rates are not those of these %d zones", len(z.List))
	}
	return nil
}

func gridAround(outlines []Outline, cellE, cellN float64) (*Grid, error) {
	low, high := XY{math.Inf(1), math.Inf(1)}, XY{math.Inf(-1), math.Inf(-1)}
	for _, o := range outlines {
		for _, p := range o {
			for _, at := range p[0] {
				low = XY{min(low.X, at.X), min(low.Y, at.Y)}
				high = XY{max(high.X, at.X), max(high.Y, at.Y)}
			}
		}
	}
	if !(low.X < high.X) {
		return nil, refuse(ErrOption, "there is no zone to lay on a grid")
	}
	west, south := math.Floor(low.X/cellE), math.Floor(low.Y/cellN)
	cols, rows := math.Ceil(high.X/cellE)-west, math.Ceil(high.Y/cellN)-south
	if !(cols*rows <= MostCells) {
		return nil, refuse(ErrOption, "cells of %g by %g m make a grid of %.0f by %.0f: take larger ones, %d cells are possible", cellE, cellN, cols, rows, MostCells)
	}
	n := int(cols) * int(rows)
	return &Grid{West: west * cellE, South: south * cellN, CellE: cellE, CellN: cellN, Cols: int(cols), Rows: int(rows),
		Values: make([]float64, n), Covered: make([]float64, n)}, nil
}

// cover adds the share of each cell that lies inside the outline, exactly: every
// line covers, for its way north in a row of cells, all that lies west of it, and
// lines that go south take it off again.
func (g *Grid) cover(o Outline, share []float64) {
	west := make([]float64, len(share)) // way north of lines beyond the cell, in cells
	for _, p := range o {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				g.line(g.inCells(r[i-1]), g.inCells(r[i]), share, west)
			}
		}
	}
	for row := range g.Rows {
		var sum float64
		for c := g.Cols - 1; c >= 0; c-- {
			i := row*g.Cols + c
			share[i] += sum
			sum += west[i]
		}
	}
}

func (g *Grid) inCells(p XY) XY { return XY{(p.X - g.West) / g.CellE, (p.Y - g.South) / g.CellN} }

// line cuts a line where it passes from cell to cell.
func (g *Grid) line(a, b XY, share, west []float64) {
	if a.Y == b.Y {
		return
	}
	cuts := []float64{0, 1}
	for _, axis := range [2][2]float64{{a.X, b.X}, {a.Y, b.Y}} {
		from, to := axis[0], axis[1]
		for v := math.Floor(min(from, to)) + 1; v < max(from, to); v++ {
			cuts = append(cuts, (v-from)/(to-from))
		}
	}
	slices.Sort(cuts)
	for i := 1; i < len(cuts); i++ {
		s, t := cuts[i-1], cuts[i]
		x := a.X + (s+t)/2*(b.X-a.X)
		y := a.Y + (s+t)/2*(b.Y-a.Y)
		north := (t - s) * (b.Y - a.Y)
		col := max(0, min(g.Cols-1, int(math.Floor(x))))
		row := max(0, min(g.Rows-1, int(math.Floor(y))))
		at := row*g.Cols + col
		share[at] += north * (x - float64(col))
		west[at] += north
	}
}

// RatePolygon is one piece of ground with its rate, as shape and ISO 11783-10
// files take them: zones in parts give a polygon for each.
type RatePolygon struct {
	Zone    int
	Rate    float64
	Unit    Unit
	AreaM2  float64
	Polygon Polygon // metres of the block's frame
}

// Polygons gives the zones' ground with their rates, by zone and then from the
// largest. Error: ErrOption.
func (z *Zones) Polygons(r *Rates) ([]RatePolygon, error) {
	if err := z.fits(r); err != nil {
		return nil, err
	}
	var out []RatePolygon
	for k, o := range z.Outlines() {
		first := len(out)
		for _, p := range o {
			out = append(out, RatePolygon{k + 1, r.Zones[k].Rate, r.Unit, Outline{p}.AreaM2(), p})
		}
		slices.SortStableFunc(out[first:], func(a, b RatePolygon) int {
			if a.AreaM2 != b.AreaM2 {
				return map[bool]int{true: -1, false: 1}[a.AreaM2 > b.AreaM2]
			}
			return 0
		})
	}
	return out, nil
}
