package work

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/format/kml"
	"courson/geo/format/shp"
	"courson/geo/format/xlsx"
	"courson/store/gpkg"
)

// sink takes one thing after another, whatever the format. Values come in any
// order; those without a column are left out, but json tells.
type sink interface {
	begin(id int64, name string) // of one of them
	text(name, v string)
	int(name string, v int64)
	float(name string, v float64)
	none(name string)             // said to be unknown
	json(name string, v any) bool // a property of an import
	end(g orb.Geometry) error
	close() error
}

// open begins the file.
func (x *exporter) open(w io.Writer) (err error) {
	x.own = map[string]bool{}
	var to format.Sink
	switch x.job.Form {
	case GeoJSON:
		x.out = &featureSink{geojson.NewWriter(w)}
		return nil
	case Table:
		to = newTableSink(w, x.layer)
	case Workbook:
		to, err = xlsx.NewWriter(w, x.layer)
	case KML:
		to = kml.NewWriter(w, x.layer)
	case Shapefile:
		var styles []shp.Extra
		if styles, err = stylesBeside(x.layer, x.job.What); err == nil {
			to, err = shp.NewStreamWriter(w, x.layer, x.scratch, x.job.Now(), styles...)
		}
	case GeoPackage:
		to, err = x.openGeoPackage(w)
	default:
		return fmt.Errorf("%q is not a format of exports", x.job.Form)
	}
	if err != nil {
		return err
	}
	x.out = newCellSink(x.layer, to)
	return nil
}

// temporary makes a file that goes with the export.
func (x *exporter) temporary() (*os.File, error) {
	f, err := os.CreateTemp("", "courson-export-*")
	if err != nil {
		return nil, fmt.Errorf("room for the export: %w", err)
	}
	x.files = append(x.files, f)
	return f, nil
}

func (x *exporter) scratch() (io.ReadWriteSeeker, error) { return x.temporary() }

// clear takes temporary files away.
func (x *exporter) clear() {
	for _, f := range x.files {
		f.Close()
		os.Remove(f.Name())
	}
}

// gpkgSink writes a GeoPackage beside, and copies it when it is whole.
type gpkgSink struct {
	*gpkg.PlainFile
	file *os.File
	w    io.Writer
}

func (x *exporter) openGeoPackage(w io.Writer) (format.Sink, error) {
	f, err := x.temporary()
	if err != nil {
		return nil, err
	}
	to, err := gpkg.CreatePlain(f.Name(), x.layer, x.job.Now())
	if err != nil {
		return nil, err
	}
	return &gpkgSink{to, f, w}, nil
}

// Close ends the file and copies it.
func (s *gpkgSink) Close() error {
	if err := s.PlainFile.Close(); err != nil {
		return err
	}
	if _, err := io.Copy(s.w, s.file); err != nil {
		return fmt.Errorf("copy the GeoPackage: %w", err)
	}
	return nil
}

// tell says what the format did not hold.
func (x *exporter) tell() {
	if x.job.Notice == nil {
		return
	}
	if len(x.own) > 0 {
		names := slices.Sorted(maps.Keys(x.own))
		x.job.Notice(format.Notice{Text: "properties of your own are left out; GeoJSON holds them: " + strings.Join(names, ", "), Count: 1})
	}
	if s, ok := x.out.(*cellSink); ok {
		if told, ok := s.to.(interface{ Notices() []format.Notice }); ok {
			for _, n := range told.Notices() {
				x.job.Notice(n)
			}
		}
	}
}

// putAll writes what the fields say of a thing.
func putAll[T any](x *exporter, fields []layerField[T], id int64, name string, v T, g orb.Geometry) error {
	x.out.begin(id, name)
	for _, f := range fields {
		switch v := f.of(v).(type) {
		case nil:
			x.out.none(f.Name)
		case string:
			x.out.text(f.Name, v)
		case int:
			x.out.int(f.Name, int64(v))
		case float64:
			x.out.float(f.Name, v)
		default:
			return fmt.Errorf("%s: %T is not a value of a column", f.Name, v)
		}
	}
	x.n++
	return x.out.end(g)
}

// featureSink writes GeoJSON.
type featureSink struct{ w *geojson.Writer }

func (s *featureSink) begin(id int64, name string) {
	if id == 0 {
		s.w.BeginNamed(name)
		return
	}
	s.w.Begin(id)
	s.w.Int("courson_id", id)
}

func (s *featureSink) text(name, v string) { s.w.Text(name, v) }

func (s *featureSink) int(name string, v int64) { s.w.Int(name, v) }

func (s *featureSink) float(name string, v float64) { s.w.Float(name, v) }

func (s *featureSink) none(name string) { s.w.Null(name) }

func (s *featureSink) end(g orb.Geometry) error { return s.w.End(g) }

func (s *featureSink) close() error { return s.w.Close() }

func (s *featureSink) json(name string, v any) bool {
	text, err := json.Marshal(v)
	if err == nil {
		s.w.JSON(name, text)
	}
	return err == nil
}

// cellSink brings values into the order of the columns.
type cellSink struct {
	layer *format.Layer
	to    format.Sink
	at    map[string]int
	cells []format.Cell
	bad   error
}

func newCellSink(l *format.Layer, to format.Sink) *cellSink {
	s := &cellSink{layer: l, to: to, at: map[string]int{}, cells: make([]format.Cell, len(l.Columns))}
	for i, c := range l.Columns {
		s.at[c.Name] = i
	}
	return s
}

// put sets a value; one without a column, or of another kind than its column, is a
// fault of the layer's description.
func (s *cellSink) put(name string, kind format.ValueKind, c format.Cell) {
	i, ok := s.at[name]
	if !ok || s.layer.Columns[i].Kind != kind {
		s.bad = errors.Join(s.bad, fmt.Errorf("layer %s does not describe %s", s.layer.Name, name))
		return
	}
	c.Known = true
	s.cells[i] = c
}

func (s *cellSink) begin(id int64, _ string) {
	clear(s.cells)
	if id != 0 {
		s.int("courson_id", id)
	}
}

func (s *cellSink) text(name, v string) { s.put(name, format.Text, format.Cell{Text: v}) }

func (s *cellSink) int(name string, v int64) { s.put(name, format.Whole, format.Cell{Whole: v}) }

func (s *cellSink) float(name string, v float64) {
	if !math.IsNaN(v) && !math.IsInf(v, 0) {
		s.put(name, format.Number, format.Cell{Num: v})
	}
}

func (s *cellSink) none(string) {}

func (s *cellSink) json(string, any) bool { return false }

func (s *cellSink) close() error { return s.to.Close() }

func (s *cellSink) end(g orb.Geometry) error {
	if s.bad != nil {
		return s.bad
	}
	return s.to.Write(s.cells, g)
}

// tableSink writes CSV: the columns, and where the thing is. Places of vines stand
// behind the column with their tag, all others at the end.
type tableSink struct {
	w     *csv.Writer
	layer *format.Layer
	at    int // how many columns stand before the place
}

func newTableSink(w io.Writer, l *format.Layer) *tableSink {
	var names []string
	for _, c := range l.Columns {
		names = append(names, c.Name)
	}
	at := slices.Index(names, "vine_id") + 1
	if at == 0 {
		at = len(names)
	}
	place := map[format.Shape][]string{format.PointShape: {"latitude", "longitude"}, format.LineShape: {"wkt"}, format.AreaShape: {"wkt"}}[l.Shape]
	return &tableSink{csv.NewWriter(w, slices.Insert(names, at, place...)), l, at}
}

// Write adds a line.
func (s *tableSink) Write(cells []format.Cell, g orb.Geometry) error {
	for i, c := range cells {
		if i == s.at {
			s.place(g)
		}
		switch kind := s.layer.Columns[i].Kind; {
		case !c.Known:
			s.w.Empty()
		case kind == format.Whole:
			s.w.Int(c.Whole)
		case kind == format.Number:
			s.w.Float(c.Num)
		default:
			s.w.Text(c.Text)
		}
	}
	if s.at == len(cells) {
		s.place(g)
	}
	return s.w.End()
}

func (s *tableSink) place(g orb.Geometry) {
	p, isPoint := g.(orb.Point)
	switch {
	case isPoint:
		s.w.Fixed(p[1], 8)
		s.w.Fixed(p[0], 8)
	case g != nil:
		s.w.Text(wkt.MarshalString(g))
	case s.layer.Shape == format.PointShape:
		s.w.Empty()
		s.w.Empty()
	case s.layer.Shape != format.NoShape:
		s.w.Empty()
	}
}

// Close ends the table.
func (s *tableSink) Close() error { return s.w.Close() }
