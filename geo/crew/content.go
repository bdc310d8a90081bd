package crew

import (
	"fmt"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Job is an operation in one block and season.
type Job struct {
	Stand     *stand.Stand
	System    System
	Table     *Table
	Operation string
	// Progress is how far the operation has got on each vine; nil: for pruning
	// the stand's, for anything else nothing is done yet.
	Progress []vine.Progress
	// Before is the progress of the operation that this one comes after. Vines
	// where it is not done wait. nil: not asked.
	Before []vine.Progress
	// Saved: the operation that saves work, such as pre-pruning, went over the
	// block.
	Saved bool
}

// Content is what there is to do.
type Content struct {
	Vines   int     `json:"vines"`   // to be done
	Minutes float64 `json:"minutes"` // of one person
	Young   int     `json:"young"`   // of the vines to be done
	Weak    int     `json:"weak"`    // of the others: seen as weak, or of class 1 or 2
	Sick    int     `json:"sick"`    // diseased
}

func (c *Content) add(d Content) {
	c.Vines += d.Vines
	c.Minutes += d.Minutes
	c.Young += d.Young
	c.Weak += d.Weak
	c.Sick += d.Sick
}

// HoursPerHa gives the person-hours per hectare of an area in m²; 0 without one.
func (c Content) HoursPerHa(areaM2 float64) float64 {
	if !(areaM2 > 0) {
		return 0
	}
	return c.Minutes / 60 / (areaM2 / 10_000)
}

// FewShare is the share of young and weak vines from which a row goes to skilled
// hands where an operation wants them for such vines (chosen by us).
const FewShare = 0.25

// Work is a job with the minutes of every vine.
type Work struct {
	Job
	Minutes   []float64 // of one person, vine by vine; 0: nothing to do
	operation Operation
	rows      map[vine.ID]int
}

// Weigh works out what each vine of a job takes: its class's rate, and of that
// the share that goes with the nodes in proportion to the mean of its class, so
// that the sum stays that of the rates. Vines that are done or skipped take
// nothing. The error wraps ErrJob.
func Weigh(j Job) (*Work, error) {
	if j.Stand == nil || j.Stand.Ground == nil || j.Table == nil {
		return nil, wrong(ErrJob, "stand and table", "nothing", "both")
	}
	s, n := j.Stand, j.Stand.Ground.Len()
	op, ok := j.Table.Operation(j.Operation)
	if !ok {
		return nil, wrong(ErrJob, "operation", fmt.Sprintf("%q", j.Operation), "an operation of the list")
	}
	if j.Progress == nil && op.Name == Pruning {
		j.Progress = s.Progress
	}
	for _, p := range [][]vine.Progress{j.Progress, j.Before} {
		if p != nil && len(p) != n {
			return nil, wrong(ErrJob, "progress", fmt.Sprintf("%d entries", len(p)), fmt.Sprintf("%d, one per vine", n))
		}
	}
	w := &Work{Job: j, Minutes: make([]float64, n), operation: op, rows: map[vine.ID]int{}}
	for r, row := range s.Ground.Rows {
		w.rows[row.ID] = r
	}
	mean := w.meanNodes()
	for i := range n {
		if !w.waits(i) {
			continue
		}
		c := ClassOf(s, i)
		m := j.Table.Minutes(Key{op.Name, j.System, c}, j.Saved)
		if s.Nodes[i] != stand.None && mean[c] > 0 {
			m *= 1 - op.NodeShare + op.NodeShare*float64(s.Nodes[i])/mean[c]
		}
		w.Minutes[i] = m
	}
	return w, nil
}

// waits tells whether the operation is due on vine i.
func (w *Work) waits(i int) bool {
	if !w.operation.On.reaches(w.Stand.Condition[i]) {
		return false
	}
	if w.Before != nil && w.Before[i] != vine.Done {
		return false
	}
	return w.Progress == nil || w.Progress[i] != vine.Done && w.Progress[i] != vine.Skipped
}

// meanNodes is the mean of the nodes planned for the vines of each class that
// the operation reaches, done or not: what is done does not change the rest.
func (w *Work) meanNodes() (mean [ClassYoung + 1]float64) {
	var count [ClassYoung + 1]float64
	for i, n := range w.Stand.Nodes {
		if n == stand.None || !w.operation.On.reaches(w.Stand.Condition[i]) {
			continue
		}
		c := ClassOf(w.Stand, i)
		mean[c] += float64(n)
		count[c]++
	}
	for c := range mean {
		if count[c] > 0 {
			mean[c] /= count[c]
		}
	}
	return mean
}

func (w *Work) sick(i int) bool { return w.Stand.Condition[i] == vine.Diseased }

func (w *Work) weak(i int) bool {
	s := w.Stand
	return s.Condition[i] == vine.Weak || s.Vigour[i] == 1 || s.Vigour[i] == 2
}

// Vine gives what there is to do on vine i.
func (w *Work) Vine(i int) Content {
	if w.Minutes[i] <= 0 {
		return Content{}
	}
	c := Content{Vines: 1, Minutes: w.Minutes[i]}
	switch {
	case w.sick(i):
		c.Sick = 1
	case ClassOf(w.Stand, i) == ClassYoung:
		c.Young = 1
	case w.weak(i):
		c.Weak = 1
	}
	return c
}

// Between gives what there is to do on vines first to end-1.
func (w *Work) Between(first, end int) (c Content) {
	for i := first; i < end; i++ {
		c.add(w.Vine(i))
	}
	return c
}

// Row gives what there is to do in row r.
func (w *Work) Row(r int) Content {
	row := w.Stand.Ground.Rows[r]
	return w.Between(row.First, row.First+row.Count)
}

// All gives what there is to do in the block.
func (w *Work) All() Content { return w.Between(0, len(w.Minutes)) }

// Skilled tells whether such work wants skilled hands.
func (w *Work) Skilled(c Content) bool {
	switch w.operation.Skill {
	case SkilledForEach:
		return true
	case SkilledForFew:
		return c.Vines > 0 && float64(c.Young+c.Weak) >= FewShare*float64(c.Vines)
	}
	return false
}

// Rows gives the rows with work left, ready to be shared among crews.
func (w *Work) Rows() (rows []Row) {
	g := w.Stand.Ground
	for r, row := range g.Rows {
		if c := w.Row(r); c.Vines > 0 {
			rows = append(rows, Row{Block: g.Block, ID: row.ID, Label: row.Label, Vines: c.Vines, Minutes: c.Minutes, Skilled: w.Skilled(c)})
		}
	}
	return rows
}
