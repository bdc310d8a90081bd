package work

import (
	"encoding/json"
	"io"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"

	"courson/geo/format/csv"
	"courson/geo/format/geojson"
)

// sink takes one thing after another in either format.
type sink interface {
	begin(id int64)
	text(name, v string)
	int(name string, v int64)
	float(name string, v float64)
	json(name string, v any)
	end(g orb.Geometry) error
	close() error
}

// featureSink writes GeoJSON.
type featureSink struct{ w *geojson.Writer }

// tableSink writes a table: cells in the order of the columns, whatever the
// order in which they come. Values without a column are left out.
type tableSink struct {
	w     *csv.Writer
	at    map[string]int
	cells []tableCell
}

type tableCell struct {
	kind uint8 // 0 empty, 1 text, 2 whole, 3 number, 4 degrees
	text string
	int  int64
	num  float64
}

func newTableSink(w io.Writer, columns []string) *tableSink {
	s := &tableSink{w: csv.NewWriter(w, columns), at: map[string]int{}, cells: make([]tableCell, len(columns))}
	for i, name := range columns {
		s.at[name] = i
	}
	return s
}

func (s *tableSink) put(name string, c tableCell) {
	if i, ok := s.at[name]; ok {
		s.cells[i] = c
	}
}

func (s *featureSink) begin(id int64) {
	s.w.Begin(id)
	s.w.Int("courson_id", id)
}

func (s *featureSink) text(name, v string) { s.w.Text(name, v) }

func (s *featureSink) int(name string, v int64) { s.w.Int(name, v) }

func (s *featureSink) float(name string, v float64) { s.w.Float(name, v) }

func (s *featureSink) end(g orb.Geometry) error { return s.w.End(g) }

func (s *featureSink) close() error { return s.w.Close() }

func (s *featureSink) json(name string, v any) {
	if text, err := json.Marshal(v); err == nil {
		s.w.JSON(name, text)
	}
}

func (s *tableSink) begin(id int64) {
	clear(s.cells)
	s.int("courson_id", id)
}

func (s *tableSink) text(name, v string) { s.put(name, tableCell{kind: 1, text: v}) }

func (s *tableSink) int(name string, v int64) { s.put(name, tableCell{kind: 2, int: v}) }

func (s *tableSink) float(name string, v float64) { s.put(name, tableCell{kind: 3, num: v}) }

func (s *tableSink) json(string, any) {}

func (s *tableSink) close() error { return s.w.Close() }

func (s *tableSink) end(g orb.Geometry) error {
	switch g := g.(type) {
	case nil:
	case orb.Point:
		s.put("longitude", tableCell{kind: 4, num: g[0]})
		s.put("latitude", tableCell{kind: 4, num: g[1]})
	default:
		s.text("wkt", wkt.MarshalString(g))
	}
	for _, c := range s.cells {
		switch c.kind {
		case 1:
			s.w.Text(c.text)
		case 2:
			s.w.Int(c.int)
		case 3:
			s.w.Float(c.num)
		case 4:
			s.w.Fixed(c.num, 8)
		default:
			s.w.Empty()
		}
	}
	return s.w.End()
}
