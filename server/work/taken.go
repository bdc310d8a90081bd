package work

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// The kinds of paper that keep what imports did: one for each import, its key the
// import's id; and how ground stood before, key id and number.
const (
	PaperImport store.PaperKind = "import"
	paperBefore store.PaperKind = "import-before"
)

// Taken is an import that was taken in.
type Taken struct {
	ID     string    `json:"id"`
	Made   time.Time `json:"made"`
	By     string    `json:"by,omitempty"`
	Files  []string  `json:"files"`
	As     Kind      `json:"as,omitempty"`
	Season int       `json:"season,omitempty"`

	// What it brought.
	Blocks    Count     `json:"blocks"`
	Rows      Count     `json:"rows"`
	Vines     Count     `json:"vines"`
	Records   []Records `json:"records"`
	PlanVines int       `json:"plan_vines,omitempty"`
	Points    int       `json:"points,omitempty"` // surveyed or detected, kept

	// Undone tells when it was taken back; nil: it holds.
	Undone *Undone `json:"undone,omitempty"`

	Trace *trace `json:"trace,omitempty"` // what Undo needs
}

// Undone is when and by whom an import was taken back.
type Undone struct {
	At time.Time `json:"at"`
	By string    `json:"by,omitempty"`
}

// trace is where an import can be found again in the store.
type trace struct {
	From     store.Mark     `json:"from"` // ids and cursors above it …
	To       store.Mark     `json:"to"`   // … and up to it are its own
	Ground   []TakenGround  `json:"ground"`
	Papers   int            `json:"papers"`             // of what stood before
	Restored [][2]int64     `json:"restored,omitempty"` // cursors of records of it that were made anew, both counted
	Plans    []takenPlan    `json:"plans,omitempty"`
	Kept     []takenKept    `json:"kept,omitempty"`
	Image    string         `json:"image,omitempty"`   // of the layer of the map that it brought
	South    bool           `json:"south,omitempty"`   // it set the hemisphere
	Columns  []takenColumns `json:"columns,omitempty"` // what it taught of columns
}

// TakenGround is a block that an import touches: its ground or its records.
type TakenGround struct {
	ID   vine.ID `json:"id"`
	Code string  `json:"code"`
	Made bool    `json:"made"`
	Sum  uint64  `json:"sum"` // of the prints of all that it made there
}

type takenPlan struct {
	Block  vine.ID `json:"block"`
	Season int     `json:"season"`
	ID     int64   `json:"id"`
}

// takenKept is a survey, and the one whose place it took.
type takenKept struct {
	Block   vine.ID `json:"block"`
	ID      string  `json:"id"`
	Instead *Kept   `json:"instead,omitempty"`
}

// taken is what the journal says in the end.
func (j *journal) taken(report *Report, job *ImportJob, to store.Mark, now time.Time) Taken {
	t := Taken{ID: j.id, Made: now, By: job.By, As: job.As, Season: report.Season, Blocks: report.Blocks, Rows: report.Rows, Vines: report.Vines,
		Records: report.Records, PlanVines: report.PlanVines, Trace: &trace{From: j.from, To: to, Papers: j.papers, Plans: j.plans, Kept: j.kept, Image: j.image, South: j.south, Columns: j.columns}}
	if !report.PlanMade {
		t.PlanVines = 0
	}
	if report.Points != nil {
		t.Points = report.Points.Made + report.Points.Replaced
	}
	for _, f := range report.Files {
		if !slices.Contains(t.Files, f.Name) {
			t.Files = append(t.Files, f.Name)
		}
	}
	for thing, print := range j.prints {
		j.ground(j.blockOf[thing]).Sum += print
	}
	for _, g := range j.blocks {
		t.Trace.Ground = append(t.Trace.Ground, *g)
	}
	slices.SortFunc(t.Trace.Ground, func(a, b TakenGround) int { return int(a.ID - b.ID) })
	return t
}

func saveTaken(tx store.Tx, t Taken) error {
	return savePaper(tx, store.Paper{Kind: PaperImport, Key: t.ID, Season: t.Season, Made: t.Made, By: t.By}, t)
}

// Imports gives what was imported, newest first, also what was taken back. How it
// could be taken back is left out.
func Imports(ctx context.Context, st reader) ([]Taken, error) {
	list, err := papersOf[Taken](ctx, st, store.PaperQuery{Kind: PaperImport})
	for i := range list {
		list[i].Trace = nil
	}
	slices.Reverse(list) // ids rise with time
	return list, err
}

// made tells whether an import made the thing with an id.
func (t *trace) made(id vine.ID) bool { return id > t.From.ID && id <= t.To.ID }

// own tells whether a place in the log is of a record of the import.
func (t *trace) own(cursor int64) bool {
	if cursor > t.From.Cursor && cursor <= t.To.Cursor {
		return true
	}
	return slices.ContainsFunc(t.Restored, func(r [2]int64) bool { return cursor >= r[0] && cursor <= r[1] })
}

func beforeKey(id string, n int) string { return fmt.Sprintf("%s/%d", id, n) }

// packed is JSON, gzipped.
type packed struct {
	Data []byte `json:"data"`
}

func pack(v any) ([]byte, error) {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if err := json.NewEncoder(w).Encode(v); err != nil {
		return nil, err
	}
	err := w.Close()
	return b.Bytes(), err
}

func unpack(data []byte, into any) error {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return err
	}
	return json.NewDecoder(io.LimitReader(r, 64<<20)).Decode(into)
}

// readBefore gives how ground stood before an import, in the order in which it
// was changed.
func readBefore(ctx context.Context, st reader, t Taken) ([]before, error) {
	var out []before
	for n := range t.Trace.Papers {
		list, err := papersOf[packed](ctx, st, store.PaperQuery{Kind: paperBefore, Key: beforeKey(t.ID, n)})
		if err != nil {
			return nil, err
		}
		if len(list) != 1 {
			return nil, fmt.Errorf("import %s: what stood before it, part %d: %w", t.ID, n, store.ErrNotFound)
		}
		var b before
		if err := unpack(list[0].Data, &b); err != nil {
			return nil, fmt.Errorf("import %s: what stood before it, part %d: %w", t.ID, n, err)
		}
		out = append(out, b)
	}
	return out, nil
}
