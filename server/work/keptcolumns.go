package work

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"courson/geo/format"
	"courson/store"
)

// PaperColumns is what somebody said that the columns of a file mean, kept for the
// next file that has the same ones.
const PaperColumns store.PaperKind = "import-columns"

type keptColumns struct {
	Names   []string          `json:"names"`
	Columns map[string]string `json:"columns"`
}

// columnsKey is the key of a set of columns in files of one form.
func columnsKey(form FileForm, names []string) string {
	names = slices.Sorted(slices.Values(names))
	sum := sha256.Sum256([]byte(string(form) + "\x00" + strings.Join(names, "\x00")))
	return hex.EncodeToString(sum[:16])
}

// loadColumns reads what was kept, where the job does not say itself.
func (in *intake) loadColumns(ctx context.Context, st reader) error {
	if in.job.Columns != nil {
		return nil
	}
	papers, err := st.Papers(ctx, store.PaperQuery{Kind: PaperColumns})
	if err != nil {
		return err
	}
	in.kept = map[string]map[string]string{}
	for _, p := range papers {
		var k keptColumns
		if err := json.Unmarshal(p.Value, &k); err != nil {
			return fmt.Errorf("what columns mean (%s): %w", p.Key, err)
		}
		in.kept[p.Key] = k.Columns
	}
	return nil
}

// meet takes up the columns of a file before the first value is read: what was
// said of the same ones last time holds again, and is said.
func (in *intake) meet(file int, names []string) {
	if in.met[file] != nil {
		return
	}
	in.met[file] = slices.Clone(names)
	said := in.job.Columns
	if said == nil {
		said = in.kept[columnsKey(in.job.Files[file].form, names)]
		for _, name := range slices.Sorted(maps.Keys(said)) {
			text := "left out, as was said last time"
			if said[name] != "" {
				text = fmt.Sprintf("taken as %s, as was said last time", said[name])
			}
			in.notice(where{file: file, feature: format.None}, name, text)
		}
	}
	in.said[file] = said
}

// checkColumns refuses what is said of columns that are not there.
func (in *intake) checkColumns() {
	if in.problems > 0 {
		return // a file may not have been read to its end
	}
	var known []string
	for _, cols := range in.cols {
		known = slices.AppendSeq(known, maps.Keys(cols))
	}
	for _, name := range slices.Sorted(maps.Keys(in.job.Columns)) {
		if !slices.Contains(known, name) {
			slices.Sort(known)
			in.problem(where{file: -1, feature: format.None}, name, "no file has a column of this name", "", "one of "+strings.Join(known, ", "))
		}
	}
}

// keepColumns keeps what the job says of columns.
func (m *merge) keepColumns() error {
	for file, names := range m.met {
		k := keptColumns{Names: names, Columns: map[string]string{}}
		for _, name := range names {
			if to, ok := m.job.Columns[name]; ok {
				k.Columns[name] = to
			}
		}
		if len(k.Columns) == 0 {
			continue
		}
		key := columnsKey(m.job.Files[file].form, names)
		was, err := papersOf[keptColumns](m.ctx, m.tx, store.PaperQuery{Kind: PaperColumns, Key: key})
		if err != nil {
			return err
		}
		taught := takenColumns{Key: key, Now: k}
		if len(was) > 0 {
			taught.Was = was[0]
		}
		m.journal.columns = append(m.journal.columns, taught)
		if err := savePaper(m.tx, store.Paper{Kind: PaperColumns, Key: key, Made: m.now, By: m.job.By}, k); err != nil {
			return err
		}
	}
	return nil
}

// takenColumns is what an import taught of a set of columns, and what held of them
// before.
type takenColumns struct {
	Key string      `json:"key"`
	Was keptColumns `json:"was"` // without columns: nothing was said
	Now keptColumns `json:"now"`
}

// takeBackColumns lets what the import said of columns hold no more: what the last
// import that still holds said of them counts again, else what held before any that
// taught them. A word that a later import gave stays.
func (u *undo) takeBackColumns() error {
	for _, c := range u.taken.Trace.Columns {
		if u.columnsSaid(u.later, c.Key) != nil {
			u.report.Notes = append(u.report.Notes, "what a later import said of its columns stays")
			continue
		}
		back := u.columnsBefore(c.Key)
		if err := savePaper(u.tx, store.Paper{Kind: PaperColumns, Key: c.Key, Made: u.now, By: u.job.By}, back); err != nil {
			return err
		}
		note := "what was said of its columns is forgotten: the next file with them asks again"
		if len(back.Columns) > 0 {
			note = "what was said of its columns before holds again"
		}
		u.report.Notes = append(u.report.Notes, note)
	}
	return nil
}

// columnsSaid is what the newest of some imports said of a set of columns, nil for
// nothing.
func (u *undo) columnsSaid(list []Taken, key string) *takenColumns {
	for _, t := range slices.Backward(list) {
		if t.Trace == nil {
			continue
		}
		for i := range t.Trace.Columns {
			if t.Trace.Columns[i].Key == key {
				return &t.Trace.Columns[i]
			}
		}
	}
	return nil
}

// columnsBefore is what held of a set of columns without the import.
func (u *undo) columnsBefore(key string) keptColumns {
	var holding []Taken
	var first *takenColumns
	for _, t := range u.all { // ids rise with time
		if c := u.columnsSaid([]Taken{t}, key); c != nil && first == nil {
			first = c
		}
		if t.ID < u.taken.ID && t.Undone == nil {
			holding = append(holding, t)
		}
	}
	if c := u.columnsSaid(holding, key); c != nil {
		return c.Now
	}
	return first.Was
}
