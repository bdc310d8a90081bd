package stand

import (
	"fmt"
	"math"

	"courson/geo/vine"
)

// Position is one vine position as a ground is built from it.
type Position struct {
	ID        vine.ID
	Number    int     // number in the row, rising from the numbering end
	ChainageM float64 // metres along the planted row from its numbering end
	Part      int     // which part of a row that a road cuts, from 0
	Lon, Lat  float64 // degrees, WGS 84
	X, Y      float64 // metres east and north in the block's frame
	Planted   int     // season of the first plant's first leaf; 0 unknown
}

// Builder builds a ground row by row, each row from its numbering end. What is
// wrong with the rows and vines given is told once, by Ground.
type Builder struct {
	g        Ground
	spacingM []float64 // of each row
	part     []int     // of each vine
	err      error
}

// NewBuilder begins a ground with what head says of the block: ids, code,
// revision, origin and spacings. Its rows and columns are left alone.
func NewBuilder(head Ground) *Builder {
	return &Builder{g: Ground{Block: head.Block, Code: head.Code, Revision: head.Revision, Origin: head.Origin,
		RowSpacingM: head.RowSpacingM, VineSpacingM: head.VineSpacingM}}
}

// Row begins the next row; spacingM is its own planting distance, 0 the block's.
func (b *Builder) Row(id vine.ID, label string, spacingM float64) {
	if spacingM <= 0 {
		spacingM = b.g.VineSpacingM
	}
	b.spacingM = append(b.spacingM, spacingM)
	b.g.Rows = append(b.g.Rows, Row{ID: id, Label: label, First: len(b.g.ID)})
}

// Ends says where the line of the present row begins and ends, lon and lat in
// degrees.
func (b *Builder) Ends(numbering, far [2]float64) {
	if len(b.g.Rows) == 0 {
		b.fail("row ends were given before any row")
		return
	}
	row := &b.g.Rows[len(b.g.Rows)-1]
	for i, p := range [2][2]float64{numbering, far} {
		if !onEarth(p[0], p[1]) {
			b.fail("row %s ends at %v, %v, which is not a longitude and latitude", row.Label, p[0], p[1])
		}
		row.Ends[i][0], row.Ends[i][1] = World(p[0], p[1])
	}
}

// Vine adds the next position of the present row.
func (b *Builder) Vine(p Position) {
	g, r := &b.g, len(b.g.Rows)-1
	switch {
	case r < 0:
		b.fail("vine %d was given before any row", p.ID)
		return
	case !onEarth(p.Lon, p.Lat):
		b.fail("vine %d stands at %v, %v, which is not a longitude and latitude", p.ID, p.Lon, p.Lat)
	case p.Number < 1 || p.Number > MaxNumber:
		b.fail("vine %d has number %d, not 1 to %d", p.ID, p.Number, MaxNumber)
	case p.Planted != 0 && (p.Planted < vine.MinSeason || p.Planted > vine.MaxSeason):
		b.fail("vine %d was planted in %d, which is not a season", p.ID, p.Planted)
	}
	g.Rows[r].Count++
	g.ID, g.Row, g.Number = append(g.ID, p.ID), append(g.Row, int32(r)), append(g.Number, int32(p.Number))
	g.Chainage = append(g.Chainage, float32(p.ChainageM))
	g.X, g.Y = append(g.X, float32(p.X)), append(g.Y, float32(p.Y))
	wx, wy := World(p.Lon, p.Lat)
	g.WX, g.WY = append(g.WX, wx), append(g.WY, wy)
	g.Planted = append(g.Planted, int16(p.Planted))
	b.part = append(b.part, p.Part)
}

// Ground ends the building. The error wraps ErrGround and names the first row
// or vine that is wrong.
func (b *Builder) Ground() (*Ground, error) {
	if b.err != nil {
		return nil, b.err
	}
	g := b.g
	g.Occupied = make([]float32, len(g.ID))
	for r := range g.Rows {
		b.occupy(&g, r)
	}
	b.divide(&g)
	if err := g.Finish(); err != nil {
		return nil, err
	}
	return &g, nil
}

// occupy gives each vine of a row the ground half way to its neighbours. At the
// ends of the row, and of the parts of a row that a road cuts, it is half a
// planting distance; where that is not known, as far as on the other side.
func (b *Builder) occupy(g *Ground, r int) {
	first, end := g.Rows[r].First, g.Rows[r].First+g.Rows[r].Count
	half := func(i, j int) float64 {
		if j < first || j >= end || b.part[i] != b.part[j] {
			return -1
		}
		return math.Abs(float64(g.Chainage[i])-float64(g.Chainage[j])) / 2
	}
	atEnd := func(other float64) float64 {
		if b.spacingM[r] > 0 {
			return b.spacingM[r] / 2
		}
		return max(0, other)
	}
	for i := first; i < end; i++ {
		before, after := half(i, i-1), half(i, i+1)
		if before < 0 {
			before = atEnd(after)
		}
		if after < 0 {
			after = atEnd(before)
		}
		g.Occupied[i] = float32(before + after)
	}
}

// divide notes the parts of rows where any row is cut.
func (b *Builder) divide(g *Ground) {
	for i, part := range b.part {
		if part != 0 && g.Part == nil {
			g.Part = make([]uint8, len(g.ID))
		}
		if g.Part != nil {
			g.Part[i] = uint8(part)
		}
	}
}

func (b *Builder) fail(format string, args ...any) {
	if b.err == nil {
		b.err = fmt.Errorf("%w: "+format, append([]any{ErrGround}, args...)...)
	}
}

func onEarth(lon, lat float64) bool { return math.Abs(lon) <= 180 && math.Abs(lat) <= 90 }
