package work

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/vine"
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
	names     nameList
	unknown   map[string]bool       // names told about already, by file
	exported  map[int]time.Time     // files that we wrote ourselves: when
	ours      map[int]bool          // files with our own ids
	seasons   map[int]where         // seasons that files name themselves
	cols      []map[string]*colInfo // by file: what its columns or properties mean
}

func newIntake(job *ImportJob, report *Report) *intake {
	return &intake{job: job, report: report, reco: csv.NewRecogniser(), vines: newVineTable(), unknown: map[string]bool{},
		seasons: map[int]where{}, exported: map[int]time.Time{}, ours: map[int]bool{}, cols: make([]map[string]*colInfo, len(job.Files))}
}

// problem takes up something that is wrong: the import will be refused.
func (in *intake) problem(at where, field, what, found, wanted string) {
	in.fail(&format.Problem{File: in.fileName(at.file), Feature: at.feature, Line: at.line, Field: field, What: what, Found: found, Wanted: wanted})
}

func (in *intake) fail(p *format.Problem) {
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
	name  string
	known bool
	field csv.Field
	unit  csv.Unit
	wkt   bool
	nf    *csv.NumberFormat // of a table
	df    *csv.DateFormat
	scale int32 // index of the unit's name, -1 none
}

// cell is one value of a feature or line.
type cell struct {
	col  *colInfo
	kind geojson.Kind
	text []byte // trimmed
	any  func() any
}

// column finds out what a name means, once for each file.
func (in *intake) column(file int, name string) *colInfo {
	if c, ok := in.cols[file][name]; ok {
		return c
	}
	if in.cols[file] == nil {
		in.cols[file] = map[string]*colInfo{}
	}
	c := &colInfo{name: name, scale: -1}
	c.field, c.unit, c.known = in.reco.Recognise(name)
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

// computed tells whether a column holds what our exports work out for their
// readers: it says nothing new.
func (in *intake) computed(it *itemIn, c *colInfo) bool {
	if !in.ours[it.file] {
		return false
	}
	switch c.name {
	case "area_m2", "length_m", "length_ft", "leaf":
		return true
	}
	return false
}

// takeBlock takes up a block.
func (in *intake) takeBlock(it *itemIn) {
	b := blockIn{where: it.where}
	in.report.Blocks.Read++
	before := in.problems
	for i := range it.cells {
		in.blockCell(it, &it.cells[i], &b)
	}
	switch g := it.geometry.(type) {
	case orb.Polygon:
		b.outline = orb.MultiPolygon{g}
	case orb.MultiPolygon:
		b.outline = g
	}
	if b.code == "" && b.id == 0 {
		in.missing(it, "a block needs its code", csv.Block, csv.Block, csv.Name)
		return
	}
	if before == in.problems {
		in.blocks = append(in.blocks, b)
	}
}

// missing says that a field is missing, and which name may have been meant.
func (in *intake) missing(it *itemIn, what string, field csv.Field, near ...csv.Field) {
	wanted := fmt.Sprintf("a %s %q", in.columnWord(it), string(field))
	for _, c := range it.cells {
		if c.col.known {
			continue
		}
		if n := format.Nearest(c.col.name, in.reco.Known(near...)); n != "" {
			wanted += fmt.Sprintf("; %q is not known, %q may be meant", c.col.name, n)
		}
	}
	in.problem(it.where, string(field), what, "nothing", wanted)
}

func (in *intake) columnWord(it *itemIn) string {
	if it.table {
		return "column"
	}
	return "property"
}

// blockCell takes up one property of a block.
func (in *intake) blockCell(it *itemIn, c *cell, b *blockIn) {
	if c.kind == geojson.Null || c.col.wkt || in.computed(it, c.col) {
		return
	}
	switch f := c.col.field; {
	case !c.col.known:
		b.extra = keep(b.extra, c)
	case f == csv.CoursonID:
		b.id = in.idCell(it, c)
	case f == csv.Block:
		b.code = c.label()
	case f == csv.Name:
		b.name = c.label()
	case f == csv.Variety:
		b.variety = c.label()
	case f == csv.Clone:
		b.clone = c.label()
	case f == csv.Rootstock:
		b.rootstock = c.label()
	case f == csv.System:
		b.system = c.label()
	case f == csv.NumberingEnd:
		b.end = c.label()
	case f == csv.Planted:
		b.planted = in.seasonCell(it, c)
	case f == csv.RowSpacing:
		b.rowSpacingM = in.spacingCell(it, c)
	case f == csv.VineSpacing:
		b.vineSpacingM = in.spacingCell(it, c)
	default:
		b.extra = keep(b.extra, c)
	}
}

func keep(extra map[string]any, c *cell) map[string]any {
	if extra == nil {
		extra = map[string]any{}
	}
	extra[c.col.name] = c.any()
	return extra
}

// takeRow takes up a row.
func (in *intake) takeRow(it *itemIn) {
	r := rowIn{where: it.where, line: it.geometry}
	in.report.Rows.Read++
	before := in.problems
	for i := range it.cells {
		in.rowCell(it, &it.cells[i], &r)
	}
	if r.label == "" && r.id == 0 {
		in.missing(it, "a row needs its number", csv.Row, csv.Row)
		return
	}
	if r.line == nil {
		in.report.Rows.LeftOut++
		in.notice(it.where, "geometry", "no place; the row is left out")
		in.item(it.where, "row "+r.block+"/"+r.label, "left out", "it has no place")
		return
	}
	if n, length := extent(r.line); !length {
		in.problem(it.where, "geometry", fmt.Sprintf("row %s has no length", r.label), fmt.Sprintf("%d positions at one place", n), "a line along the row with its two ends")
		return
	}
	if before == in.problems {
		in.rows = append(in.rows, r)
	}
}

// extent counts the positions of a line and tells whether any two differ.
func extent(g orb.Geometry) (n int, length bool) {
	var first orb.Point
	_ = frame.EachPoint(g, func(p orb.Point) error {
		if n == 0 {
			first = p
		}
		length = length || p != first
		n++
		return nil
	})
	return n, length
}

// rowCell takes up one property of a row.
func (in *intake) rowCell(it *itemIn, c *cell, r *rowIn) {
	if c.kind == geojson.Null || c.col.wkt || in.computed(it, c.col) {
		return
	}
	switch f := c.col.field; {
	case !c.col.known:
		r.extra = keep(r.extra, c)
	case f == csv.CoursonID:
		r.id = in.idCell(it, c)
	case f == csv.Block:
		r.block = c.label()
	case f == csv.Row:
		r.label = c.label()
	case f == csv.NumberingEnd:
		r.end = c.label()
	case f == csv.VineSpacing:
		r.spacingM = in.spacingCell(it, c)
	case f == csv.RowSpacing:
		r.rowSpacingM = in.spacingCell(it, c)
	case f == csv.Offset:
		r.offsetM, r.hasOffset = in.lengthCell(it, c, 0, 1000), true
	case f == csv.Vines:
		r.vines = in.wholeCell(it, c, 0, stand.MaxNumber)
	case f == csv.Season:
		in.takeSeason(it, c)
	default:
		r.extra = keep(r.extra, c)
	}
}

// takeSeason takes up a season that the file itself names.
func (in *intake) takeSeason(it *itemIn, c *cell) int {
	s := in.seasonCell(it, c)
	if s == 0 {
		return 0
	}
	if in.job.Season != 0 && s != in.job.Season {
		in.problem(it.where, c.col.name, "another season than was stated", fmt.Sprint(s), fmt.Sprint(in.job.Season))
		return 0
	}
	if _, known := in.seasons[s]; !known {
		in.seasons[s] = it.where
	}
	return s
}

// seasonCell reads a season.
func (in *intake) seasonCell(it *itemIn, c *cell) int {
	return in.wholeCell(it, c, vine.MinSeason, vine.MaxSeason)
}
