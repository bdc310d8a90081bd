package work

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/frame"
)

// Seen is what a look into a file, or into one layer of it, finds: for a person
// to see whether it was understood.
type Seen struct {
	Name      string     `json:"name"`
	Form      FileForm   `json:"form"`
	System    string     `json:"system"`              // coordinate system
	Encoding  string     `json:"encoding,omitempty"`  // of a table
	Delimiter string     `json:"delimiter,omitempty"` // of a table: "comma", "semicolon", "tab", "|"
	Decimal   string     `json:"decimal,omitempty"`   // of a table: "point", "comma"; "" no column shows it
	Read      int        `json:"read"`                // features or lines
	Columns   []SeenCol  `json:"columns"`
	Lines     []SeenLine `json:"lines"` // the first
	// Shapes are the places, thinned out where there are many: drawn is how many of
	// the features they are.
	Shapes []SeenShape `json:"shapes"`
	Drawn  int         `json:"drawn"`
	Placed int         `json:"placed"` // features with a place

	at        map[string]int
	positions int
}

// SeenCol is one column or property.
type SeenCol struct {
	Name   string `json:"name"`
	Field  string `json:"field"`          // what it is taken for; "" nothing
	Unit   string `json:"unit,omitempty"` // or the scale
	Said   bool   `json:"said"`           // somebody said so; else its name does
	Left   bool   `json:"left"`           // left out as somebody said
	Filled int    `json:"filled"`         // with a value
}

// SeenLine is one of the first features or lines.
type SeenLine struct {
	Feature *int     `json:"feature,omitempty"` // from 0
	Line    int      `json:"line,omitempty"`    // from 1
	Kind    Kind     `json:"kind"`              // what it is about: blocks, rows, vines
	Values  []string `json:"values"`            // by column
}

// SeenShape is the place of one feature: its parts, each a list of longitudes and
// latitudes in turn.
type SeenShape struct {
	Kind  string      `json:"kind"` // "point", "line", "area"
	Parts [][]float64 `json:"parts"`
	Label string      `json:"label,omitempty"`
}

const (
	seenLines     = 20
	seenShapes    = 3000
	seenPositions = 30000
	seenColumns   = 200
)

// seenOf makes the lists for a job that looks.
func seenOf(job *ImportJob) []*Seen {
	if !job.Look {
		return nil
	}
	out := make([]*Seen, len(job.Files))
	for i, f := range job.Files {
		out[i] = &Seen{Name: f.Name, Form: f.form, System: f.system, Columns: []SeenCol{}, Lines: []SeenLine{}, Shapes: []SeenShape{}, at: map[string]int{}}
		if f.system == "" {
			out[i].System = frame.WGS84LonLat.Name
			if job.CRS != "" && (f.form == FormGeoJSON || f.form == FormTable) {
				out[i].System = job.CRS
			}
		}
		for _, p := range f.places {
			out[i].drawPoint(p)
		}
	}
	return out
}

// seenList gives what was seen.
func (in *intake) seenList() []*Seen { return in.seen }

// table notes how a table is written.
func (s *Seen) table(t *csv.Survey) {
	s.Encoding = string(t.Encoding)
	s.Delimiter = map[byte]string{',': "comma", ';': "semicolon", '\t': "tab"}[t.Delimiter]
	if s.Delimiter == "" {
		s.Delimiter = string(t.Delimiter)
	}
	s.Decimal = map[byte]string{'.': "point", ',': "comma"}[t.Decimal()]
}

// show takes up one feature or line.
func (s *Seen) show(it *itemIn, as Kind) {
	s.Read++
	line := SeenLine{Line: it.line, Kind: it.kindOf()}
	if as.points() {
		line.Kind = as
	}
	if it.feature != format.None {
		at := it.feature
		line.Feature = &at
	}
	for i := range it.cells {
		c := &it.cells[i]
		k, known := s.at[c.col.name]
		if !known {
			if len(s.Columns) >= seenColumns {
				continue
			}
			k = len(s.Columns)
			s.at[c.col.name] = k
			col := SeenCol{Name: c.col.name, Field: string(c.col.field), Unit: c.col.unit.Name, Said: c.col.said, Left: c.col.leftOut}
			if what, _ := pointName(c.col.name); what != "" && as.points() {
				col.Field, col.Unit = what, ""
			}
			s.Columns = append(s.Columns, col)
		}
		if c.kind != geojson.Null {
			s.Columns[k].Filled++
		}
		if len(s.Lines) < seenLines {
			for len(line.Values) <= k {
				line.Values = append(line.Values, "")
			}
			line.Values[k] = string(c.text)
		}
	}
	if len(s.Lines) < seenLines {
		s.Lines = append(s.Lines, line)
	}
	s.draw(it)
}

// draw takes up the place of a feature, while there is room.
func (s *Seen) draw(it *itemIn) {
	if it.geometry == nil {
		return
	}
	s.Placed++
	if len(s.Shapes) >= seenShapes || s.positions >= seenPositions {
		return
	}
	shape := SeenShape{}
	add := func(kind string, ps []orb.Point) {
		shape.Kind = kind
		part := make([]float64, 0, 2*len(ps))
		for _, p := range ps {
			part = append(part, rounded8(p[0]), rounded8(p[1]))
		}
		s.positions += len(ps)
		shape.Parts = append(shape.Parts, part)
	}
	eachSimple(it.geometry, add)
	for i := range it.cells {
		if c := &it.cells[i]; c.col.known && (c.col.field == csv.Block && shape.Kind == "area" || c.col.field == csv.Row && shape.Kind == "line") {
			shape.Label = string(c.text)
		}
	}
	s.Drawn++
	s.Shapes = append(s.Shapes, shape)
}

// drawPoint takes up a place that is no geometry of the file: one that columns
// give, or of a vine that an image shows.
func (s *Seen) drawPoint(p orb.Point) {
	s.Placed++
	if len(s.Shapes) < seenShapes {
		s.Drawn++
		s.positions++
		s.Shapes = append(s.Shapes, SeenShape{Kind: "point", Parts: [][]float64{{rounded8(p[0]), rounded8(p[1])}}})
	}
}

func eachSimple(g orb.Geometry, add func(kind string, ps []orb.Point)) {
	switch g := g.(type) {
	case orb.Point:
		add("point", []orb.Point{g})
	case orb.MultiPoint:
		for _, p := range g {
			add("point", []orb.Point{p})
		}
	case orb.LineString:
		add("line", g)
	case orb.MultiLineString:
		for _, l := range g {
			add("line", l)
		}
	case orb.Polygon:
		for _, r := range g {
			add("area", r)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			eachSimple(p, add)
		}
	case orb.Collection:
		for _, x := range g {
			eachSimple(x, add)
		}
	}
}

func rounded8(v float64) float64 { return math.Round(v*1e8) / 1e8 }

// String tells what a column is taken for.
func (c SeenCol) String() string {
	switch {
	case c.Left:
		return fmt.Sprintf("%q left out, as said", c.Name)
	case c.Field == "":
		return fmt.Sprintf("%q is not known", c.Name)
	}
	out := fmt.Sprintf("%q is %s", c.Name, c.Field)
	if c.Unit != "" {
		out += " in " + c.Unit
	}
	if c.Said {
		out += ", as said"
	}
	return out
}

// String gives what was recognised in one line.
func (s *Seen) String() string {
	out := fmt.Sprintf("%s: %s, %d read, in %s", s.Name, s.Form, s.Read, s.System)
	if s.Delimiter != "" {
		out += fmt.Sprintf("; %s, values parted by %s", s.Encoding, s.Delimiter)
		if s.Decimal != "" {
			out += ", decimal " + s.Decimal
		}
	}
	return out
}
