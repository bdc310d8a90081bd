package server

import (
	"strconv"

	"github.com/paulmach/orb"

	"courson/geo/stand"
	"courson/geo/vine"
)

// ogcSum sums up a row or a block.
type ogcSum struct {
	stand.Totals
	basis map[string]int // vines by where their vigour is from; nil: not worked out
}

// rowSums sums up the rows of a part, once.
func (p *ogcPart) rowSums() []ogcSum {
	if p.rows != nil {
		return p.rows
	}
	totals := stand.RowTotals(p.view.Stand)
	p.rows = make([]ogcSum, len(totals))
	for r, row := range p.view.Stand.Ground.Rows {
		sum := ogcSum{Totals: totals[r], basis: map[string]int{}}
		for i := row.First; i < row.First+row.Count; i++ {
			sum.basis[p.vigourOn(i).basis]++
		}
		p.rows[r] = sum
	}
	return p.rows
}

// blockSum sums up the block without looking at its vines.
func (p *ogcPart) blockSum() ogcSum {
	sum := ogcSum{Totals: p.totals.Totals}
	if p.found != nil {
		c := p.found.Vigour.Counts
		sum.basis = map[string]int{basisMeasured: c[foundMeasured], basisCalibrated: c[foundCalibrated], basisEstimated: c[foundEstimated]}
	}
	return sum
}

// meanClass is the mean of the classes of vigour; false where no vine has one.
func (s ogcSum) meanClass() (float64, bool) {
	n, sum := 0, 0
	for class, vines := range s.Vigour {
		if class > 0 {
			n, sum = n+vines, sum+class*vines
		}
	}
	if n == 0 {
		return 0, false
	}
	return float64(sum) / float64(n), true
}

// sumFields are what rows and blocks say of their vines.
func sumFields(of func(p *ogcPart, i int) ogcSum) []ogcField {
	whole := func(name, what string, n func(ogcSum) int) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: func(p *ogcPart, i int) ogcCell { return wholeCell(n(of(p, i)), true) }}
	}
	number := func(name, what string, cell func(ogcSum) ogcCell) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: func(p *ogcPart, i int) ogcCell { return cell(of(p, i)) }}
	}
	basis := func(name, word, what string) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: func(p *ogcPart, i int) ogcCell {
			b := of(p, i).basis
			return wholeCell(b[word], b != nil)
		}}
	}
	fields := []ogcField{
		whole("vines", "Vine positions", func(s ogcSum) int { return s.Vines }),
		whole("living", "Positions with a living vine", func(s ogcSum) int { return s.ToPrune }),
		whole("gaps", "Positions where the vine is dead or missing", func(s ogcSum) int { return s.Gaps }),
	}
	for c := vine.Unseen; c <= vine.Doubtful; c++ {
		fields = append(fields, whole(c.String(), "Vines last seen "+c.String(), func(s ogcSum) int { return s.Condition[c] }))
	}
	return append(fields,
		whole("done", "Living vines pruned", ogcSum.Done),
		whole("to_do", "Living vines still to be pruned", ogcSum.ToDo),
		number("vigour_mean_class", "Mean of the vines' classes of vigour, 1 weakest to 5; the next say how many vines were really measured", func(s ogcSum) ogcCell {
			mean, ok := s.meanClass()
			return numberCell(mean, 2, ok)
		}),
		basis("vigour_measured", basisMeasured, "Vines whose vigour was weighed"),
		basis("vigour_calibrated", basisCalibrated, "Vines whose vigour is calibrated from another measure of the vine"),
		basis("vigour_estimated", basisEstimated, "Vines whose vigour is estimated from vines around"),
		number("pruning_weight_mean_g", "Mean pruning weight of the vines weighed, g", func(s ogcSum) ogcCell { return pointerCell(s.WeightMeanG, 2) }),
		whole("weighed", "Vines whose prunings were weighed", func(s ogcSum) int { return s.Weighed }),
		number("yield_mean_g", "Mean fruit of the vines weighed, g", func(s ogcSum) ogcCell { return pointerCell(s.YieldMeanG, 2) }),
		whole("nodes_planned", "Nodes that the pruning plan gives, in all", func(s ogcSum) int { return s.NodesPlanned }),
		whole("nodes_left", "Nodes that pruners left, in all, where they said how many", func(s ogcSum) int { return s.NodesLeft }),
		whole("clashes", "Vines about which devices disagree", func(s ogcSum) int { return s.Clashes }),
	)
}

// lengthCell writes metres, to the millimetre; 0 is not known.
func lengthCell(m float64) ogcCell { return numberCell(m, 3, m > 0) }

func rowFields() []ogcField {
	fields := append(blockFields(),
		ogcField{name: "row", what: "Label of the row", of: func(p *ogcPart, i int) ogcCell { return textCell(p.view.Rows[i].Label) }},
		ogcField{name: "length_m", kind: ogcNumber, what: "Planted length on the ground, m", of: func(p *ogcPart, i int) ogcCell { return lengthCell(p.view.Rows[i].LengthM) }},
		ogcField{name: "vine_spacing_m", kind: ogcNumber, what: "Planting distance along the row, m", of: func(p *ogcPart, i int) ogcCell {
			if own := p.view.Rows[i].SpacingM; own > 0 {
				return lengthCell(own)
			}
			return lengthCell(p.head.VineSpacingM)
		}})
	return append(fields, sumFields(func(p *ogcPart, i int) ogcSum { return p.rowSums()[i] })...)
}

// rowCollection has the rows as lines from their numbering end.
func rowCollection() ogcCollection {
	return ogcCollection{id: "rows", title: "Rows", geometry: "LineString", blockField: "block", needsView: true,
		what:   "The rows, lines drawn from the end where vine 1 stands, with sums over their vines in one season.",
		fields: rowFields(),
		known:  func(p *ogcPart) int { return p.totals.Rows },
		count:  func(p *ogcPart) int { return len(p.view.Rows) },
		name:   func(p *ogcPart, i int) string { return strconv.FormatInt(p.view.Rows[i].ID, 10) },
		find: func(p *ogcPart, id string) (int, bool) {
			for i, r := range p.view.Rows {
				if strconv.FormatInt(r.ID, 10) == id {
					return i, true
				}
			}
			return 0, false
		},
		within: func(p *ogcPart, i int, boxes []ogcBox) bool {
			line := p.rowLine(i)
			return len(line) == 0 || lineWithin(line, boxes)
		},
		shape: func(dst []byte, p *ogcPart, i int) []byte { return appendLines(dst, p.rowLine(i)) },
	}
}

// rowLine is the row's line; of one that has none, from its first vine to its
// last; nothing where there are fewer than two.
func (p *ogcPart) rowLine(i int) orb.MultiLineString {
	if line := p.view.Rows[i].Line; len(line) > 0 {
		return line
	}
	r := p.view.Stand.Ground.Rows[i]
	if r.Count < 2 {
		return nil
	}
	at := p.placeOf()
	return orb.MultiLineString{{at.point(r.First), at.point(r.First + r.Count - 1)}}
}
