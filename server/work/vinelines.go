package work

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// applyLines takes over what each line says of its vine.
func (w *blockWork) applyLines(rw *rowWork) {
	rw.of = make([]int32, len(rw.lines))
	w.addPointed(rw)
	lineOf := make([]int32, len(rw.vines))
	var strange []int
	for l, i := range rw.lines {
		k, ok := w.vineOf(rw, int(i))
		rw.of[l] = int32(k)
		if !ok {
			rw.of[l] = -1
			strange = append(strange, int(i))
			continue
		}
		if before := lineOf[k]; before > 0 {
			w.problem(w.at(int(i)), "", fmt.Sprintf("the same vine twice: %s", w.address(rw, k)), fmt.Sprintf("here and in %s", w.spot(w.at(int(rw.lines[before-1])))), "each vine once in one import")
			continue
		}
		lineOf[k] = int32(l + 1)
		w.applyLine(rw, int(i), k)
	}
	if strange != nil {
		w.unknownVines(rw, strange)
	}
	if len(rw.lines) > 0 {
		for k := range rw.vines {
			w.seen++
			if lineOf[k] == 0 && rw.fate[k] == same {
				w.absent++
			}
		}
	}
}

// addPointed adds a vine for every line that has a place and a number that the
// row does not have. They are sorted in once, not one by one.
func (w *blockWork) addPointed(rw *rowWork) {
	if w.job.As == Measures {
		return
	}
	t := w.vines
	stored := len(rw.vines)
	last := math.MinInt
	for _, i := range rw.lines {
		n := int(t.number[i])
		if !t.hasPoint(int(i)) || n < 1 || n == last {
			continue
		}
		if _, ok := slices.BinarySearchFunc(rw.vines[:stored], n, func(v store.Vine, n int) int { return cmp.Compare(v.Number, n) }); ok || w.renumbers(rw, int(i)) {
			continue
		}
		last = n
		v := store.Vine{Block: w.b.ID, Row: rw.r.ID, Number: n}
		w.stand(rw, &v, int(i))
		rw.vines, rw.fate = append(rw.vines, v), append(rw.fate, made)
	}
	if stored > 0 && len(rw.vines) > stored {
		rw.sort()
	}
}

// renumbers tells whether a line names a stored vine of this row by its id under
// another number, and stands where it stands.
func (w *blockWork) renumbers(rw *rowWork, i int) bool {
	_, ok := w.byID(rw, i)
	return ok
}

// byID finds a stored vine by the id of a line, if the line does not speak of
// another place: ids of another store must not move anything.
func (w *blockWork) byID(rw *rowWork, i int) (int, bool) {
	id := w.vines.id.get(i)
	if id == 0 || !w.vines.hasPoint(i) {
		return 0, false
	}
	for k, v := range rw.vines {
		if v.ID != id {
			continue
		}
		near := w.spacingOf(w.b, rw.r) / 2
		return k, frame.Dist(w.b.frame.XY(v.Point), w.b.frame.XY(w.vines.point.get(i))) <= max(0.1, near)
	}
	return 0, false
}

// vineOf finds the vine that a line means.
func (w *blockWork) vineOf(rw *rowWork, i int) (int, bool) {
	k, ok := rw.find(int(w.vines.number[i]))
	id := w.vines.id.get(i)
	if id == 0 || ok && rw.vines[k].ID == id {
		return k, ok
	}
	if j, renumbered := w.byID(rw, i); renumbered {
		return j, true
	}
	w.meetForeign(w.at(i), id)
	return k, ok
}

func (w *blockWork) address(rw *rowWork, k int) string {
	return vine.Address{Block: w.b.Code, Row: rw.r.Label, Number: rw.vines[k].Number}.String()
}

// applyLine takes over number, tag, place and planting of one line.
func (w *blockWork) applyLine(rw *rowWork, i, k int) {
	t, v := w.vines, &rw.vines[k]
	diff := false
	if n := int(t.number[i]); n >= 1 && n != v.Number {
		v.Number, diff = n, true
	}
	if tag := t.tagOf(i); len(tag) > 0 && string(tag) != v.Tag {
		v.Tag, diff = string(tag), true
	}
	if p := int(t.planted.get(i)); p != 0 && t.cond.get(i) != vine.Replanted && p != v.Planted && !(v.Planted == 0 && p == w.b.Planted) {
		v.Planted, diff = p, true
	}
	if t.hasPoint(i) && rw.fate[k] != made && !samePoint(v.Point, t.point.get(i)) && w.job.As != Measures {
		w.stand(rw, v, i)
		diff = true
	}
	if diff {
		rw.change(k)
		if rw.fate[k] == changed {
			w.item(w.at(i), "vine "+w.address(rw, k), "changed", "")
		}
	}
}

// farM is how far aside of its row a vine may stand, m: 0.45 of the row spacing,
// so that it is surely nearer to its own row than to the next, and at least
// 0.6 m; chosen by us.
func (w *blockWork) farM() float64 { return max(0.6, 0.45*w.b.RowSpacingM) }

// stand gives a vine the place of a line, and its chainage along the row.
func (w *blockWork) stand(rw *rowWork, v *store.Vine, i int) {
	v.Point = w.vines.point.get(i)
	if !rw.r.placed {
		return
	}
	foot := rw.r.laid.Nearest(w.b.frame.XY(v.Point))
	if foot.Dist > w.farM() && !w.swapped(w.at(i), v.Point) {
		w.problem(w.at(i), "geometry", fmt.Sprintf("vine %d stands far from its row %s/%s", v.Number, w.b.Code, rw.r.Label), fmt.Sprintf("%.2f m away", foot.Dist), fmt.Sprintf("at most %.2f m; correct the place, the row or the number", w.farM()))
	}
	v.ChainageM, v.Part = foot.ChainageM, foot.Part
}

// unknownVines refuses lines whose vine the row does not have.
func (w *blockWork) unknownVines(rw *rowWork, strange []int) {
	t := w.vines
	if len(rw.vines) == 0 {
		w.problem(w.at(strange[0]), string(csv.Vine), fmt.Sprintf("row %s/%s has no vines", w.b.Code, rw.r.Label), fmt.Sprintf("%d lines about its vines", len(strange)), "the row with its vine spacing first, or longitude and latitude for each vine")
		return
	}
	last := rw.vines[len(rw.vines)-1].Number
	if t.number[strange[0]] == 0 {
		highest := 0
		for _, i := range rw.lines {
			highest = max(highest, int(t.number[i]))
		}
		what := "vines are numbered from 1"
		if highest == last-1 {
			what = fmt.Sprintf("vine 0 is not known and vine %d is absent: the file looks shifted by one, its vines counted from 0", last)
		}
		w.problem(w.at(strange[0]), string(csv.Vine), fmt.Sprintf("row %s/%s: %s", w.b.Code, rw.r.Label, what), "0", fmt.Sprintf("numbers from 1 to %d, with 1 added to each if they were counted from 0", last))
		strange = strange[1:]
	}
	for _, i := range strange {
		w.problem(w.at(i), string(csv.Vine), fmt.Sprintf("a vine that is not known in row %s/%s", w.b.Code, rw.r.Label), fmt.Sprint(t.number[i]), fmt.Sprintf("a number from %d to %d, or longitude and latitude for a new vine", rw.vines[0].Number, last))
	}
}
