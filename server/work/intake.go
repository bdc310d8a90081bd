package work

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/stand"
)

// where is a place in a file, for messages.
type where struct {
	file    int // index into the job's files
	feature int // or format.None
	line    int
}

// blockIn is what a file says of one block. Empty texts and zeros are not said.
type blockIn struct {
	where
	id                              int64
	code                            string
	name, variety, clone, rootstock string
	system, end                     string
	planted                         int
	rowSpacingM, vineSpacingM       float64
	outline                         orb.MultiPolygon
	extra                           map[string]any
}

// rowIn is what a file says of one row.
type rowIn struct {
	where
	id                             int64
	block, label, end              string
	spacingM, rowSpacingM, offsetM float64
	hasOffset                      bool
	vines                          int // how many, where said
	line                           orb.Geometry
	extra                          map[string]any
}

// intake gathers what all files say before anything is compared with the store.
type intake struct {
	job       *ImportJob
	report    *Report
	notices   format.Notices
	problems  int
	reco      csv.Recogniser
	scale     stand.Scale // of visual scores
	scaleName int32
	blocks    []blockIn
	rows      []rowIn
	vines     *vineTable
	points    []pointIn // of a survey, or detections
	pointCols map[*colInfo]pointCol
	names     nameList
	unknown   map[string]bool              // names told about already, by file
	exported  map[int]time.Time            // files that we wrote ourselves: when
	ours      map[int]bool                 // files with our own ids
	seasons   map[int]where                // seasons that files name themselves
	cols      []map[string]*colInfo        // by file: what its columns or properties mean
	units     map[csv.Field]csv.Unit       // of quantities whose columns name none
	seen      []*Seen                      // by file, where the job looks
	met       [][]string                   // by file: its columns
	said      []map[string]string          // by file: what somebody says that columns mean
	kept      map[string]map[string]string // the same of earlier files, by their columns
}

func newIntake(job *ImportJob, report *Report) *intake {
	return &intake{job: job, report: report, reco: csv.NewRecogniser(), vines: newVineTable(), pointCols: map[*colInfo]pointCol{}, unknown: map[string]bool{},
		seasons: map[int]where{}, exported: map[int]time.Time{}, ours: map[int]bool{}, cols: make([]map[string]*colInfo, len(job.Files)), seen: seenOf(job),
		met: make([][]string, len(job.Files)), said: make([]map[string]string, len(job.Files))}
}

// problem takes up something that is wrong: the import will be refused.
func (in *intake) problem(at where, field, what, found, wanted string) {
	in.fail(&format.Problem{File: in.fileName(at.file), Feature: at.feature, Line: at.line, Field: field, What: what, Found: found, Wanted: wanted})
}

// ask is a problem that a person settles by an answer.
func (in *intake) ask(at where, q format.Question, field, what, found, wanted string) {
	in.fail(&format.Problem{File: in.fileName(at.file), Feature: at.feature, Line: at.line, Field: field, What: what, Found: found, Wanted: wanted, Ask: &q})
}

func (in *intake) fail(p *format.Problem) {
	if p.Ask == nil && asksSystem(p) {
		p.Ask = &format.Question{Option: "crs", Of: p.File}
	}
	in.problems++
	if len(in.report.Problems) < in.job.MaxProblems {
		in.report.Problems = append(in.report.Problems, p)
		return
	}
	in.report.MoreProblems++
}

func (in *intake) notice(at where, field, text string) {
	in.notices.Add(in.fileName(at.file), field, at.feature, at.line, text)
}

func (in *intake) fileName(i int) string {
	if i < 0 || i >= len(in.job.Files) {
		return ""
	}
	return in.job.Files[i].Name
}

// item lists a thing that was made, changed or left out.
func (in *intake) item(at where, what, became, why string) {
	if len(in.report.Items) >= mostItems {
		in.report.MoreItems++
		return
	}
	it := Item{What: what, Became: became, Why: why, File: in.fileName(at.file), Line: at.line}
	if at.feature >= 0 {
		it.Feature = &at.feature
	}
	in.report.Items = append(in.report.Items, it)
}

// colInfo is what a column or property means.
type colInfo struct {
	name          string
	known         bool
	said, leftOut bool // what it means was said; it is to be left out
	field         csv.Field
	unit          csv.Unit
	wkt           bool
	nf            *csv.NumberFormat // of a table
	df            *csv.DateFormat
	scale         int32        // index of the unit's name, -1 none
	score         *stand.Scale // of a score whose column has a scale of its own
	class         *csv.Class   // of cane diameters, which the column counts
}

// cell is one value of a feature or line.
type cell struct {
	col   *colInfo
	kind  geojson.Kind
	text  []byte            // trimmed
	value *geojson.Property // of GeoJSON
}

// any gives the value as it came.
func (c *cell) any() any {
	if c.value != nil {
		return c.value.Any()
	}
	return string(c.text)
}

// column finds out what a name means, once for each file.
func (in *intake) column(file int, name string) *colInfo {
	if c, ok := in.cols[file][name]; ok {
		return c
	}
	header, said := in.said[file][name]
	if !said {
		header = name
	}
	if in.cols[file] == nil {
		in.cols[file] = map[string]*colInfo{}
	}
	c := &colInfo{name: name, scale: -1}
	c.field, c.unit, c.known = in.reco.Recognise(header)
	c.said, c.leftOut = said, said && header == ""
	if !c.leftOut {
		in.settleUnit(file, c)
	}
	if said && !c.known && !c.leftOut && c.class == nil {
		in.problem(where{file: file, feature: format.None}, name, "the column is to be something that is not known", format.Quote(header), "a name such as row, vine, pruning_weight_kg; or nothing, to leave the column out")
	}
	if c.unit.Name != "" {
		c.scale = in.names.index([]byte(c.unit.Name))
	}
	switch strings.ToLower(name) {
	case "wkt", "outline_wkt", "line_wkt", "geometry_wkt":
		c.wkt = true
	}
	in.ours[file] = in.ours[file] || c.known && c.field == csv.CoursonID
	in.cols[file][name] = c
	return c
}

// itemIn is one feature or line on its way into the intake.
type itemIn struct {
	where
	table    bool
	geometry orb.Geometry
	place    orb.Point // of a vine, from its geometry or its columns; none until known
	cells    []cell
}

// kindOf tells what an item is about, by its geometry, else by its columns.
func (it *itemIn) kindOf() Kind {
	switch it.geometry.(type) {
	case orb.Polygon, orb.MultiPolygon:
		return Blocks
	case orb.LineString, orb.MultiLineString:
		return Rows
	case orb.Point:
		return Vines
	}
	has := func(fields ...csv.Field) bool {
		for _, c := range it.cells {
			for _, f := range fields {
				if c.col.known && c.col.field == f {
					return true
				}
			}
		}
		return false
	}
	switch {
	case has(csv.Vine, csv.Tag, csv.Address) || it.table && has(csv.Status, csv.Latitude, csv.Longitude):
		return Vines
	case has(csv.Row):
		return Rows
	}
	return Blocks
}

// take takes up one feature or line.
func (in *intake) take(it *itemIn) {
	if in.job.Look {
		in.seen[it.file].show(it, in.job.As)
	}
	it.cells = slices.DeleteFunc(it.cells, func(c cell) bool { return c.col.leftOut })
	if in.job.As.points() {
		in.takePoint(it)
		return
	}
	kind := it.kindOf()
	if what, held := odd(it.geometry); held {
		in.problem(it.where, "geometry", "a geometry of this kind is none of block, row or vine", what, "one Polygon for a block, one LineString for a row, one Point for a vine, each a feature of its own")
		return
	}
	as := in.job.As
	if as == Measures {
		as = Vines
	}
	if as != Auto && as != kind {
		if it.geometry != nil {
			in.problem(it.where, "geometry", fmt.Sprintf("wrong geometry type for a file of %s", in.job.As), it.geometry.GeoJSONType(), shapeWanted(as))
			return
		}
		kind = as
	}
	switch kind {
	case Blocks:
		in.takeBlock(it)
	case Rows:
		in.takeRow(it)
	default:
		in.takeVine(it)
	}
}

func shapeWanted(as Kind) string {
	switch as {
	case Blocks:
		return "a Polygon or MultiPolygon"
	case Rows:
		return "a LineString or MultiLineString"
	}
	return "a Point"
}

// odd tells what is in a geometry that is no block, row or vine.
func odd(g orb.Geometry) (what string, held bool) {
	switch g := g.(type) {
	case orb.MultiPoint:
		return fmt.Sprintf("a MultiPoint of %d positions", len(g)), true
	case orb.Collection:
		count := map[string]int{}
		for _, part := range g {
			count[part.GeoJSONType()]++
		}
		var parts []string
		for kind, n := range count {
			parts = append(parts, fmt.Sprintf("%d %s", n, kind))
		}
		sort.Strings(parts)
		return "a GeometryCollection with " + strings.Join(parts, ", "), true
	}
	return "", false
}

// tell says once for each file and name that a column is not known.
func (in *intake) tell(it *itemIn, c *colInfo) {
	key := fmt.Sprint(it.file, " ", c.name)
	if !it.table || !in.unknown[key] {
		in.unknown[key] = true
		at := it.where
		if it.table {
			at.line = 1
		}
		in.notice(at, c.name, "not known; left out")
	}
}
