package work

import (
	"slices"

	"courson/geo/patch"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// Quantity is something measured on the vines of a block, as it is compared.
type Quantity struct {
	Quantity vine.Quantity
	Scale    string
	Label    string
	Unit     string
}

// measuredColumn is a quantity with what was seen on each vine.
type measuredColumn struct {
	Quantity
	column patch.Column
	seen   int
}

func (q Quantity) key() string { return string(q.Quantity) + " " + q.Scale + " " + q.Unit }

// quantities gives what was measured on living vines, what tells most of their
// vigour first. What grows with the size of a vine is taken per metre of the row
// that it occupies, so that vines beside gaps compare with the others.
func quantities(m Measured) []measuredColumn {
	s := m.Stand
	occupied := vigour.OccupiedM(s)
	var out []measuredColumn
	add := func(q Quantity, values []float32, known []bool, perMetre bool, by float64) {
		c := measuredColumn{Quantity: q, column: patch.NewColumn(len(values))}
		for i, v := range values {
			if has := known == nil && v >= 0 || known != nil && known[i]; !has || !s.Condition[i].Living() {
				continue
			}
			x := float64(v) * by
			if perMetre {
				if occupied[i] <= 0 {
					continue
				}
				x /= float64(occupied[i])
			}
			c.column.Set(i, x)
			c.seen++
		}
		if c.seen > 0 {
			out = append(out, c)
		}
	}
	add(Quantity{vine.PruningWeight, "", "pruning weight", "kg/m"}, s.WeightG, nil, true, 0.001)
	for _, c := range m.Columns {
		switch c.Quantity {
		case vine.CaneCount:
			add(Quantity{c.Quantity, c.Scale, "canes", "canes/m"}, c.Values, c.Known, true, 1)
		case vine.ShootLength:
			add(Quantity{c.Quantity, c.Scale, "shoot length", "cm"}, c.Values, c.Known, false, 1)
		case vine.CaneDiameter:
			add(Quantity{c.Quantity, c.Scale, "cane diameter", "mm"}, c.Values, c.Known, false, 1)
		case vine.CanopyIndex:
			add(Quantity{c.Quantity, c.Scale, "canopy index", c.Scale}, c.Values, c.Known, false, 1)
		}
	}
	add(Quantity{vine.VisualScore, "", "visual score", "score"}, s.Score, nil, false, 1)
	add(Quantity{vine.Yield, "", "yield", "kg/m"}, s.YieldG, nil, true, 0.001)
	return out
}

// commonQuantity gives the quantity that most vines have in both seasons; the
// one that tells more of vigour where numbers are within a tenth. ok is false
// where no vine has the same quantity in both.
func commonQuantity(now, before []measuredColumn) (a, b measuredColumn, ok bool) {
	best := 0
	for _, n := range now {
		k := slices.IndexFunc(before, func(m measuredColumn) bool { return m.key() == n.key() })
		if k < 0 {
			continue
		}
		pairs := 0
		for i, seen := range n.column.Seen {
			if seen && before[k].column.Seen[i] {
				pairs++
			}
		}
		if pairs > best+best/10 {
			a, b, ok, best = n, before[k], true, pairs
		}
	}
	return a, b, ok
}
