package work

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/replant"
	"courson/geo/stand"
	"courson/store"
)

// surveyBlock is a block as points are matched to it.
type surveyBlock struct {
	block store.Block
	g     *stand.Ground
	frame frame.Frame
	rows  []layout.Known // those that have vines
	of    []int          // index of each in the ground
	label map[string]int // label → index into rows
	reach layout.Reach
	bound orb.Bound // of its vines, with room for points that are shifted

	points []int // indices of the points that may be of this block
	found  []layout.Verdict
	shift  replant.Shift
}

// leastPadM is how far from a block's vines a point may lie and still be told as
// one of its; chosen by us: more than a datum is off.
const leastPadM = 5

// readSurveyBlock reads a block. problem is why points cannot be matched to it.
func readSurveyBlock(ctx context.Context, st store.Ground, b store.Block) (s *surveyBlock, problem string, err error) {
	g, rows, err := GroundOf(ctx, st, b)
	if err != nil || g.Len() == 0 {
		return nil, "", err
	}
	s = &surveyBlock{block: b, g: g, frame: frame.New(orb.Point(g.Origin)), label: map[string]int{}}
	for r, row := range g.Rows {
		if row.Count == 0 {
			continue
		}
		line, err := layout.NewRow(s.frame, rows[r].Line, layout.AsDrawn)
		if err != nil {
			return nil, fmt.Sprintf("row %s/%s: %v", b.Code, row.Label, err), nil
		}
		s.label[row.Label] = len(s.rows)
		s.of = append(s.of, r)
		s.rows = append(s.rows, layout.Known{Row: line, Places: placesOf(g, row)})
	}
	s.reach = layout.Reach{RowM: g.RowSpacingM, VineM: g.VineSpacingM}
	if s.reach.VineM == 0 {
		s.reach.VineM = stepOf(g)
	}
	if s.reach.RowM == 0 && len(s.rows) == 1 {
		s.reach.RowM = 2 * s.reach.VineM // one row has no other to be taken for
	}
	if !(s.reach.RowM > 0 && s.reach.VineM > 0) {
		return nil, fmt.Sprintf("block %s has no row or vine spacing", b.Code), nil
	}
	s.bound = s.reaches()
	return s, "", nil
}

func placesOf(g *stand.Ground, row stand.Row) []layout.Place {
	out := make([]layout.Place, row.Count)
	for k := range out {
		i := row.First + k
		out[k] = layout.Place{Number: int(g.Number[i]), ChainageM: float64(g.Chainage[i]), At: frame.XY{X: float64(g.X[i]), Y: float64(g.Y[i])}}
		if g.Part != nil {
			out[k].Part = int(g.Part[i])
		}
	}
	return out
}

// stepOf is the median distance between neighbours in the rows, m.
func stepOf(g *stand.Ground) float64 {
	var steps []float64
	for _, row := range g.Rows {
		for i := row.First + 1; i < row.First+row.Count; i++ {
			steps = append(steps, float64(g.Chainage[i]-g.Chainage[i-1]))
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// reaches gives the corners within which points may be of this block.
func (s *surveyBlock) reaches() orb.Bound {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range s.g.ID {
		x, y := float64(s.g.X[i]), float64(s.g.Y[i])
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	pad := max(leastPadM, 2*s.reach.RowM)
	b := orb.MultiPoint{s.frame.Inverse(x0-pad, y0-pad), s.frame.Inverse(x1+pad, y1+pad), s.frame.Inverse(x0-pad, y1+pad), s.frame.Inverse(x1+pad, y0-pad)}
	return b.Bound()
}

// place gives the index in the ground of a place of a row, -1 for none.
func (s *surveyBlock) place(row, number int) int {
	if row < 0 || number <= 0 {
		return -1
	}
	r := s.g.Rows[s.of[row]]
	k, ok := slices.BinarySearch(s.g.Number[r.First:r.First+r.Count], int32(number))
	if !ok {
		return -1
	}
	return r.First + k
}

// direction is the bearing of the block's rows from their numbering end: that of
// the first one, degrees from north.
func (s *surveyBlock) direction() float64 {
	a, b := s.rows[0].Row.Ends()
	return frame.Azimuth(a, b)
}

// sense is -1 for a row that is numbered from the other end than the first one.
func (s *surveyBlock) sense(row int) float64 {
	a, b := s.rows[row].Row.Ends()
	sin, cos := math.Sincos(s.direction() * math.Pi / 180)
	if (b.X-a.X)*sin+(b.Y-a.Y)*cos < 0 {
		return -1
	}
	return 1
}

// aside is how far a row lies to the right of the first one, m.
func (s *surveyBlock) aside(row int) float64 {
	a, b := s.rows[row].Row.Ends()
	first, _ := s.rows[0].Row.Ends()
	sin, cos := math.Sincos(s.direction() * math.Pi / 180)
	mid := frame.Between(a, b, 0.5)
	return (mid.X-first.X)*cos - (mid.Y-first.Y)*sin
}
