package work

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/vine"
	"courson/store"
)

// fate is what became of a vine during an import.
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
	lineOf  map[vine.ID]int32 // lines that measure a vine
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
	surveyed := len(rw.vines) > 0 && !r.drawn && !w.wasLaidOut(rw)
	if pointed || surveyed {
		if r.drawn {
			w.countAlong(rw)
		}
		if surveyed {
			w.notice(r.in.where, "geometry", "the row was changed; its vines were surveyed and stay where they are")
		}
		return
	}
	if spacing == 0 {
		w.notice(r.in.where, string(csv.VineSpacing), "not said; no vines were laid out")
		return
	}
	laid, err := r.laid.Places(layout.Spacing{VineM: spacing, StartM: w.startOf(rw)})
	if err != nil {
		w.rowProblem(r.in, err)
		return
	}
	if r.in.vines > 0 && r.in.vines != len(laid.Places) {
		w.notice(r.in.where, string(csv.Vines), fmt.Sprintf("%d vines laid out every %g m, not the %d of the file; %.2f m left over", len(laid.Places), spacing, r.in.vines, total(laid.LeftOverM)))
	}
	if r.drawn {
		w.layDrawn(rw, laid.Places, spacing)
		return
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

// startOf is the offset of a row's first vine; that of a drawn row stays where nobody
// says another.
func (w *blockWork) startOf(rw *rowWork) float64 {
	if r := rw.r; r.drawn && !r.in.hasOffset && w.job.OffsetM == 0 && len(rw.vines) > 0 {
		return rw.vines[0].ChainageM
	}
	return w.offset(rw.r)
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
	if err := w.savePlan(); err != nil {
		return err
	}
	return w.flagUnlikely()
}

func isNotFound(err error) bool { return errors.Is(err, store.ErrNotFound) }
