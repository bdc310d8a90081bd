package work

import (
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"time"

	"courson/geo/format"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// errKeepNothing ends a transaction in which nothing is to be kept: a dry run,
// or files that hold nothing new.
var errKeepNothing = errors.New("nothing to keep")

// Import takes files into a store in one transaction: all of it, or nothing.
// Blocks come before rows and rows before vines, in whatever order the files
// are. What is stored already is found by our own id where the file has it, else
// by block code, row label and vine number, else by tag; it keeps its id and
// history, and only what differs is changed.
//
// Records are compared with what was imported last, not with what holds now: so
// an old file taken in again never overrides what crews recorded since.
//
// When anything in the files is wrong the error wraps ErrRefused and the report
// says what; other errors are faults of the disk, the store or the context.
func Import(ctx context.Context, st store.Store, job ImportJob) (Report, error) {
	if job.Now == nil {
		job.Now = time.Now
	}
	if job.MaxProblems <= 0 {
		job.MaxProblems = 20
	}
	started := job.Now()
	report := Report{DryRun: job.DryRun}
	given := job.Files
	in, done, err := unfold(ctx, st, &job, &report)
	if err == nil {
		err = in.run(ctx, st, given)
	}
	err = errors.Join(err, done())
	report.Seen = in.seenList()
	if err == nil || errors.Is(err, ErrRefused) {
		report.Near, err = near(ctx, st, report.Seen, err)
	}
	report.Notices = in.notices.List()
	report.Seconds = job.Now().Sub(started).Seconds()
	for _, p := range report.Problems {
		report.Refused = report.Refused || p != nil
	}
	if err != nil {
		return report, fmt.Errorf("import: %w", err)
	}
	return report, nil
}

func (in *intake) run(ctx context.Context, st store.Store, given []File) error {
	if err := in.checkJob(ctx, st, given); err != nil {
		return err
	}
	for i := range in.job.Files {
		if in.problems == 0 || i == 0 || in.report.Problems != nil {
			if err := in.read(ctx, i); err != nil {
				return err
			}
		}
	}
	in.checkColumns()
	if in.problems > 0 {
		return in.refusal()
	}
	err := st.Update(ctx, func(tx store.Tx) error {
		j, err := newJournal(ctx, tx)
		if err != nil {
			return err
		}
		m := &merge{intake: in, ctx: ctx, tx: j, journal: j}
		run := m.run
		if in.job.As.points() {
			run = m.runPoints
		}
		if err := run(); err != nil {
			return err
		}
		if in.problems == 0 {
			if err := m.keepPicture(); err != nil {
				return err
			}
		}
		switch {
		case in.problems > 0:
			return in.refusal()
		case in.job.DryRun || !in.report.Changed():
			return errKeepNothing
		}
		if err := m.keepColumns(); err != nil {
			return err
		}
		return j.end(in.report, in.job, m.now)
	})
	if errors.Is(err, errKeepNothing) {
		return nil
	}
	return err
}

// refusal is the error for problems in the files.
func (in *intake) refusal() error {
	first := in.report.Problems[0]
	if in.problems == 1 {
		return fmt.Errorf("%w: %w", ErrRefused, first)
	}
	return fmt.Errorf("%w: %w (and %d more problems)", ErrRefused, first, in.problems-1)
}

// checkJob settles what the job says for all files.
func (in *intake) checkJob(ctx context.Context, st store.Store, given []File) error {
	job := in.job
	nowhere := where{file: -1, feature: format.None}
	estate, err := st.Estate(ctx)
	if err != nil {
		return err
	}
	name := job.ScoreScale
	if name == "" {
		name = estate.ScoreScale
	}
	scale, ok := stand.ParseScale(name)
	if name == "" {
		name, scale, ok = "1-5", stand.DefaultScale(), true
	}
	if !ok {
		in.problem(nowhere, "score scale", "not a scale", format.Quote(name), "lowest and highest score, as in 1-5")
	}
	in.scale, in.scaleName = scale, in.names.index([]byte(name))
	in.checkUnits()
	if err := in.loadColumns(ctx, st); err != nil {
		return err
	}
	if s := job.Season; s != 0 && (s < vine.MinSeason || s > vine.MaxSeason) {
		in.problem(nowhere, "season", "not a season", fmt.Sprint(s), fmt.Sprintf("a harvest year from %d to %d", vine.MinSeason, vine.MaxSeason))
	}
	for _, d := range []struct {
		name string
		m    float64
		most float64
	}{{"vine spacing", job.VineSpacingM, 20}, {"row spacing", job.RowSpacingM, 20}, {"offset", job.OffsetM, 1000}} {
		if !(d.m >= 0 && d.m <= d.most) {
			in.problem(nowhere, d.name, "out of range", fmt.Sprint(d.m), fmt.Sprintf("metres, at most %g", d.most))
		}
	}
	if len(given) == 0 {
		in.problem(nowhere, "", "no file is named", "", "one file or more")
	}
	if len(job.Files) > 255 {
		in.problem(nowhere, "", "too many files", fmt.Sprint(len(job.Files)), "at most 255 at once")
	}
	if in.problems > 0 {
		return in.refusal()
	}
	return nil
}

// device names the device of the records of a file.
func (in *intake) device(file int) string { return importDevice + path.Base(in.fileName(file)) }

// importDevice begins the name of the device of every imported record.
const importDevice = "import:"

// merge compares what the files say with one store, inside a transaction.
type merge struct {
	*intake
	ctx        context.Context
	tx         store.Tx // the journal
	journal    *journal
	estate     store.Estate
	zone       *time.Location
	cal        vine.Calendar
	season     int
	now        time.Time // of receipt, one for the whole import, to the millisecond
	blocks     []*block
	byCode     map[string]*block
	byID       map[vine.ID]*block
	records    map[string]*Records
	order      []string // of records
	last       *Records // counted last
	seq        uint64
	tags       map[string][]tagged // by tag, all of the store; nil until needed
	quantities []vine.Quantity     // measured in the files
	foreign    bool                // an id was met that this store never gave
	placeOf    map[*rowIn]*row     // rows of files where a block's rows were drawn: the one whose place each takes, nil for none
}

func (m *merge) run() error {
	if err := m.loadEstate(); err != nil {
		return err
	}
	steps := []func() error{m.mergeBlocks, m.mergeRows, m.mergeVines}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
		if m.problems > 0 {
			return nil
		}
	}
	for _, what := range m.order {
		m.report.Records = append(m.report.Records, *m.records[what])
	}
	return nil
}

func (m *merge) loadEstate() error {
	var err error
	if m.estate, err = m.tx.Estate(m.ctx); err != nil {
		return err
	}
	stored, err := m.tx.Blocks(m.ctx)
	if err != nil {
		return err
	}
	m.byCode, m.byID, m.records = map[string]*block{}, map[vine.ID]*block{}, map[string]*Records{}
	for _, b := range stored {
		m.addBlock(&block{Block: b, stored: true})
	}
	if len(stored) == 0 {
		if err := m.settleHemisphere(); err != nil {
			return err
		}
	}
	if m.zone, err = time.LoadLocation(m.estate.Zone); err != nil || m.estate.Zone == "" {
		m.zone = time.UTC
	}
	m.cal = vine.Hemisphere(m.estate.South, m.zone)
	for q := range m.vines.measures {
		m.quantities = append(m.quantities, q)
	}
	slices.Sort(m.quantities)
	m.seq = uint64(m.job.Now().UnixMicro())
	m.now = m.job.Now().UTC().Truncate(time.Millisecond)
	return nil
}

// settleHemisphere notes, with the first ground of an estate, on which side of
// the equator it lies: seasons turn there at another time of the year.
func (m *merge) settleHemisphere() error {
	south := false
	switch {
	case len(m.intake.blocks) > 0 && m.intake.blocks[0].outline != nil:
		south = m.intake.blocks[0].outline.Bound().Center()[1] < 0
	case m.vines.point.some():
		south = m.vines.point.v[0][1] < 0
	}
	if !south || m.estate.South {
		return nil
	}
	m.estate.South = true
	return m.tx.SaveEstate(m.estate)
}

func (m *merge) addBlock(b *block) {
	m.blocks = append(m.blocks, b)
	m.byCode[b.Code] = b
	if b.ID != 0 {
		m.byID[b.ID] = b
	}
}

// count counts a record of one vine.
func (m *merge) count(what string, made bool) {
	if m.last == nil || m.last.What != what {
		m.last = m.counter(what)
	}
	if made {
		m.last.Made++
		return
	}
	m.last.Unchanged++
}

// counter gives the count of a kind of record.
func (m *merge) counter(what string) *Records {
	r := m.records[what]
	if r == nil {
		r = &Records{What: what}
		m.records[what] = r
		m.order = append(m.order, what)
		slices.Sort(m.order)
	}
	return r
}
