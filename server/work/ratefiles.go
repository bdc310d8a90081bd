package work

import (
	"cmp"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"courson/geo/format"
	"courson/geo/format/isoxml"
	"courson/geo/format/shp"
	"courson/geo/frame"
	"courson/geo/rate"
)

// RateForm is a form of file in which rates go out.
type RateForm string

// The forms.
const (
	RateGeoJSON  RateForm = "geojson"    // zones with their rates
	RateShape    RateForm = "shapefile"  // the same, as a zip
	RateISOZones RateForm = "iso-zones"  // ISO 11783-10: treatment zones with outlines
	RateISOGrid1 RateForm = "iso-grid-1" // …: a grid of zone codes
	RateISOGrid2 RateForm = "iso-grid-2" // …: a grid of rates
	RateRows     RateForm = "rows"       // rows and valves, as a table
)

// RateForms lists them.
func RateForms() []RateForm {
	return []RateForm{RateGeoJSON, RateShape, RateISOZones, RateISOGrid1, RateISOGrid2, RateRows}
}

// Suffix is how names of such files end.
func (f RateForm) Suffix() string {
	switch f {
	case RateGeoJSON:
		return ".geojson"
	case RateRows:
		return ".csv"
	}
	return ".zip"
}

// MediaType of such files.
func (f RateForm) MediaType() string {
	switch f {
	case RateGeoJSON:
		return "application/geo+json"
	case RateRows:
		return "text/csv; charset=utf-8"
	}
	return "application/zip"
}

// WriteRates writes rates in a form and says what was changed to fit it. Errors
// wrap ErrRates where the form cannot take them.
func (r *Rated) WriteRates(w io.Writer, f RateForm, version string, made time.Time) ([]format.Notice, error) {
	if r.Rates == nil {
		return nil, fmt.Errorf("%w: there are zones but no rates; say what is to be given", ErrRates)
	}
	switch f {
	case RateGeoJSON:
		return nil, json.NewEncoder(w).Encode(r.GeoJSON())
	case RateShape:
		return r.withCautions(w, made, func(w io.Writer) ([]format.Notice, error) { return shp.WriteZip(w, r.layer(), made) })
	case RateRows:
		return nil, r.writeRows(w)
	case RateISOZones, RateISOGrid1, RateISOGrid2:
		return r.withCautions(w, made, func(w io.Writer) ([]format.Notice, error) { return r.writeTask(w, f, version, made) })
	}
	return nil, fmt.Errorf("%w: form %q: wanted one of %v", ErrRates, f, RateForms())
}

// GeoJSON gives the zones, one feature each, with their rates where there are any.
func (r *Rated) GeoJSON() *geojson.FeatureCollection {
	fc := geojson.NewFeatureCollection()
	for k, z := range r.Zones.List {
		f := geojson.NewFeature(r.Areas[k])
		f.ID = fmt.Sprintf("%s-%d", r.Block.Code, z.Number)
		f.Properties = geojson.Properties{"block": r.Block.Code, "zone": z.Number, "vines": z.Vines, "living": z.Living, "area_m2": roundTo(z.AreaM2, 1), "row_m": roundTo(z.RowM, 1)}
		if r.Rates != nil {
			q := r.Rates.Zones[k]
			f.Properties["material"], f.Properties["rate"], f.Properties["unit"] = r.Rates.Material.Name, roundTo(q.Rate, 6), string(r.Rates.Unit)
			f.Properties["quantity"], f.Properties["quantity_unit"] = roundTo(q.Quantity, 3), r.Rates.Measure
		}
		fc.Append(f)
	}
	if r.Rates != nil {
		fc.ExtraMembers = geojson.Properties{"cautions": r.Rates.Cautions}
	}
	return fc
}

func roundTo(v float64, n int) float64 {
	p := math.Pow10(n)
	return math.Round(v*p) / p
}

// layer gives the zones as a layer of polygons with numeric rates.
func (r *Rated) layer() *shp.Layer {
	l := &shp.Layer{Name: r.Block.Code + "_rates", Kind: shp.Polygons}
	zone, amount, area, total := shp.Column{Name: "ZONE"}, shp.Column{Name: "RATE", Decimals: 3}, shp.Column{Name: "AREA_M2", Decimals: 1}, shp.Column{Name: "TOTAL", Decimals: 3}
	unit, material, block := shp.Column{Name: "UNIT"}, shp.Column{Name: "MATERIAL"}, shp.Column{Name: "BLOCK"}
	for k, z := range r.Zones.List {
		if len(r.Areas[k]) == 0 {
			continue
		}
		q := r.Rates.Zones[k]
		l.Shapes = append(l.Shapes, r.Areas[k])
		zone.Numbers, amount.Numbers = append(zone.Numbers, float64(z.Number)), append(amount.Numbers, q.Rate)
		area.Numbers, total.Numbers = append(area.Numbers, z.AreaM2), append(total.Numbers, q.Quantity)
		unit.Texts, material.Texts, block.Texts = append(unit.Texts, string(r.Rates.Unit)), append(material.Texts, r.Rates.Material.Name), append(block.Texts, r.Block.Code)
	}
	l.Columns = []shp.Column{zone, amount, unit, material, block, area, total}
	return l
}

// writeRows writes the rows cut where the zone changes: for valves, and for people
// who spread by hand.
func (r *Rated) writeRows(w io.Writer) error {
	stretches, err := r.Zones.Stretches(r.Rates)
	if err != nil {
		return ratesFault(err)
	}
	out := csv.NewWriter(w)
	lines := [][]string{{"block", "row", "from", "to", "vines", "row_m", "area_m2", "zone", "rate", "unit", "quantity", "quantity_unit", "cautions"}}
	number := func(v float64, n int) string { return strconv.FormatFloat(v, 'f', n, 64) }
	cautions := strings.Join(r.Rates.Cautions, " ") // once: beside the first row
	for _, s := range stretches {
		lines = append(lines, []string{r.Block.Code, s.Row, strconv.Itoa(s.From), strconv.Itoa(s.To), strconv.Itoa(s.Vines), number(s.RowM, 1), number(s.AreaM2, 1),
			strconv.Itoa(s.Zone), number(s.Rate, 3), string(r.Rates.Unit), number(s.Quantity, 3), r.Rates.Measure, cautions})
		cautions = ""
	}
	if err := out.WriteAll(lines); err != nil {
		return fmt.Errorf("rows with rates: %w", err)
	}
	return nil
}

// Task gives the rates as a task for a terminal, zones in their order.
func (r *Rated) Task() (*isoxml.Plan, error) {
	if r.Rates == nil {
		return nil, fmt.Errorf("%w: there are zones but no rates", ErrRates)
	}
	unit := terminalUnit(r.Rates.Unit)
	estate := cmp.Or(r.Estate, r.Block.Code)
	p := &isoxml.Plan{Customer: estate, Farm: estate, Field: r.Block.Code, Boundary: areaOf(frame.New(orb.Point(r.Stand.Ground.Origin)), r.Zones.Ground()), Task: fmt.Sprintf("%s %s", r.Rates.Material.Name, r.Block.Code),
		Inputs: []isoxml.Input{{Product: r.Rates.Material.Name, Unit: isoxml.Unit(unit.written)}}}
	for k, z := range r.Zones.List {
		if len(r.Areas[k]) == 0 {
			continue
		}
		v, err := rate.Convert(r.Rates.Zones[k].Rate, r.Rates.Unit, unit.of, r.Rates.Spacing)
		if err != nil {
			return nil, ratesFault(err)
		}
		p.Zones = append(p.Zones, isoxml.Zone{Name: fmt.Sprintf("Zone %d", z.Number), Area: r.Areas[k], Rates: []float64{v}})
	}
	return p, nil
}

// Terminal says what is mended before task data are written, and what a terminal
// would turn down even so.
func (r *Rated) Terminal() (mended []format.Notice, faults []*format.Problem) {
	p, err := r.Task()
	if err != nil {
		return nil, nil
	}
	p, mended = isoxml.Mend(p, r.limits())
	return mended, isoxml.Check(p, r.limits())
}

func (r *Rated) limits() isoxml.Limits {
	m := r.Order.Machine
	return isoxml.Limits{WidthM: m.WidthM, LeastAreaM2: m.LeastM2, Points: m.Points, NameLen: m.NameLen}
}

// defaultCellM is the side of a cell of a grid, m; chosen by us.
const defaultCellM = 5

func (r *Rated) writeTask(w io.Writer, f RateForm, version string, made time.Time) ([]format.Notice, error) {
	p, err := r.Task()
	if err != nil {
		return nil, err
	}
	p, notices := isoxml.Mend(p, r.limits())
	if f != RateISOZones {
		side := r.Order.Grid.SideM
		if side == 0 {
			side = defaultCellM
		}
		kind := map[RateForm]int{RateISOGrid1: 1, RateISOGrid2: 2}[f]
		if p.Grid, err = isoxml.MakeGrid(p, kind, side); err != nil {
			return nil, ratesFault(err)
		}
	}
	err = isoxml.WriteZip(w, p, r.limits(), isoxml.Writer{Manufacturer: "Courson", Version: version}, made)
	if bad := (*isoxml.Bad)(nil); errors.As(err, &bad) {
		return nil, ratesFault(err)
	}
	return notices, err
}

// taskUnit is a unit that task data take, in both packages' words.
type taskUnit struct {
	of      rate.Unit
	written string
}

// terminalUnit gives the unit per area in which a terminal takes a rate.
func terminalUnit(u rate.Unit) taskUnit {
	switch u {
	case rate.KgPerHa, rate.TPerHa, rate.LPerHa, rate.M3PerHa, rate.PerHa, rate.Millimetre:
		return taskUnit{u, string(u)}
	case rate.LbPerAcre:
		return taskUnit{u, "lb/ac"}
	case rate.GalPerAcre:
		return taskUnit{u, "gal/ac"}
	}
	switch u.Quantity() {
	case rate.Volume:
		return taskUnit{rate.LPerHa, "l/ha"}
	case rate.Pieces:
		return taskUnit{rate.PerHa, "1/ha"}
	}
	return taskUnit{rate.KgPerHa, "kg/ha"}
}
