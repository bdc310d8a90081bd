package work

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format/geojson"
	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// Form is the format of an export.
type Form string

// The formats.
const (
	GeoJSON Form = "geojson"
	Table   Form = "csv"
)

// ExportJob says what to write out.
type ExportJob struct {
	What    Kind     // Blocks, Rows or Vines
	Form    Form     // GeoJSON or Table
	Season  int      // of the vines' records; 0: only where the vines are
	Blocks  []string // codes; empty: all
	USUnits bool     // feet and pounds in place of metres and grams
	Now     func() time.Time
	// Progress is told how many blocks are done; nil if nobody asks.
	Progress func(stage string, done, total int64)
}

// Export writes blocks, rows or vines, with their lasting ids, so that the file
// can be corrected and imported again, and gives how many it wrote. Units stand
// in the names of properties and columns. The writer gets an unfinished file
// when there is an error.
func Export(ctx context.Context, st store.Store, job ExportJob, w io.Writer) (int, error) {
	if job.Now == nil {
		job.Now = time.Now
	}
	x := &exporter{ctx: ctx, st: st, job: job, units: metric()}
	if job.USUnits {
		x.units = imperial()
	}
	var err error
	switch job.What {
	case Blocks, Rows, Vines:
		err = x.run(w)
	default:
		err = fmt.Errorf("%q cannot be exported (blocks, rows, vines)", job.What)
	}
	if err != nil {
		return x.n, fmt.Errorf("export %s: %w", job.What, err)
	}
	return x.n, nil
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

type exporter struct {
	ctx   context.Context
	st    store.Store
	job   ExportJob
	units unitsOut
	out   sink
	n     int
	zone  *time.Location
}

func (x *exporter) run(w io.Writer) error {
	estate, err := x.st.Estate(x.ctx)
	if err != nil {
		return err
	}
	if x.zone, err = time.LoadLocation(estate.Zone); err != nil {
		x.zone = time.UTC
	}
	blocks, err := BlocksOf(x.ctx, x.st, x.job.Blocks)
	if err != nil {
		return err
	}
	if x.job.Form == Table {
		x.out = newTableSink(w, x.columns())
	} else {
		x.out = &featureSink{geojson.NewWriter(w)}
	}
	for i, b := range blocks {
		switch x.job.What {
		case Blocks:
			err = x.block(b)
		case Rows:
			err = x.rows(b)
		default:
			err = x.vines(b)
		}
		if err != nil {
			return fmt.Errorf("block %s: %w", b.Code, err)
		}
		if x.job.Progress != nil {
			x.job.Progress("export "+string(x.job.What), int64(i+1), int64(len(blocks)))
		}
	}
	return x.out.close()
}

// columns gives the columns of a table, in order.
func (x *exporter) columns() []string {
	length, weight := "_"+x.units.length, "_"+x.units.weight
	switch x.job.What {
	case Blocks:
		return []string{"courson_id", "block", "name", "variety", "clone", "rootstock", "planted", "system", "row_spacing" + length, "vine_spacing" + length, "numbering_end", "area_m2", "wkt"}
	case Rows:
		return []string{"courson_id", "block", "row", "vine_spacing" + length, "numbering_end", "length" + length, "wkt"}
	}
	return []string{"courson_id", "exported_at", "address", "block", "row", "vine", "vine_id", "latitude", "longitude", "season", "leaf", "status", "cause", "look_again", "planted",
		"visual_score", "visual_score_scale", "pruning_weight" + weight, "cane_count", "cane_diameter_mm", "shoot_length_cm", "trunk_girth_mm", "yield" + weight, "canopy_index", "canopy_index_scale",
		"nodes", "canes", "spurs", "pruned_on", "pruned_by", "left_nodes", "left_canes", "left_spurs", "left_reason", "progress", "note"}
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
	x.out.begin(b.ID)
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
		x.out.json(name, extra[name])
	}
}

func (x *exporter) rows(b store.Block) error {
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	for _, r := range rows {
		x.out.begin(r.ID)
		x.out.text("block", b.Code)
		x.out.text("row", r.Label)
		x.length("vine_spacing", r.SpacingM)
		x.out.text("numbering_end", "first")
		x.length("length", math.Round(r.LengthM*1000)/1000)
		x.extra(r.Extra)
		var g orb.Geometry
		switch {
		case len(r.Line) == 1:
			g = r.Line[0]
		case len(r.Line) > 1:
			g = r.Line
		}
		x.n++
		if err := x.out.end(g); err != nil {
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
