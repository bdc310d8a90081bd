package work

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/vine"
)

// tally is how many canes of a vine fell into each class of diameters, the
// classes in order of diameter.
type tally struct {
	classes []string // shared by lines with the same columns
	counts  []int
}

// fromClasses marks a mean diameter that was worked out from counts by classes.
const fromClasses = "from classes"

// takeTally takes up a line's counts of canes by classes of diameter. Their sum
// is the cane count, and unless the line has a diameter of its own, the mean of
// the middles of the classes, weighted by the counts, is the cane diameter (the
// mean of grouped data). A class beside filled ones that is empty is no cane.
func (in *intake) takeTally(it *itemIn, i int) {
	cells := make([]*cell, 0, 8)
	for k := range it.cells {
		if c := &it.cells[k]; c.col.class != nil {
			cells = append(cells, c)
		}
	}
	slices.SortFunc(cells, func(a, b *cell) int { return cmp.Compare(a.col.class.From, b.col.class.From) })
	if !in.classesApart(it, cells) {
		return
	}
	t := tally{classes: in.classNames(cells), counts: make([]int, len(cells))}
	sum, before := 0, in.problems
	for k, c := range cells {
		if c.kind == geojson.Null {
			in.notice(it.where, c.col.name, "an empty class beside filled ones was read as no cane")
			continue
		}
		t.counts[k] = in.wholeCell(it, c, 0, 300)
		sum += t.counts[k]
	}
	if in.problems > before {
		return
	}
	if _, most := vine.CaneCount.Limits(); float64(sum) > most {
		in.problem(it.where, cells[0].col.name, "out of range", fmt.Sprintf("%d canes in all classes", sum), fmt.Sprintf("at most %g", most))
		return
	}
	if c := it.cellOf(csv.Measure(vine.CaneCount)); c != nil {
		if v, _, err := c.number(); err == nil && v != float64(sum) {
			in.bad(it, c, fmt.Sprintf("the classes of diameters add up to %d canes", sum), "the same number of canes in both")
			return
		}
	}
	in.vines.tally.set(i, int32(len(in.vines.tallies)))
	in.vines.tallies = append(in.vines.tallies, t)
	in.vines.measure(vine.CaneCount, i, float64(sum), -1)
	if it.cellOf(csv.Measure(vine.CaneDiameter)) != nil {
		return
	}
	if mean, ok := meanDiameter(cells, t.counts); ok {
		in.vines.measure(vine.CaneDiameter, i, rounded(mean, 12), in.names.index([]byte(fromClasses)))
	} else if sum > 0 {
		in.notice(it.where, cells[0].col.name, "classes without a closed one beside them give a cane count, but no mean diameter")
	}
}

// classesApart refuses classes that overlap.
func (in *intake) classesApart(it *itemIn, cells []*cell) bool {
	for k := 1; k < len(cells); k++ {
		a, b := cells[k-1].col, cells[k].col
		if b.class.From >= a.class.To-1e-9 {
			continue
		}
		if key := fmt.Sprint("classes ", it.file); !in.unknown[key] {
			in.unknown[key] = true
			in.bad(it, cells[k], fmt.Sprintf("classes that overlap: %q and %q", a.name, b.name), "classes of which one begins where the one before ends")
		}
		return false
	}
	return true
}

// classNames gives the names of the classes, the same slice for the same names.
func (in *intake) classNames(cells []*cell) []string {
	names := make([]string, len(cells))
	for k, c := range cells {
		names[k] = c.col.class.Name
	}
	if n := len(in.vines.tallies); n > 0 && slices.Equal(in.vines.tallies[n-1].classes, names) {
		return in.vines.tallies[n-1].classes
	}
	return names
}

// meanDiameter is the mean of the middles of the classes, in mm. A class with one
// bound is taken to be as wide as the closed one beside it (the usual way with
// grouped data), but not to reach below nought; ok is false where canes fell into
// one without a closed class beside it, or there are none.
func meanDiameter(cells []*cell, counts []int) (mm float64, ok bool) {
	sum, n := 0.0, 0
	for k, count := range counts {
		if count == 0 {
			continue
		}
		c := *cells[k].col.class
		if c.Open() {
			beside := k + 1
			if math.IsInf(c.To, 0) {
				beside = k - 1
			}
			if beside < 0 || beside >= len(cells) || cells[beside].col.class.Open() {
				return 0, false
			}
			width := cells[beside].col.class.To - cells[beside].col.class.From
			if math.IsInf(c.To, 0) {
				c.To = c.From + width
			} else {
				c.From = max(0, c.To-width)
			}
		}
		sum += float64(count) * (c.From + c.To) / 2
		n += count
	}
	return sum / float64(n), n > 0
}

// tallyOf gives the counts by classes of line i, nil where it has none.
func (w *blockWork) tallyOf(q vine.Quantity, i int) *tally {
	if k := w.vines.tally.get(i); k >= 0 && q == vine.CaneCount {
		return &w.vines.tallies[k]
	}
	return nil
}

// sameTally tells whether the counts of a vine are those that were imported last.
func (w *blockWork) sameTally(last *baseline, id vine.ID, t *tally) bool {
	newest := last.newest(func(e vine.Event) bool { m, ok := e.Body.(vine.Measure); return ok && m.Quantity == vine.CaneCount })
	if newest == nil {
		return false
	}
	m, at := newest.Body.(vine.Measure), slices.Index(newest.Target.Vines, id)
	return at >= 0 && at < len(m.Counts) && slices.Equal(m.Counts[at], t.counts) && slices.Equal(m.Classes, t.classes)
}
