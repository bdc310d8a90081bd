package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// ErrUndo is at the root of the error of an import that is not taken back because
// something was built on it since. The report lists what; nothing was changed.
var ErrUndo = errors.New("the import was not taken back")

// UndoJob says which import is to be taken back.
type UndoJob struct {
	ID     string
	By     string
	DryRun bool // find out and report, change nothing
	Now    func() time.Time
}

// UndoReport says what taking an import back did, or would do.
type UndoReport struct {
	Import  Taken     `json:"import"`
	DryRun  bool      `json:"dry_run"`
	Already bool      `json:"already"` // it was taken back before: nothing is done
	Refused bool      `json:"refused"`
	Built   []BuiltOn `json:"built"` // what was built on it since: the first of it
	More    int       `json:"more_built,omitempty"`

	Blocks   WentBack `json:"blocks"`
	Rows     WentBack `json:"rows"`
	Vines    WentBack `json:"vines"`
	Records  int      `json:"records"`  // taken back, by vines; they stay in the history
	Restored int      `json:"restored"` // which it had corrected, by vines: they hold again
	Plans    int      `json:"plans"`    // blocks whose plan of before holds again
	Surveys  int      `json:"surveys"`  // taken off their blocks
	Notes    []string `json:"notes"`
}

// WentBack counts ground: what the import made is gone, what it changed is as it
// was.
type WentBack struct {
	Gone int `json:"gone"`
	Back int `json:"back"`
}

// BuiltOn is something that was built on an import.
type BuiltOn struct {
	What string    `json:"what"` // "block B1", "vine B1/3/17", "row B1/3"
	Why  string    `json:"why"`
	By   string    `json:"by,omitempty"`
	At   time.Time `json:"at,omitzero"`
}

// mostBuilt is how many of those a report lists.
const mostBuilt = 50

// Undo takes an import back in one transaction: what it made of the ground goes,
// what it changed is as it was; its records are taken back by records of their
// own, so that the history keeps both; records that it had corrected are made
// anew; the plan and the surveys of before hold again. Once taken back, nothing
// more is done.
//
// Where something was built on the import since, the error wraps ErrUndo and the
// report says what: records about vines that it made or moved, plans, standards,
// orders and surveys of such ground, ground that was changed again, and later
// imports that corrected its records. An import that is not known is
// store.ErrNotFound.
func Undo(ctx context.Context, st store.Store, job UndoJob) (UndoReport, error) {
	report := UndoReport{DryRun: job.DryRun, Built: []BuiltOn{}, Notes: []string{}}
	err := st.Update(ctx, func(tx store.Tx) error {
		u := &undo{ctx: ctx, tx: tx, job: job, report: &report, now: job.Now().UTC().Truncate(time.Millisecond)}
		return u.run()
	})
	if errors.Is(err, errKeepNothing) {
		err = nil
	}
	report.Import.Trace = nil
	if err != nil {
		return report, fmt.Errorf("take import %s back: %w", job.ID, err)
	}
	return report, nil
}

// undo is the taking back of one import, within a transaction.
type undo struct {
	ctx    context.Context
	tx     store.Tx
	job    UndoJob
	report *UndoReport
	now    time.Time
	taken  Taken
	later  []Taken // imports that came after it and hold
	all    []Taken
	before []before // in the order in which it was changed
	blocks []*undoBlock
	seq    uint64
	drop   store.Dropped
}

func (u *undo) run() error {
	if err := u.find(); err != nil {
		return err
	}
	if u.report.Already {
		return errKeepNothing
	}
	var err error
	if u.before, err = readBefore(u.ctx, u.tx, u.taken); err != nil {
		return err
	}
	for _, g := range u.taken.Trace.Ground {
		b, err := u.look(g)
		if err != nil {
			return err
		}
		u.blocks = append(u.blocks, b)
	}
	if err := u.lookAtKept(); err != nil {
		return err
	}
	if u.report.Refused = len(u.report.Built) > 0; u.report.Refused {
		return ErrUndo
	}
	steps := []func() error{u.takeBackRecords, u.takeBackPlans, u.takeBackKept, u.takeBackImage, u.takeBackColumns, u.takeBackGround, u.takeBackSeason, u.takeBackSouth, u.note}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	if u.job.DryRun {
		return errKeepNothing
	}
	return nil
}

// find reads what is kept of the import, and of those that came after it.
func (u *undo) find() error {
	papers, err := u.tx.Papers(u.ctx, store.PaperQuery{Kind: PaperImport})
	if err != nil {
		return err
	}
	for _, p := range papers {
		var t Taken
		if err := json.Unmarshal(p.Value, &t); err != nil {
			return fmt.Errorf("import %s: %w", p.Key, err)
		}
		switch {
		case t.ID == u.job.ID:
			u.taken = t
		case t.ID > u.job.ID && t.Undone == nil:
			u.later = append(u.later, t)
		}
		u.all = append(u.all, t)
	}
	if u.taken.ID == "" || u.taken.Trace == nil {
		return fmt.Errorf("there is no such import: %w", store.ErrNotFound)
	}
	u.report.Import, u.report.Already = u.taken, u.taken.Undone != nil
	u.seq = uint64(u.now.UnixMicro())
	return nil
}

// built notes something that was built on the import.
func (u *undo) built(what, why, by string, at time.Time) {
	if slices.ContainsFunc(u.report.Built, func(b BuiltOn) bool { return b.What == what && b.Why == why }) {
		return
	}
	if len(u.report.Built) >= mostBuilt {
		u.report.More++
		return
	}
	u.report.Built = append(u.report.Built, BuiltOn{what, why, by, at})
}

// laterOn names the imports after it that touch a block.
func (u *undo) laterOn(block vine.ID) (name, by string, at time.Time) {
	for _, t := range u.later {
		if slices.ContainsFunc(t.Trace.Ground, func(g TakenGround) bool { return g.ID == block }) {
			return fmt.Sprintf(", by the import of %s", t.names()), t.By, t.Made
		}
	}
	return "", "", time.Time{}
}

// takeBackSeason takes the import's season off the list where nothing holds in it
// any more: else a slip in its number would stay to be chosen.
func (u *undo) takeBackSeason() error {
	season := u.taken.Season
	if season == 0 {
		return nil
	}
	events, err := u.tx.Events(u.ctx, store.EventQuery{Season: season})
	if err != nil {
		return err
	}
	void := map[uuid.UUID]bool{}
	for _, e := range events {
		if v, ok := e.Body.(vine.Void); ok {
			void[v.Event] = true
		}
	}
	stands := slices.ContainsFunc(events, func(e store.LoggedEvent) bool { return e.Kind != vine.KindVoid && !void[e.ID] })
	for _, kind := range []store.PlanKind{store.PlanPruning, PlanOverride} {
		heads, err := u.tx.PlanList(u.ctx, kind, season, 0)
		if err != nil {
			return err
		}
		stands = stands || slices.ContainsFunc(heads, func(h store.Plan) bool { return !u.ownPlan(h) })
	}
	if stands {
		return nil
	}
	return u.tx.DropSeason(season)
}

// takeBackSouth puts the hemisphere back where no ground is left to say it.
func (u *undo) takeBackSouth() error {
	if !u.taken.Trace.South {
		return nil
	}
	list, err := u.tx.Blocks(u.ctx)
	if err != nil || len(list) > 0 {
		return err
	}
	e, err := u.tx.Estate(u.ctx)
	if err != nil {
		return err
	}
	e.South = false
	return u.tx.SaveEstate(e)
}

// note keeps that the import was taken back.
func (u *undo) note() error {
	u.taken.Undone = &Undone{At: u.now, By: u.job.By}
	u.report.Import = u.taken
	return saveTaken(u.tx, u.taken)
}

// names gives the files of an import.
func (t Taken) names() string {
	switch len(t.Files) {
	case 0:
		return t.ID
	case 1:
		return t.Files[0]
	}
	return fmt.Sprintf("%s and %d more", t.Files[0], len(t.Files)-1)
}

// WriteText writes the report for people.
func (r *UndoReport) WriteText(w io.Writer) error {
	t := textWriter{w: w}
	switch {
	case r.Already:
		t.line("%s was taken back before, on %s%s: nothing to do", r.Import.names(), r.Import.Undone.At.Format(time.DateOnly), by(r.Import.Undone.By))
		return t.err
	case r.Refused:
		for _, b := range r.Built {
			on := ""
			if !b.At.IsZero() {
				on = b.At.Format(" (2006-01-02 15:04")
				if b.By != "" {
					on += ", " + b.By
				}
				on += ")"
			}
			t.line("%s: %s%s", b.What, b.Why, on)
		}
		if r.More > 0 {
			t.line("and %d more", r.More)
		}
		t.line("refused: this was built on the import of %s since; nothing was changed", r.Import.names())
		return t.err
	}
	for _, c := range []struct {
		word string
		WentBack
	}{{"blocks", r.Blocks}, {"rows", r.Rows}, {"vines", r.Vines}} {
		if c.Gone+c.Back > 0 {
			t.line("%-7s %d that it made gone, %d that it changed as they were", c.word, c.Gone, c.Back)
		}
	}
	t.line("records of single vines: %d taken back, %d that it had corrected hold again", r.Records, r.Restored)
	if r.Plans+r.Surveys > 0 {
		t.line("plans of before hold again in %d blocks; %d surveys taken off", r.Plans, r.Surveys)
	}
	for _, n := range r.Notes {
		t.line("notice: %s", n)
	}
	if r.DryRun {
		t.line("dry run: nothing was changed")
	} else {
		t.line("%s is taken back", r.Import.names())
	}
	return t.err
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

// WriteImports lists imports for people.
func WriteImports(w io.Writer, list []Taken) error {
	t := textWriter{w: w}
	for _, i := range list {
		state := ""
		if i.Undone != nil {
			state = "; taken back on " + i.Undone.At.Format(time.DateOnly) + by(i.Undone.By)
		}
		t.line("%s  %s  %s%s%s%s", i.ID, i.Made.Format("2006-01-02 15:04"), i.names(), by(i.By), i.brought(), state)
	}
	if len(list) == 0 {
		t.line("nothing was imported yet")
	}
	return t.err
}

// brought says in a few words what an import brought.
func (t Taken) brought() string {
	text := ""
	add := func(n int, what string) {
		if n > 0 {
			text += fmt.Sprintf(", %d %s", n, what)
		}
	}
	for _, c := range []struct {
		word string
		Count
	}{{"blocks", t.Blocks}, {"rows", t.Rows}, {"vines", t.Vines}} {
		add(c.Made, c.word+" made")
		add(c.Changed, c.word+" changed")
	}
	for _, r := range t.Records {
		add(r.Made, "× "+r.What)
	}
	add(t.PlanVines, "vines planned")
	add(t.Points, "points")
	if text == "" {
		return ""
	}
	return ":" + text[1:]
}
