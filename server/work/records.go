package work

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// draft is a record to be made for some vines of one row.
type draft struct {
	body   vine.Body
	at     time.Time
	by     string
	file   int
	vines  []vine.ID
	values []float64 // of a measure, one for each vine
	counts [][]int   // of a count by classes, one for each vine
}

// drafts gathers the records of a row: one for each different condition, day of
// pruning, note, and one for each quantity.
type drafts struct {
	list []*draft
	at   map[draftKey]*draft
}

// draftKey tells drafts apart.
type draftKey struct {
	file    uint8
	kind    vine.Kind
	numbers [5]int64
	text    string
	other   string
	day     int32 // of the line, and who
	who     int32
}

// record makes the records of some rows and puts them into the log.
func (w *blockWork) record(batch []*rowWork) error {
	var events []vine.Event
	for _, rw := range batch {
		if len(rw.lines) == 0 {
			continue
		}
		last := w.lastImported(rw)
		var exported map[int][]baseline // by file
		var d drafts
		for l, i := range rw.lines {
			k := int(rw.of[l])
			if k < 0 {
				continue
			}
			from := last
			if at, ours := w.exported[int(w.vines.file[i])]; ours && w.vines.id.get(int(i)) == rw.vines[k].ID {
				file := int(w.vines.file[i])
				if exported == nil {
					exported = map[int][]baseline{}
				}
				if _, known := exported[file]; !known {
					exported[file] = w.asExported(rw, at)
				}
				from = exported[file]
			}
			base := &w.nothing
			if from != nil {
				base = &from[k]
			}
			w.recordLine(&d, rw, int(i), k, base)
		}
		events = append(events, w.events(rw, &d)...)
	}
	if len(events) == 0 {
		return nil
	}
	answers, err := w.tx.Append(w.ctx, events)
	if err != nil {
		return err
	}
	for i, a := range answers {
		if a.Result == store.Refused {
			return fmt.Errorf("a record of %s was not accepted: %s", events[i].Device, a.Reason)
		}
	}
	return nil
}

// events turns the drafts of a row into events, in order of time: the events of
// one device keep the order of their numbers.
func (w *blockWork) events(rw *rowWork, d *drafts) []vine.Event {
	slices.SortStableFunc(d.list, func(a, b *draft) int { return a.at.Compare(b.at) })
	out := make([]vine.Event, 0, len(d.list))
	received := w.now
	for _, x := range d.list {
		if m, ok := x.body.(vine.Measure); ok {
			m.Values, m.Counts = x.values, x.counts
			x.body = m
		}
		w.seq++
		out = append(out, vine.Event{ID: uuid.Must(uuid.NewV7()), Device: w.device(x.file), Seq: w.seq, At: x.at, When: x.at, Received: received, By: x.by,
			Season: w.season, Target: vine.Target{Block: w.b.ID, Row: rw.r.ID, Vines: x.vines}, Kind: x.body.Kind(), Body: x.body})
	}
	return out
}

// day is when what a line says was seen: as it says itself, else as the job
// does, else now.
func (w *blockWork) day(i int) time.Time {
	if day := w.vines.day.get(i); day != noDay {
		return dayTime(day, w.zone)
	}
	if w.job.Date.IsZero() {
		return w.now
	}
	return w.job.Date
}

// by is who recorded what a line says.
func (w *blockWork) by(i int) string {
	if who := w.vines.by.get(i); who >= 0 {
		return w.names.text(who)
	}
	return w.job.By
}

// recordLine makes records of what a line says of its vine, where it differs
// from what was imported last.
func (w *blockWork) recordLine(d *drafts, rw *rowWork, i, k int, last *baseline) {
	w.recordCondition(d, rw, i, k, last)
	for _, q := range w.quantities {
		w.recordMeasure(d, rw, i, k, q, last)
	}
	w.recordPruned(d, rw, i, k, last)
	w.recordProgress(d, rw, i, k, last)
	w.recordNote(d, rw, i, k, last)
	w.planLine(rw, i, k)
}

// draft finds the draft of a key for the file of line i, and puts vine k into
// it. It is new where it has no body yet.
func (w *blockWork) draft(d *drafts, rw *rowWork, i, k int, key draftKey) *draft {
	key.file, key.day, key.who = w.vines.file[i], w.vines.day.get(i), w.vines.by.get(i)
	x := d.at[key]
	if x == nil {
		if d.at == nil {
			d.at = map[draftKey]*draft{}
		}
		x = &draft{file: int(key.file)}
		d.at[key] = x
		d.list = append(d.list, x)
	}
	x.vines = append(x.vines, rw.vines[k].ID)
	return x
}

func (x *draft) fill(body vine.Body, at time.Time, by string) {
	if x.body == nil {
		x.body, x.at, x.by = body, at, by
	}
}

func (w *blockWork) recordCondition(d *drafts, rw *rowWork, i, k int, last *baseline) {
	t := w.vines
	cond := t.cond.get(i)
	mother, ok := w.motherOf(rw, i, k, cond, last)
	if cond == vine.Unseen || !ok {
		return
	}
	s := vine.Sighting{Condition: cond, Cause: w.names.text(t.cause.get(i))}
	if day := t.look.get(i); day != noDay {
		look := dayTime(day, w.zone).UTC()
		s.LookAgain = &look
	}
	if cond == vine.Replanted {
		s.Planted, s.Mother = int(t.planted.get(i)), mother
	}
	s.Severed = t.severed.get(i) == 1 && cond.Living()
	what := conditionWord(cond)
	if w.sameSighting(s, last) {
		w.count(what, false)
		return
	}
	w.count(what, true)
	at := w.day(i)
	w.takeBack(d, rw, i, k, last, at, func(e vine.Event) bool { return e.Kind == vine.KindCondition })
	key := draftKey{kind: vine.KindCondition, numbers: [5]int64{int64(cond), int64(t.look.get(i)), int64(s.Planted), s.Mother, int64(t.severed.get(i))}, text: s.Cause}
	if x := w.draft(d, rw, i, k, key); x.body == nil {
		x.fill(s, at, w.by(i))
	}
}

// conditionWord is how the report counts a condition.
func conditionWord(c vine.Condition) string {
	if c == vine.Bearing { // nearly every vine
		return "condition bearing"
	}
	return "condition " + c.String()
}

// sameSighting tells whether this was imported last. A column that no file has
// says nothing of the past either.
func (w *blockWork) sameSighting(s vine.Sighting, last *baseline) bool {
	st := &last.state
	if st.Condition != s.Condition || w.vines.cause.some() && st.Cause != s.Cause {
		return false
	}
	if w.vines.look.some() && (s.LookAgain == nil) != st.LookAgain.IsZero() {
		return false
	}
	if s.LookAgain != nil && !s.LookAgain.Equal(st.LookAgain) {
		return false
	}
	if s.Mother != 0 && s.Mother != last.plant.Mother || s.Severed && last.plant.Severed == 0 {
		return false
	}
	return s.Planted == 0 || s.Planted == st.Planted
}

func (w *blockWork) recordMeasure(d *drafts, rw *rowWork, i, k int, q vine.Quantity, last *baseline) {
	c := w.vines.measures[q]
	v := c.get(i)
	if v == c.none {
		return
	}
	scale := w.names.text(w.vines.scale[q].get(i))
	t := w.tallyOf(q, i)
	w.measured(q, rw.vines[k].ID, i)
	if old, ok := last.state.Measures[q]; ok && w.sameReading(old, v, scale, q, i) && (t == nil || w.sameTally(last, rw.vines[k].ID, t)) {
		w.count(string(q), false)
		return
	}
	w.count(string(q), true)
	at := w.day(i)
	w.takeBack(d, rw, i, k, last, at, func(e vine.Event) bool { m, ok := e.Body.(vine.Measure); return ok && m.Quantity == q })
	key := draftKey{kind: vine.KindMeasure, text: string(q), other: scale}
	if t != nil {
		key.other = strings.Join(t.classes, "\n")
	}
	x := w.draft(d, rw, i, k, key)
	if x.body == nil { // once for many vines
		body := vine.Measure{Quantity: q, Unit: q.Unit(), Scale: scale}
		if t != nil {
			body.Classes = t.classes
		}
		x.fill(body, at, w.by(i))
	}
	x.values = append(x.values, v)
	if t != nil {
		x.counts = append(x.counts, t.counts)
	}
}

// sameReading tells whether a value is the one that was imported last: the same
// number, on the same scale and, where the line has a day, of that day.
func (w *blockWork) sameReading(old vine.Reading, v float64, scale string, q vine.Quantity, i int) bool {
	if math.Abs(old.Value-v) > 1e-9*max(1, math.Abs(v)) {
		return false
	}
	if (q == vine.CanopyIndex || q == vine.VisualScore) && old.Scale != scale {
		return false
	}
	day := w.vines.day.get(i)
	return day == noDay || sameDay(old.At, dayTime(day, w.zone), w.zone)
}

func (w *blockWork) recordPruned(d *drafts, rw *rowWork, i, k int, last *baseline) {
	t := w.vines
	day := t.pruned.get(i)
	left := [3]int{int(t.left[0].get(i)), int(t.left[1].get(i)), int(t.left[2].get(i))}
	if day == noDay && left == [3]int{-1, -1, -1} {
		return
	}
	p := prunedOf(left, w.names.text(t.reason.get(i)))
	at := w.day(i)
	if day != noDay {
		at = dayTime(day, w.zone)
	}
	old := last.state.Pruned
	if old != nil && sameLeft(*old, p) && (day == noDay || sameDay(last.state.PrunedAt, at, w.zone)) {
		w.count("pruned", false)
		return
	}
	w.count("pruned", true)
	if old != nil {
		w.takeBack(d, rw, i, k, last, time.Time{}, func(e vine.Event) bool { return e.Kind == vine.KindPruned })
	}
	by := w.names.text(t.prunedBy.get(i))
	if by == "" {
		by = w.by(i)
	}
	key := draftKey{kind: vine.KindPruned, numbers: [5]int64{at.Unix(), int64(left[0]), int64(left[1]), int64(left[2])}, text: p.Reason, other: by}
	w.draft(d, rw, i, k, key).fill(p, at, by)
}

// prunedOf gives the body of a pruned event; -1 is not said.
func prunedOf(left [3]int, reason string) vine.Pruned {
	p := vine.Pruned{Reason: reason}
	for i, to := range []**int{&p.Nodes, &p.Canes, &p.Spurs} {
		if n := left[i]; n >= 0 {
			*to = &n
		}
	}
	return p
}

func sameLeft(a, b vine.Pruned) bool {
	return leftOf(a) == leftOf(b) && a.Reason == b.Reason
}

// leftOf gives nodes, canes and spurs left, -1 where nothing was said.
func leftOf(p vine.Pruned) [3]int {
	out := [3]int{-1, -1, -1}
	if len(p.Arms) > 0 {
		out[0], out[1], out[2], _ = p.Totals()
	}
	for i, n := range []*int{p.Nodes, p.Canes, p.Spurs} {
		if n != nil {
			out[i] = *n
		}
	}
	return out
}

func sameDay(a, b time.Time, zone *time.Location) bool {
	return a.In(zone).Format(time.DateOnly) == b.In(zone).Format(time.DateOnly)
}

func (w *blockWork) recordProgress(d *drafts, rw *rowWork, i, k int, last *baseline) {
	t := w.vines
	p := vine.Progress(max(0, t.progress.get(i)))
	if p == vine.NotStarted || t.pruned.get(i) != noDay && p == vine.Done {
		return
	}
	if last.state.Work[vine.Pruning] == p {
		w.count("pruning "+p.String(), false)
		return
	}
	w.count("pruning "+p.String(), true)
	w.draft(d, rw, i, k, draftKey{kind: vine.KindWork, numbers: [5]int64{int64(p)}}).fill(vine.Work{Operation: vine.Pruning, Progress: p}, w.day(i), w.by(i))
}

// recordNote makes a record of each note that was not imported before. Our own
// exports put the notes of a vine on lines of their own.
func (w *blockWork) recordNote(d *drafts, rw *rowWork, i, k int, last *baseline) {
	text := w.names.text(w.vines.note.get(i))
	if text == "" {
		return
	}
	list := []string{text}
	if w.vines.id.get(i) != 0 {
		list = strings.Split(text, "\n")
	}
	for _, n := range list {
		if strings.TrimSpace(n) == "" {
			continue
		}
		if slices.Contains(last.notes, n) {
			w.count("note", false)
			continue
		}
		w.count("note", true)
		w.draft(d, rw, i, k, draftKey{kind: vine.KindNote, text: n}).fill(vine.Note{Text: n}, w.day(i), w.by(i))
	}
}

// takeBack voids, for one vine, the last imported record that a new one
// corrects: one that is not older than the new one. A zero time corrects
// whatever its day.
func (w *blockWork) takeBack(d *drafts, rw *rowWork, i, k int, last *baseline, at time.Time, about func(vine.Event) bool) {
	newest := last.newest(about)
	if newest == nil || !at.IsZero() && newest.When.Before(at) {
		return
	}
	body := vine.Void{Event: newest.ID, Reason: "corrected by " + w.fileName(int(w.vines.file[i]))}
	w.draft(d, rw, i, k, draftKey{kind: vine.KindVoid, text: newest.ID.String()}).fill(body, w.now, w.job.By)
}
