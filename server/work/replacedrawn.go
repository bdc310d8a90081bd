package work

import (
	"fmt"
	"math"

	"courson/geo/format/csv"
	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/store"
)

// Rows that were made and not surveyed give way to the rows of a file: whatever
// numbers the file has, each takes the place of the nearest parallel one, in their
// order. Ids of rows and vines stay, and with them records and history. What does not
// match stays and is said.

// meetDrawn finds for the rows of a file the made rows of their block that they take
// the place of. It does nothing where the block has surveyed rows too, or where the
// file names stored rows by their ids.
func (m *merge) meetDrawn(b *block, list []*rowIn) {
	var stored []*row
	var lines []layout.Row
	for _, r := range b.rows {
		_, r.drawn = r.Extra[ExtraDrawn]
		if !r.drawn || !r.placed {
			return
		}
		stored, lines = append(stored, r), append(lines, r.laid)
	}
	if len(stored) == 0 {
		return
	}
	var given []*rowIn
	var surveyed []layout.Row
	for _, in := range list {
		for _, r := range stored {
			if in.id == r.ID {
				return
			}
		}
		line, err := layout.NewRow(b.frame, in.line, layout.AsDrawn)
		if err != nil || in.label == "" {
			return // said where rows are placed
		}
		given, surveyed = append(given, in), append(surveyed, line)
	}
	m.takePlaces(b, given, stored, draw.Pair(surveyed, lines, m.spacingOfRows(b, surveyed)))
}

// spacingOfRows is the row spacing of a block, m, measured where nobody says it.
func (m *merge) spacingOfRows(b *block, rows []layout.Row) float64 {
	switch {
	case b.RowSpacingM > 0:
		return b.RowSpacingM
	case m.job.RowSpacingM > 0:
		return m.job.RowSpacingM
	}
	return max(1, medianDistance(rows))
}

// takePlaces notes which stored row each row of the file is, and says what is left
// alone on either side.
func (m *merge) takePlaces(b *block, given []*rowIn, stored []*row, pair []int) {
	if m.placeOf == nil {
		m.placeOf = map[*rowIn]*row{}
	}
	labels, taken := map[string]bool{}, make([]bool, len(stored))
	var fresh []string
	for i, in := range given {
		labels[in.label] = true
		m.placeOf[in] = nil
		if pair[i] < 0 {
			fresh = append(fresh, in.label)
			continue
		}
		m.placeOf[in], taken[pair[i]] = stored[pair[i]], true
	}
	var left []string
	for k, r := range stored {
		if taken[k] {
			continue
		}
		r.drawn = false
		if labels[r.Label] {
			delete(b.byLabel, r.Label)
			r.Label, r.dirty = r.Label+"-drawn", true
			b.byLabel[r.Label] = r
		}
		left = append(left, r.Label)
	}
	at := given[0].where
	m.notice(at, string(csv.Row), fmt.Sprintf("block %s: %d of its %d rows that were drawn are taken for surveyed ones, each for the nearest parallel one; ids and records of rows and vines stay", b.Code, len(stored)-len(left), len(stored)))
	if left != nil {
		m.notice(at, string(csv.Row), fmt.Sprintf("block %s: no row of the file lies by %d drawn rows; they stay: %s", b.Code, len(left), firstOf(left)))
	}
	if fresh != nil {
		m.notice(at, string(csv.Row), fmt.Sprintf("block %s: %d rows of the file lie by no drawn row and are new: %s", b.Code, len(fresh), firstOf(fresh)))
	}
}

// byAlong finds for each place the stored vine that stands nearest to it along the
// row, within reach, each vine once; -1 where there is none. A row that was drawn may
// lie aside of the surveyed one, so only the distance along it counts.
func (w *blockWork) byAlong(rw *rowWork, places []layout.Place, reach float64) []int {
	along := make([]float64, len(rw.vines))
	for k, v := range rw.vines {
		along[k] = rw.r.laid.Nearest(w.b.frame.XY(v.Point)).ChainageM
	}
	of := make([]int, len(places))
	taken := make([]bool, len(rw.vines))
	for i, p := range places {
		of[i] = -1
		best := reach
		for k, c := range along {
			if d := math.Abs(c - p.ChainageM); !taken[k] && d < best {
				of[i], best = k, d
			}
		}
		if of[i] >= 0 {
			taken[of[i]] = true
		}
	}
	return of
}

// countAlong counts the vines of a drawn row from the numbering end of the surveyed
// one, whose vines are surveyed too and come with their numbers.
func (w *blockWork) countAlong(rw *rowWork) {
	if len(rw.vines) < 2 {
		return
	}
	first, last := rw.vines[0], rw.vines[len(rw.vines)-1]
	along := func(v store.Vine) float64 { return rw.r.laid.Nearest(w.b.frame.XY(v.Point)).ChainageM }
	if along(first) <= along(last) {
		return
	}
	for k := range rw.vines {
		rw.vines[k].Number = first.Number + last.Number - rw.vines[k].Number
		rw.change(k)
	}
	rw.sort()
}

// layDrawn gives the vines of a drawn row their places along the surveyed one. They
// are numbered as laid out; vines that have no place on it stay where they were, with
// numbers beyond the last, and are said.
func (w *blockWork) layDrawn(rw *rowWork, places []layout.Place, spacing float64) {
	of := w.byAlong(rw, places, spacing/2)
	lost := w.lost(rw, of)
	alone := make([]bool, len(rw.vines))
	for k := range alone {
		alone[k] = true
	}
	for i, p := range places {
		v := store.Vine{Block: w.b.ID, Row: rw.r.ID, Number: p.Number, Point: p.Point, ChainageM: p.ChainageM, Part: p.Part}
		if of[i] < 0 {
			rw.vines, rw.fate = append(rw.vines, v), append(rw.fate, made)
			continue
		}
		alone[of[i]] = false
		rw.move(of[i], v)
	}
	next := len(places)
	for k := range alone {
		if alone[k] {
			next++
			rw.vines[k].Number = next
			rw.change(k)
		}
	}
	if len(lost) > 0 {
		w.notice(rw.r.in.where, "geometry", fmt.Sprintf("%d drawn vines have no place on the surveyed row; they stay where they were, with numbers from %d on; drawn numbers: %s", len(lost), len(places)+1, firstOf(lost)))
	}
	rw.sort()
}
