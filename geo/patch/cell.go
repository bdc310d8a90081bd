package patch

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
)

// ErrSpacing is the error for ground of which row or vine spacing is not known
// and cannot be told from the vines.
var ErrSpacing = errors.New("spacing is not known")

// plan is the lie of a block: where its rows run and which ground is each vine's.
type plan struct {
	at       []XY
	row      []int32
	dir      []XY    // along the row at each vine, length 1
	onward   []bool  // the next vine stands in the same unbroken row
	rowM     float64 // row spacing of the block
	pitchM   float64 // distance between rows as they stand; rowM for a lone row
	vineM    float64
	azimuth  float64 // of the rows, clockwise from north, 0 up to 180
	bent     bool    // rows turn, or differ in direction
	leastM2  float64 // holes below are slivers between cells
	rowFirst []int   // first vine of each row, and the end
}

// Steps longer than this many planting distances are a break in the row, such
// as a road; chosen by us: a position that bears no vine is a position still.
const breakSteps = 1.5

// widestCell is how wide a ground cell may be against the distance of rows as they
// stand: with a spacing mistyped on the block, cells must not cover other rows.
const widestCell = 1.5

// bentDeg is the turn of rows beyond which every vine has a direction of its own.
const bentDeg = 5

// layOut reads the lie of the block. Errors: ErrSpacing, ErrNotFinite, and
// ErrFewValues for a ground without vines or without metres.
func layOut(g *stand.Ground) (*plan, error) {
	n := g.Len()
	if n == 0 || len(g.X) != n || len(g.Y) != n {
		return nil, fmt.Errorf("%w: no vines with a place in metres", ErrFewValues)
	}
	p := &plan{at: make([]XY, n), row: g.Row, rowM: g.RowSpacingM, vineM: g.VineSpacingM}
	for i := range p.at {
		p.at[i] = XY{float64(g.X[i]), float64(g.Y[i])}
		if s := p.at[i].X + p.at[i].Y; math.IsNaN(s) || math.IsInf(s, 0) {
			return nil, fmt.Errorf("place of vine %s: %w", g.Address(i), ErrNotFinite)
		}
	}
	for _, r := range g.Rows {
		p.rowFirst = append(p.rowFirst, r.First)
	}
	p.rowFirst = append(p.rowFirst, n)
	if !(p.vineM > 0) {
		p.vineM = p.medianStep()
	}
	if !(p.vineM > 0) {
		return nil, fmt.Errorf("%w: set the vine spacing of the block", ErrSpacing)
	}
	p.findBreaks()
	p.findDirections()
	if p.pitchM = p.medianRowStep(); !(p.rowM > 0) {
		p.rowM = p.pitchM
	}
	if !(p.rowM > 0) {
		return nil, fmt.Errorf("%w: set the row spacing of the block", ErrSpacing)
	}
	if !(p.pitchM > p.vineM/4) {
		p.pitchM = p.rowM // one row, or rows on one line
	}
	p.rowM = min(p.rowM, widestCell*p.pitchM)
	p.leastM2 = p.rowM * p.vineM / 2
	return p, nil
}

// medianStep is the median distance to the next vine of a row; 0 where no row
// has two vines.
func (p *plan) medianStep() float64 {
	var steps []float64
	for r := range len(p.rowFirst) - 1 {
		for i := p.rowFirst[r]; i+1 < p.rowFirst[r+1]; i++ {
			steps = append(steps, p.at[i+1].minus(p.at[i]).length())
		}
	}
	return median(steps)
}

// medianRowStep is the median distance from the middle vine of a row to the
// nearest vine of another, measured across the rows, over at most 31 rows; 0 for
// one row.
func (p *plan) medianRowStep() float64 {
	var steps []float64
	rows := len(p.rowFirst) - 1
	for r := 0; r < rows; r += rows/31 + 1 {
		if p.rowFirst[r] == p.rowFirst[r+1] {
			continue
		}
		i := (p.rowFirst[r] + p.rowFirst[r+1]) / 2
		best, across := math.Inf(1), 0.0
		for j, q := range p.at {
			if d := q.minus(p.at[i]); p.row[j] != p.row[i] && d.dot(d) < best {
				best, across = d.dot(d), math.Abs(d.cross(p.dir[i]))
			}
		}
		if best < math.Inf(1) {
			steps = append(steps, across)
		}
	}
	return median(steps)
}

func (p *plan) findBreaks() {
	p.onward = make([]bool, len(p.at))
	for r := range len(p.rowFirst) - 1 {
		for i := p.rowFirst[r]; i+1 < p.rowFirst[r+1]; i++ {
			p.onward[i] = p.at[i+1].minus(p.at[i]).length() <= breakSteps*p.vineM
		}
	}
}

// findDirections takes each vine's direction from the vines two before and
// behind. The block's own is their mean, either way along a row being the same.
func (p *plan) findDirections() {
	p.dir = make([]XY, len(p.at))
	var sum XY // of doubled angles
	for i := range p.at {
		lo, hi := i, i
		for k := 0; k < 2 && lo > 0 && p.onward[lo-1]; k++ {
			lo--
		}
		for k := 0; k < 2 && p.onward[hi]; k++ {
			hi++
		}
		d := p.at[hi].minus(p.at[lo])
		if l := d.length(); l > 0 {
			p.dir[i] = d.times(1 / l)
			sum = sum.plus(XY{p.dir[i].X*p.dir[i].X - p.dir[i].Y*p.dir[i].Y, 2 * p.dir[i].X * p.dir[i].Y})
		}
	}
	mean := XY{0, 1}
	if sum.length() > 0 {
		a := math.Atan2(sum.Y, sum.X) / 2
		mean = XY{math.Cos(a), math.Sin(a)}
	}
	if mean.X < 0 || mean.X == 0 && mean.Y < 0 {
		mean = mean.times(-1)
	}
	p.azimuth = math.Atan2(mean.X, mean.Y) * 180 / math.Pi
	turn := math.Sin(bentDeg * math.Pi / 180)
	for i, d := range p.dir {
		if d == (XY{}) {
			p.dir[i] = mean
		}
		p.bent = p.bent || math.Abs(p.dir[i].cross(mean)) > turn
	}
}

// reach is the neighbourhood of a block; the direction is the block's own.
func (p *plan) reach(alongM, acrossM float64) Reach {
	return Reach{AlongM: alongM, AcrossM: acrossM, AzimuthDeg: p.azimuth}
}

// directions of the vines named, for newField; nil where rows run straight.
func (p *plan) directions(vines []int) []XY {
	if !p.bent {
		return nil
	}
	out := make([]XY, len(vines))
	for k, i := range vines {
		out[k] = p.dir[i]
	}
	return out
}

// ends are where the ground of vine i begins and ends on the line of its row:
// half way to its neighbours, half a planting distance where there is none.
func (p *plan) ends(i int) (from, to XY) {
	half := p.dir[i].times(p.vineM / 2)
	from, to = p.at[i].minus(half), p.at[i].plus(half)
	if i > 0 && p.onward[i-1] {
		from = between(p.at[i-1], p.at[i], 0.5)
	}
	if p.onward[i] {
		to = between(p.at[i], p.at[i+1], 0.5)
	}
	return from, to
}

// lengthM is the metres of row that belong to vine i.
func (p *plan) lengthM(i int) float64 {
	from, to := p.ends(i)
	return to.minus(p.at[i]).length() + p.at[i].minus(from).length()
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	v = slices.Clone(v)
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}
