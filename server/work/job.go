package work

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"courson/geo/format"
	"courson/geo/format/csv"
)

// Kind says what a file holds.
type Kind string

// The kinds. Auto finds out by geometry and columns.
const (
	Auto     Kind = ""
	Blocks   Kind = "blocks"
	Rows     Kind = "rows"
	Vines    Kind = "vines"
	Measures Kind = "measures" // records about vines that are on the map already
	Raster   Kind = "raster"   // an image: the mean of each vine's strip becomes a measure
	// Points that are held against the places that are on the map already.
	Surveyed   Kind = "survey"     // trunks measured
	Detections Kind = "detections" // places where images show no plant, each with a score
)

// points tells whether files of this kind hold points.
func (k Kind) points() bool { return k == Surveyed || k == Detections }

// ParseKind reads one of the words; "auto" and "" mean Auto.
func ParseKind(word string) (Kind, error) {
	switch k := Kind(word); k {
	case Auto, "auto":
		return Auto, nil
	case Blocks, Rows, Vines, Measures, Raster, Surveyed, Detections:
		return k, nil
	}
	return Auto, fmt.Errorf("%q is not a kind of file (auto, blocks, rows, vines, measures, raster, survey, detections)", word)
}

// File is one file to be taken in. Open may be called several times; what it
// gives is closed if it is an io.Closer.
type File struct {
	Name string // for messages and for the name of the device of its records
	Open func() (io.ReadSeeker, error)

	layer // of a file with several, or of another form than GeoJSON and tables
}

// ImportJob says what to take in, and what the user knows about it.
type ImportJob struct {
	Files     []File
	As        Kind
	Season    int          // of the records; 0: as the files say
	CRS       string       // of files that do not name it, such as "EPSG:32632"; "" of GeoJSON longitude and latitude, else it is asked
	Decimal   byte         // decimal mark of tables, '.' or ','; 0: as the table shows
	Delimiter byte         // between the values of tables; 0: as the table shows
	Encoding  csv.Encoding // of tables and of shapefiles; "": as the file shows
	Form      FileForm     // of all files; "": as their contents show
	Layers    []string     // of files with several: those to take; none: all, or it is asked
	// Columns says what columns or properties mean: the name in the file, and the
	// name it should have, such as "pruning_weight_kg"; "" leaves it out. nil: as
	// their names say, or as was said last time for the same columns.
	Columns      map[string]string
	Look         bool    // list what the files hold (Report.Seen)
	Block        string  // code of the block for files that do not name one
	VineSpacingM float64 // planting distance for rows that do not give one, m
	RowSpacingM  float64 // distance between rows for blocks that do not give one, m
	OffsetM      float64 // from the numbering end to vine 1, for rows that do not give one, m
	NumberingEnd string  // compass word of the end where vine 1 stands, for rows that do not give one
	ScoreScale   string  // of visual scores, such as "1-5"; "" the estate's
	// Units are the units of quantities whose columns name none, by the names of
	// columns: "pruning_weight" is in "kg". Of a canopy index the unit is its
	// name ("NDVI"), of a score its scale ("0-10").
	Units map[string]string
	// Of a survey: what is to be done where all points seem moved by about a row or
	// a vine, whether each row that has a point was measured from end to end, and
	// the error of points that name none, m (0: not known).
	Shift       ShiftAnswer
	WholeRows   bool
	PointErrorM float64
	Image       ImageAnswers // of an image
	DryRun      bool         // find out and report, store nothing
	Date        time.Time    // of records without a day of their own
	By          string       // who recorded it
	MaxProblems int          // how many problems are listed; 0 means 20
	Limits      format.Limits

	// Progress is told how far a stage is; nil if nobody asks.
	Progress func(stage string, done, total int64)
	// Now is the clock of receipt; nil means time.Now.
	Now func() time.Time
}

// ErrRefused is at the root of the error of an import that was refused because
// of what is in the files. The report lists why; nothing was stored.
var ErrRefused = errors.New("nothing was stored")

// Count says what became of the things of one kind.
type Count struct {
	Read      int `json:"read"`
	Made      int `json:"made"`
	Changed   int `json:"changed"`
	Unchanged int `json:"unchanged"`
	LeftOut   int `json:"left_out"`
}

func (c Count) some() bool { return c != Count{} }

// Records counts records of one kind by vines.
type Records struct {
	What      string `json:"what"` // "condition bearing", "pruned", "visual_score", "note" …
	Made      int    `json:"made"` // vines for which a record was made
	Unchanged int    `json:"unchanged"`
}

// FileReport says how one file was read.
type FileReport struct {
	Name string `json:"name"`
	Read int    `json:"read"` // features or lines
	Form string `json:"form"` // "GeoJSON", "table", "shapefile" …
}

// Item is one thing that was made, changed or left out.
type Item struct {
	What    string `json:"what"` // "block B1", "row B1/3", "vine B1/3/17"
	Became  string `json:"became"`
	Why     string `json:"why,omitempty"`
	File    string `json:"file,omitempty"`
	Feature *int   `json:"feature,omitempty"` // counted from 0
	Line    int    `json:"line,omitempty"`    // counted from 1
}

// Report says what an import did, or would do.
type Report struct {
	ID      string       `json:"id,omitempty"` // of the import, by which it can be taken back; none where nothing was stored
	DryRun  bool         `json:"dry_run"`
	Refused bool         `json:"refused"`
	Season  int          `json:"season,omitempty"` // of the records
	Files   []FileReport `json:"files"`
	Seen    []*Seen      `json:"seen,omitempty"` // where the job looks
	Near    []SeenShape  `json:"near,omitempty"` // what is stored where the files' places lie: outlines and rows
	Blocks  Count        `json:"blocks"`
	Rows    Count        `json:"rows"`
	Vines   Count        `json:"vines"`
	Records []Records    `json:"records"`
	// PlanNodes is the sum of the nodes that the files prescribe, PlanVines for
	// how many vines; PlanMade tells whether a new pruning plan was stored.
	PlanVines int  `json:"plan_vines"`
	PlanNodes int  `json:"plan_nodes"`
	PlanMade  bool `json:"plan_made"`

	// Points tells what became of a survey's or of detected points; nil for other
	// files.
	Points *PointsReport `json:"points,omitempty"`

	// Unlikely are values of the files that are possible but not likely: stored,
	// to be looked at again.
	Unlikely     []Unlikely `json:"unlikely"`
	MoreUnlikely int        `json:"more_unlikely,omitempty"`

	Items        []Item            `json:"items"` // the first of those made, changed or left out
	MoreItems    int               `json:"more_items,omitempty"`
	Notices      []format.Notice   `json:"notices"`
	Problems     []*format.Problem `json:"problems"`
	MoreProblems int               `json:"more_problems,omitempty"`
	layer        bool              // an image was kept as a layer of the map
	Seconds      float64           `json:"seconds"`
}

// mostItems is how many single things a report lists.
const mostItems = 200

// nothingRead tells whether all files were read and are without a feature or line.
func (r *Report) nothingRead() bool {
	return len(r.Files) > 0 && !slices.ContainsFunc(r.Files, func(f FileReport) bool { return f.Read > 0 })
}

// Changed tells whether the import stored anything (or would, in a dry run).
func (r *Report) Changed() bool {
	for _, c := range []Count{r.Blocks, r.Rows, r.Vines} {
		if c.Made+c.Changed > 0 {
			return true
		}
	}
	for _, rec := range r.Records {
		if rec.Made > 0 {
			return true
		}
	}
	return r.PlanMade || r.layer || r.Points != nil && r.Points.Made+r.Points.Replaced > 0
}

// WriteText writes the report for people, a few lines when all is well.
func (r *Report) WriteText(w io.Writer) error {
	t := textWriter{w: w}
	for _, s := range r.Seen {
		t.line("%s", s)
		for _, c := range s.Columns {
			t.line("  column %s", c)
		}
	}
	for _, f := range r.Files {
		t.line("%s: %s, %d %s read", f.Name, f.Form, f.Read, map[bool]string{true: "lines", false: "features"}[f.Form == "table"])
	}
	for _, p := range r.Problems {
		t.line("error: %s", p.Error())
	}
	if r.MoreProblems > 0 {
		t.line("error: and %d more", r.MoreProblems)
	}
	for _, n := range r.Notices {
		t.line("notice: %s", n)
	}
	r.writeCounts(&t)
	for _, u := range r.Unlikely {
		t.line("look again: %s", u)
	}
	if r.MoreUnlikely > 0 {
		t.line("look again: and %d more", r.MoreUnlikely)
	}
	for _, it := range r.Items {
		t.line("  %s %s%s%s", it.What, it.Became, it.place(), because(it.Why))
	}
	if r.MoreItems > 0 {
		t.line("  and %d more", r.MoreItems)
	}
	switch {
	case r.Refused:
		t.line("refused: nothing was stored")
	case r.nothingRead():
		t.line("nothing to take in: no file holds anything")
	case !r.Changed():
		t.line("nothing to change: all of this is stored already")
	case r.DryRun:
		t.line("dry run: nothing was stored")
	default:
		t.line("stored in %.1f s; to take all of it back: courson import --undo %s", r.Seconds, r.ID)
	}
	return t.err
}

func (r *Report) writeCounts(t *textWriter) {
	for _, c := range []struct {
		word string
		Count
	}{{"blocks", r.Blocks}, {"rows", r.Rows}, {"vines", r.Vines}} {
		if c.some() {
			t.line("%-7s %d made, %d changed, %d unchanged, %d left out", c.word, c.Made, c.Changed, c.Unchanged, c.LeftOut)
		}
	}
	for _, c := range r.Records {
		t.line("%s: %d vines recorded, %d unchanged (season %d)", c.What, c.Made, c.Unchanged, r.Season)
	}
	if r.Points != nil {
		r.Points.write(t)
	}
	if r.PlanVines > 0 {
		became := "unchanged"
		if r.PlanMade {
			became = "made"
		}
		t.line("pruning plan: %d nodes on %d vines, %s (season %d)", r.PlanNodes, r.PlanVines, became, r.Season)
	}
}

func (it Item) place() string {
	switch {
	case it.Feature != nil:
		return fmt.Sprintf(" (%s, feature %d)", it.File, *it.Feature)
	case it.Line > 0:
		return fmt.Sprintf(" (%s, line %d)", it.File, it.Line)
	}
	return ""
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// textWriter keeps the first error.
type textWriter struct {
	w   io.Writer
	err error
}

func (t *textWriter) line(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format+"\n", args...)
	}
}
