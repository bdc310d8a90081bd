package work

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// ExportJob says what to write out.
type ExportJob struct {
	What    Kind     // one of LayerKinds
	Form    Form     // one of Forms
	Season  int      // of the vines' records; 0: only where the vines are
	Blocks  []string // codes; empty: all
	USUnits bool     // feet and pounds in place of metres and grams
	Now     func() time.Time
	// Progress is told how many blocks are done; nil if nobody asks.
	Progress func(stage string, done, total int64)
	// Source gives what was worked out; nil: worked out anew.
	Source Source
	// Notice is told what the format could not hold; nil if nobody asks.
	Notice func(format.Notice)
}

// Export writes a layer, with lasting ids, and gives how many things it wrote.
// Blocks, rows and vines can be corrected in the file and imported again. Units
// stand in the names of columns. The writer gets an unfinished file when there is
// an error.
func Export(ctx context.Context, st store.Store, job ExportJob, w io.Writer) (int, error) {
	if job.Now == nil {
		job.Now = time.Now
	}
	if job.Source == nil {
		job.Source = FreshSource{st, job.Season, job.Now}
	}
	layer, err := LayerOf(job.What, job.Season, job.USUnits)
	if err != nil {
		return 0, fmt.Errorf("export: %w", err)
	}
	if err := job.tellSeason(ctx, st); err != nil {
		return 0, fmt.Errorf("export %s: %w", job.What, err)
	}
	x := &exporter{ctx: ctx, st: st, job: job, source: job.Source, layer: layer, units: unitsFor(job.USUnits)}
	defer x.clear()
	if err := x.run(w); err != nil {
		return x.n, fmt.Errorf("export %s: %w", job.What, err)
	}
	return x.n, nil
}

// tellSeason says where nothing is recorded of the season asked for: a slip of the
// keys would else make a file that looks whole and is empty of records.
func (job *ExportJob) tellSeason(ctx context.Context, st store.Store) error {
	if job.Notice == nil || job.Season == 0 {
		return nil
	}
	known, err := st.Seasons(ctx)
	if err == nil && !slices.Contains(known, job.Season) {
		job.Notice(format.Notice{Field: "season", Count: 1, Text: fmt.Sprintf("nothing is recorded of season %d; the seasons with records: %s", job.Season, seasonWords(known))})
	}
	return err
}

func seasonWords(known []int) string {
	if len(known) == 0 {
		return "none"
	}
	return strings.Trim(fmt.Sprint(known), "[]")
}

// unitsOut are the units of an export, by base unit.
type unitsOut struct {
	length string // of spacings
	weight string
	perM   float64 // length units in a metre
	perG   float64
}

func metric() unitsOut { return unitsOut{"m", "g", 1, 1} }

// imperial gives international feet and pounds (exact, 1959).
func imperial() unitsOut { return unitsOut{"ft", "lb", 1 / 0.3048, 1 / 453.59237} }

func unitsFor(us bool) unitsOut {
	if us {
		return imperial()
	}
	return metric()
}

type exporter struct {
	ctx    context.Context
	st     store.Store
	job    ExportJob
	source Source
	layer  *format.Layer
	units  unitsOut
	out    sink
	n      int
	zone   *time.Location
	own    map[string]bool // properties of imports that the format leaves out
	files  []*os.File      // that are of use until the export ends
}

func (x *exporter) run(w io.Writer) (err error) {
	if x.zone, err = zoneOf(x.ctx, x.st); err != nil {
		return err
	}
	blocks, err := BlocksOf(x.ctx, x.st, x.job.Blocks)
	if err != nil {
		return err
	}
	if err := x.open(w); err != nil {
		return err
	}
	one := map[Kind]func(store.Block) error{Blocks: x.block, Rows: x.rows, Vines: x.vines, VigourLayer: x.vigour, PatchLayer: x.patches, ZoneLayer: x.zones,
		PlanLayer: x.plans, ProgressLayer: x.progress, ReplantLayer: x.replants,
		OrderLayer: x.orders, MeasureLayer: x.measures, LogLayer: x.log}[x.job.What]
	for i, b := range blocks {
		if err := one(b); err != nil {
			return fmt.Errorf("block %s: %w", b.Code, err)
		}
		if x.job.Progress != nil {
			x.job.Progress("export "+string(x.job.What), int64(i+1), int64(len(blocks)))
		}
	}
	if err := x.out.close(); err != nil {
		return err
	}
	x.tell()
	return nil
}

func (x *exporter) length(name string, m float64) {
	if m > 0 {
		x.out.float(name+"_"+x.units.length, rounded(m*x.units.perM, 15))
	}
}

// rounded takes the noise of changing units off a number by leaving it so many
// significant digits. Exports leave 15, imports 12, so that a value comes back
// as it was.
func rounded(v float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

func (x *exporter) textIf(name, v string) {
	if v != "" {
		x.out.text(name, v)
	}
}

func (x *exporter) intIf(name string, v int) {
	if v > 0 {
		x.out.int(name, int64(v))
	}
}

func (x *exporter) block(b store.Block) error {
	x.out.begin(b.ID, "")
	x.out.text("block", b.Code)
	x.textIf("name", b.Name)
	x.textIf("variety", b.Variety)
	x.textIf("clone", b.Clone)
	x.textIf("rootstock", b.Rootstock)
	x.intIf("planted", b.Planted)
	x.textIf("system", b.System)
	x.length("row_spacing", b.RowSpacingM)
	x.length("vine_spacing", b.VineSpacingM)
	x.textIf("numbering_end", b.NumberingEnd)
	if len(b.Outline) > 0 {
		x.out.float("area_m2", math.Round(frame.WGS84.MultiPolygonArea(b.Outline)*10)/10)
	}
	x.extra(b.Extra)
	x.n++
	return x.out.end(single(b.Outline))
}

// single gives a MultiPolygon of one polygon as that polygon, nil for none.
func single(mp orb.MultiPolygon) orb.Geometry {
	switch len(mp) {
	case 0:
		return nil
	case 1:
		return mp[0]
	}
	return mp
}

func (x *exporter) extra(extra map[string]any) {
	names := make([]string, 0, len(extra))
	for name := range extra {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if !x.out.json(name, extra[name]) {
			x.own[name] = true
		}
	}
}

// lineOf gives a row's line, nil where it has none.
func lineOf(r store.Row) orb.Geometry {
	switch len(r.Line) {
	case 0:
		return nil
	case 1:
		return r.Line[0]
	}
	return r.Line
}

func (x *exporter) rows(b store.Block) error {
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	for _, r := range rows {
		x.out.begin(r.ID, "")
		x.out.text("block", b.Code)
		x.out.text("row", r.Label)
		x.length("vine_spacing", r.SpacingM)
		x.out.text("numbering_end", "first")
		x.length("length", math.Round(r.LengthM*1000)/1000)
		x.extra(r.Extra)
		x.n++
		if err := x.out.end(lineOf(r)); err != nil {
			return err
		}
	}
	return nil
}

// measureName gives the property of each quantity, in the units of the export.
func (x *exporter) measureName(q vine.Quantity) (name string, factor float64) {
	switch q {
	case vine.PruningWeight, vine.Yield:
		return string(q) + "_" + x.units.weight, x.units.perG
	case vine.CaneDiameter, vine.TrunkGirth, vine.ShootLength:
		return string(q) + "_" + q.Unit(), 1
	}
	return string(q), 1
}
