package work

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/store"
)

// straightM is how far vines may stand aside of a row drawn through them before
// it gets a bend, m; chosen by us.
const straightM = 0.05

// rowFromPoints makes a row whose line runs through its vines by number. Every
// vine must have its place; nil after a problem.
func (m *merge) rowFromPoints(b *block, g group, order []int32, at where) *row {
	label := m.names.text(g.row)
	path := make(orb.LineString, 0, g.to-g.from)
	for k := g.from; k < g.to; k++ {
		i := int(order[k])
		if !m.vines.hasPoint(i) {
			m.problem(m.at(i), string(csv.Row), fmt.Sprintf("row %s of block %s is not known, and this vine has no place", label, b.Code), "nothing", "the row's line first, or longitude and latitude for every vine")
			return nil
		}
		path = append(path, m.vines.point.get(i))
	}
	if len(path) < 2 {
		m.problem(at, string(csv.Row), fmt.Sprintf("row %s of block %s is not known, and one vine makes no line", label, b.Code), "one vine", "the row's line first, or two vines or more")
		return nil
	}
	if !b.framed {
		b.frame, b.framed = frame.New(path[0]), true
		if f, err := frame.ForGeometry(m.boundOf(b, order)); err == nil {
			b.frame = f
		}
	}
	laid, err := layout.NewRow(b.frame, simplified(b.frame, path), layout.AsDrawn)
	if err != nil {
		m.problem(at, "geometry", fmt.Sprintf("row %s: %v", label, err), "", "vines in their places along the row")
		return nil
	}
	r := &row{Row: store.Row{Label: label, Block: b.ID, Line: laid.Lines(), LengthM: laid.LengthM()}, laid: laid, placed: true, dirty: true}
	m.report.Rows.Made++
	m.item(at, "row "+b.Code+"/"+label, "made", "from its vines")
	return r
}

// boundOf gives the corners of all places that the files give for a block.
func (m *merge) boundOf(b *block, order []int32) orb.Geometry {
	bound, n := orb.Bound{}, 0
	for i := range m.vines.len() {
		if m.vines.hasPoint(i) && m.codeOf(i) == b.Code {
			p := m.vines.point.get(i)
			if n == 0 {
				bound = p.Bound()
			}
			bound = bound.Extend(p)
			n++
		}
	}
	return orb.MultiPoint{bound.Min, bound.Max}
}

// simplified leaves out positions of a line that lie within straightM of the
// line without them (D. H. Douglas, T. K. Peucker, Cartographica 10, 1973).
func simplified(f frame.Frame, path orb.LineString) orb.LineString {
	line := f.Line(path)
	keep := make([]bool, len(path))
	keep[0], keep[len(path)-1] = true, true
	spans := [][2]int{{0, len(path) - 1}}
	for len(spans) > 0 {
		s := spans[len(spans)-1]
		spans = spans[:len(spans)-1]
		far, at := straightM, -1
		for i := s[0] + 1; i < s[1]; i++ {
			foot, _ := frame.NearestOnSegment(line[i], line[s[0]], line[s[1]])
			if d := frame.Dist(foot, line[i]); d > far {
				far, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			spans = append(spans, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var out orb.LineString
	for i, p := range path {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// settleFromVines orders the rows that were made from vines and takes from
// their lines what nobody says of the block: row spacing and vine spacing.
func (m *merge) settleFromVines(b *block) {
	for _, s := range []struct {
		to   *float64
		said float64
	}{{&b.RowSpacingM, m.job.RowSpacingM}, {&b.VineSpacingM, m.job.VineSpacingM}} {
		if *s.to == 0 {
			b.dirty = setFloat(s.to, s.said) || b.dirty
		}
	}
	m.orderRows(b)
	if b.RowSpacingM == 0 {
		m.measureSpacing(b)
	}
	if b.VineSpacingM == 0 {
		m.measureSteps(b)
	}
}

// measureSteps takes the vine spacing from the steps between vines of following
// numbers where nobody says it.
func (m *merge) measureSteps(b *block) {
	t := m.vines
	var steps []float64
	for i := 1; i < t.len() && len(steps) < 10_000; i++ {
		if t.number[i] == t.number[i-1]+1 && t.row[i] == t.row[i-1] && t.block[i] == t.block[i-1] && t.hasPoint(i) && t.hasPoint(i-1) && m.codeOf(i) == b.Code {
			steps = append(steps, frame.Dist(b.frame.XY(t.point.get(i-1)), b.frame.XY(t.point.get(i))))
		}
	}
	if len(steps) == 0 {
		return
	}
	slices.Sort(steps)
	if d := math.Round(steps[len(steps)/2]*100) / 100; d >= 0.2 && d <= 20 {
		b.VineSpacingM, b.dirty = d, true
		m.notices.Add("", string(csv.VineSpacing), -1, 0, fmt.Sprintf("block %s: %.2f m taken from the vines", b.Code, d))
	}
}
