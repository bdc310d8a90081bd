package work

import (
	"archive/zip"
	"bytes"
	"fmt"
	"path"
	"strings"

	"courson/geo/format"
	"courson/geo/format/isoxml"
	"courson/geo/rate"
)

// logged is an entry of the data dictionary (ISO 11783-11) that is a rate: its
// name, and how many stored steps are 1 of the unit.
type logged struct {
	name  string
	unit  rate.Unit
	steps float64
}

// loggedRates are the rates per area that machines set and put out: volumes in
// steps of 0.01 mm³/m², masses in mg/m², counts in 0.001/m².
func loggedRates(ddi int) (logged, bool) {
	all := map[int]logged{
		1: {"set volume per area", rate.LPerHa, 10_000}, 2: {"actual volume per area", rate.LPerHa, 10_000},
		6: {"set mass per area", rate.KgPerHa, 100}, 7: {"actual mass per area", rate.KgPerHa, 100},
		11: {"set count per area", rate.PerHa, 0.1}, 12: {"actual count per area", rate.PerHa, 0.1},
	}
	l, ok := all[ddi]
	return l, ok
}

// holdsTaskData tells whether a zip has task data in it.
func holdsTaskData(file []byte) bool {
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return false
	}
	for _, f := range z.File {
		if strings.EqualFold(path.Base(strings.ReplaceAll(f.Name, "\\", "/")), "TASKDATA.XML") {
			return true
		}
	}
	return false
}

// readingsOfTask reads the logs of task data: each value of each part of the
// machine in each task is a field.
func readingsOfTask(file []byte) (*Readings, error) {
	logs, _, err := isoxml.ReadLogZip(bytes.NewReader(file), int64(len(file)), format.Limits{})
	if err != nil {
		return nil, err
	}
	if len(logs) == 0 {
		return nil, fmt.Errorf("the task data have no log of a machine; send the folder as the terminal wrote it after the work")
	}
	tasks := map[string]bool{}
	for _, l := range logs {
		tasks[l.Task] = true
	}
	r := &Readings{}
	for _, l := range logs {
		task := ""
		if len(tasks) > 1 {
			task = l.Task
		}
		before := len(r.Places)
		r.Places, r.NoPlace = append(r.Places, l.Places...), r.NoPlace+l.NoPlace
		if len(r.Places) > mostReadings {
			return nil, errManyReadings
		}
		for _, c := range l.Columns {
			r.column(c, task, before)
		}
		r.level()
	}
	return r, nil
}

// column adds a column of a log whose places follow n others. Of two with one
// name the later gets a number.
func (r *Readings) column(c isoxml.LogColumn, task string, n int) {
	kind, known := loggedRates(c.DDI)
	if !known {
		kind = logged{name: fmt.Sprintf("entry %04X of the data dictionary", c.DDI), steps: 1}
	}
	var words []string
	for _, w := range []string{kind.name, c.Element, task} {
		if w != "" {
			words = append(words, w)
		}
	}
	name := strings.Join(words, ", ")
	if kind.unit != "" {
		name += ", " + string(kind.unit)
	}
	for k := 2; len(r.field(name, n).Values) > n; k++ {
		name = fmt.Sprintf("%s (%d)", strings.TrimSuffix(name, fmt.Sprintf(" (%d)", k-1)), k)
	}
	f := r.field(name, n)
	f.Unit = kind.unit
	for _, v := range c.Stored {
		f.Values = append(f.Values, v/kind.steps)
	}
}
