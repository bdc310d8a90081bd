package work

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// became of a vine during an import.
type fate uint8

const (
	same fate = iota
	changed
	made
)

// rowWork is a row with its vines while they are worked on.
type rowWork struct {
	*task
	vines []store.Vine // by number
	fate  []fate
	lines []int32 // lines of the files about this row
	of    []int32 // which vine each of them means, -1 after a problem
}

// vinesAtOnce is about how many vines are written and recorded together.
const vinesAtOnce = 5000

// workRows goes through the rows block by block.
func (m *merge) workRows(tasks []*task, order []int32) error {
	done := int64(0)
	tell := m.tellProgress("store vines")
	for from := 0; from < len(tasks); {
		b := tasks[from].b
		to := from
		for to < len(tasks) && tasks[to].b == b {
			to++
		}
		w := &blockWork{merge: m, b: b}
		if err := w.begin(); err != nil {
			return err
		}
		var batch []*rowWork
		n := 0
		for _, t := range tasks[from:to] {
			if err := m.ctx.Err(); err != nil {
				return err
			}
			rw := w.prepare(t, order)
			batch = append(batch, rw)
			if n += len(rw.vines); n >= vinesAtOnce {
				if err := w.flush(batch); err != nil {
					return err
				}
				done += int64(n)
				tell(done, max(done, int64(m.vines.len())))
				batch, n = batch[:0], 0
			}
		}
		if err := w.flush(batch); err != nil {
			return err
		}
		if err := w.end(); err != nil {
			return err
		}
		from = to
	}
	return nil
}

// blockWork is the work on the rows of one block.
type blockWork struct {
	*merge
	b       *block
	stored  map[vine.ID][]store.Vine // by row
	log     map[vine.ID][]vine.Event // by row
	nothing baseline                 // of a vine of which nothing was imported
	plan    []store.PlanEntry
	planned where
	absent  int
	seen    int
}

func (w *blockWork) begin() error {
	if !w.b.stored {
		return nil
	}
	w.stored = map[vine.ID][]store.Vine{}
	for v, err := range w.tx.Vines(w.ctx, w.b.ID) {
		if err != nil {
			return err
		}
		w.stored[v.Row] = append(w.stored[v.Row], v)
	}
	return w.loadLog()
}

// prepare brings a row's vines to what the files say. Nothing is written yet.
func (w *blockWork) prepare(t *task, order []int32) *rowWork {
	rw := &rowWork{task: t, vines: w.stored[t.r.ID]}
	delete(w.stored, t.r.ID)
	rw.fate = make([]fate, len(rw.vines))
	pointed := false
	for _, run := range t.lines {
		for _, i := range order[run[0]:run[1]] {
			rw.lines = append(rw.lines, i)
			pointed = pointed || w.vines.hasPoint(int(i))
		}
	}
	if t.r.moved {
		w.layOut(rw, pointed)
	}
	w.applyLines(rw)
	w.checkNumbers(rw)
	w.countVines(rw)
	return rw
}

// layOut gives a row that is new or was moved its vines by planting distance.
// Vines that were surveyed stay where they were found.
func (w *blockWork) layOut(rw *rowWork, pointed bool) {
	r := rw.r
	spacing := w.spacing(rw)
	surveyed := len(rw.vines) > 0 && !w.wasLaidOut(rw)
	if pointed || surveyed {
		if surveyed {
			w.notice(r.in.where, "geometry", "the row was changed; its vines were surveyed and stay where they are")
		}
		return
	}
	if spacing == 0 {
		w.notice(r.in.where, string(csv.VineSpacing), "not said; no vines were laid out")
		return
	}
	laid, err := r.laid.Places(layout.Spacing{VineM: spacing, StartM: w.offset(r)})
	if err != nil {
		w.rowProblem(r.in, err)
		return
	}
	if r.in.vines > 0 && r.in.vines != len(laid.Places) {
		w.notice(r.in.where, string(csv.Vines), fmt.Sprintf("%d vines laid out every %g m, not the %d of the file; %.2f m left over", len(laid.Places), spacing, r.in.vines, total(laid.LeftOverM)))
	}
	w.lay(rw, laid.Places, spacing)
}

func total(list []float64) (sum float64) {
	for _, v := range list {
		sum += v
	}
	return sum
}

// spacing is the planting distance of a row, from the file, the store, or the
// number of vines that the file says.
func (w *blockWork) spacing(rw *rowWork) float64 {
	if s := w.spacingOf(w.b, rw.r); s > 0 {
		return s
	}
	if n := rw.r.in.vines; n > 1 {
		s := (rw.r.laid.LengthM() - w.offset(rw.r)) / float64(n-1)
		w.notice(rw.r.in.where, string(csv.VineSpacing), fmt.Sprintf("not said; %d vines make it %.3f m", n, s))
		return s
	}
	return 0
}

func (w *blockWork) offset(r *row) float64 {
	if r.in.hasOffset {
		return r.in.offsetM
	}
	return w.job.OffsetM
}

// wasLaidOut tells whether the stored vines stand where the row's former line
// and spacing put them, to 5 cm.
func (w *blockWork) wasLaidOut(rw *rowWork) bool {
	r := rw.r
	if len(r.before.Parts) == 0 || r.beforeSpacingM == 0 {
		return false
	}
	laid, err := r.before.Places(layout.Spacing{VineM: r.beforeSpacingM, StartM: w.offset(r)})
	if err != nil {
		return false
	}
	for _, v := range rw.vines {
		if v.Number > len(laid.Places) || frame.Dist(laid.Places[v.Number-1].At, w.b.frame.XY(v.Point)) > 0.05 {
			return false
		}
	}
	return true
}

// find gives the place of a number among the vines, or where it would go.
func (rw *rowWork) find(number int) (int, bool) {
	return slices.BinarySearchFunc(rw.vines, number, func(v store.Vine, n int) int { return cmp.Compare(v.Number, n) })
}

func (rw *rowWork) change(k int) {
	if rw.fate[k] == same {
		rw.fate[k] = changed
	}
}

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

// sort brings the vines into order of number again.
func (rw *rowWork) sort() {
	order := make([]int, len(rw.vines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rw.vines[a].Number, rw.vines[b].Number) })
	vines, fates := make([]store.Vine, len(order)), make([]fate, len(order))
	for i, k := range order {
		vines[i], fates[i] = rw.vines[k], rw.fate[k]
	}
	rw.vines, rw.fate = vines, fates
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
	if foot.Dist > w.farM() {
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

// checkNumbers refuses numbers used twice and numbers that do not run along the
// row.
func (w *blockWork) checkNumbers(rw *rowWork) {
	if !slices.IsSortedFunc(rw.vines, func(a, b store.Vine) int { return cmp.Compare(a.Number, b.Number) }) {
		w.resort(rw)
	}
	against, first := 0, -1
	for k := 1; k < len(rw.vines); k++ {
		a, b := rw.vines[k-1], rw.vines[k]
		if a.Number == b.Number {
			w.problem(w.lineFor(rw, k), string(csv.Vine), "one number for two vines", w.address(rw, k), "a number of its own for each vine")
			return
		}
		if rw.fate[k] != same && a.Part == b.Part && b.ChainageM < a.ChainageM-0.01 {
			against++
			if first < 0 {
				first = k
			}
		}
		if b.Number > stand.MaxNumber {
			w.problem(w.lineFor(rw, k), string(csv.Vine), "number out of range", fmt.Sprint(b.Number), fmt.Sprintf("1 to %d", stand.MaxNumber))
		}
	}
	if against == 0 || w.problems > 0 {
		return
	}
	what := fmt.Sprintf("row %s/%s: vine %d stands before vine %d along the row", w.b.Code, rw.r.Label, rw.vines[first].Number, rw.vines[first-1].Number)
	if against == len(rw.vines)-1 {
		what = fmt.Sprintf("row %s/%s: vines are numbered from the other end than the row", w.b.Code, rw.r.Label)
	}
	w.problem(w.lineFor(rw, first), string(csv.Vine), what, fmt.Sprintf("%.2f m and %.2f m from the numbering end", rw.vines[first].ChainageM, rw.vines[first-1].ChainageM), "numbers that rise from the row's numbering end")
}

// resort is sort for vines that lines refer to.
func (w *blockWork) resort(rw *rowWork) {
	ids := make([]vine.ID, len(rw.of))
	numbers := make([]int, len(rw.of))
	for l, k := range rw.of {
		if k >= 0 {
			ids[l], numbers[l] = rw.vines[k].ID, rw.vines[k].Number
		}
	}
	rw.sort()
	for l, k := range rw.of {
		if k < 0 {
			continue
		}
		for j, v := range rw.vines {
			if v.ID == ids[l] && v.Number == numbers[l] {
				rw.of[l] = int32(j)
				break
			}
		}
	}
}

// lineFor gives the place in the files that speaks of vine k, else of the row.
func (w *blockWork) lineFor(rw *rowWork, k int) where {
	for l, of := range rw.of {
		if int(of) == k {
			return w.at(int(rw.lines[l]))
		}
	}
	if rw.r.in != nil {
		return rw.r.in.where
	}
	return where{file: -1, feature: -1}
}

// countVines counts what became of the vines of a row.
func (w *blockWork) countVines(rw *rowWork) {
	c := &w.report.Vines
	named := make([]bool, len(rw.vines))
	for _, k := range rw.of {
		if k >= 0 {
			named[k] = true
		}
	}
	for k, f := range rw.fate {
		switch {
		case f == made:
			c.Made++
		case f == changed:
			c.Changed++
		case named[k]:
			c.Unchanged++
		}
	}
}

// flush writes vines and records of some rows.
func (w *blockWork) flush(batch []*rowWork) error {
	if w.problems > 0 || len(batch) == 0 {
		return nil
	}
	var list []store.Vine
	for _, rw := range batch {
		for k, f := range rw.fate {
			if f != same {
				list = append(list, rw.vines[k])
			}
		}
	}
	if len(list) > 0 {
		if err := w.tx.SaveVines(list); err != nil {
			return err
		}
	}
	n := 0
	for _, rw := range batch {
		for k, f := range rw.fate {
			if f != same {
				rw.vines[k].ID = list[n].ID
				n++
			}
		}
	}
	return w.record(batch)
}

// end writes the block's plan and says what the files left out.
func (w *blockWork) end() error {
	if w.absent > 0 && 2*w.absent < w.seen && w.job.As != Measures {
		w.notices.Add("", string(csv.Vine), -1, 0, fmt.Sprintf("%d vines of the rows of block %s are not in the file and stay as they are", w.absent, w.b.Code))
	}
	if w.problems > 0 {
		return nil
	}
	return w.savePlan()
}

func isNotFound(err error) bool { return errors.Is(err, store.ErrNotFound) }
