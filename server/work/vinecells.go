package work

import (
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/stand"
	"courson/geo/vine"
)

// takeVine takes up a vine, or records about one.
func (in *intake) takeVine(it *itemIn) {
	t := in.vines
	in.report.Vines.Read++
	if t.len() >= mostVines {
		in.problem(it.where, "", "too many vines in one import", fmt.Sprint(t.len()+1), fmt.Sprintf("at most %d; split the file by block", mostVines))
		return
	}
	i := t.add(uint8(it.file), it.feature, it.line)
	it.place = t.point.none
	if g, ok := it.geometry.(orb.Point); ok {
		it.place = g
	}
	counted := false
	for k := range it.cells {
		c := &it.cells[k]
		if c.kind != geojson.Null {
			in.vineCell(it, c, i)
			counted = counted || c.col.class != nil
		}
	}
	if counted {
		in.takeTally(it, i)
	}
	p := it.place
	if lon, lat := !math.IsInf(p[0], 0), !math.IsInf(p[1], 0); lon && lat {
		t.point.set(i, p)
		if in.job.Look && it.geometry == nil {
			in.seen[it.file].drawPoint(p)
		}
	} else if lon != lat && !math.IsNaN(p[0]) && !math.IsNaN(p[1]) {
		in.problem(it.where, "latitude, longitude", "one of the two is missing", "one", "both, or neither")
	}
	in.checkVine(it, i)
}

// mostVines is the most vines one import takes; 5 million need about 1 GB.
const mostVines = 5_000_000

// checkVine refuses a vine that nothing names.
func (in *intake) checkVine(it *itemIn, i int) {
	t := in.vines
	if t.id.get(i) != 0 || t.row[i] >= 0 && t.number[i] != noNumber || len(t.tagOf(i)) > 0 {
		return
	}
	if key := fmt.Sprint("points ", it.file); t.hasPoint(i) && in.job.As == Auto && !in.unknown[key] {
		in.unknown[key] = true
		in.ask(it.where, format.Question{Option: "as", Choices: []string{string(Surveyed), string(Detections), string(Vines)}}, "",
			"places of points that name no vine", "", "what they are: trunks that were measured (survey), places where no plant was seen (detections), or vines, with their row and number in columns")
	}
	if it.table && !in.unknown[fmt.Sprint("incomplete ", it.file)] {
		in.unknown[fmt.Sprint("incomplete ", it.file)] = true
		if in.lacks(it) {
			return
		}
	} else if it.table && in.lacksColumn(it) != "" {
		return // said once for the whole table
	}
	switch {
	case t.row[i] < 0:
		in.missing(it, "a vine needs its row", csv.Row, csv.Row, csv.Vine, csv.Block)
	default:
		in.missing(it, "a vine needs its number", csv.Vine, csv.Row, csv.Vine, csv.Block)
	}
}

// lacks says, once for a table, that it lacks a column that names its vines.
func (in *intake) lacks(it *itemIn) bool {
	f := in.lacksColumn(it)
	if f == "" {
		return false
	}
	header := *it
	header.line = 1
	in.missing(&header, fmt.Sprintf("the table has no column %q", string(f)), f, csv.Row, csv.Vine, csv.Block, csv.Tag)
	return true
}

// lacksColumn gives the column that a table of vines lacks, "" for none.
func (in *intake) lacksColumn(it *itemIn) csv.Field {
	has := map[csv.Field]bool{}
	for _, c := range it.cells {
		if c.col.known {
			has[c.col.field] = true
		}
	}
	switch {
	case has[csv.CoursonID] || has[csv.Tag] || has[csv.Address]:
		return ""
	case !has[csv.Row]:
		return csv.Row
	case !has[csv.Vine]:
		return csv.Vine
	}
	return ""
}

// vineCell takes up one property of vine i.
func (in *intake) vineCell(it *itemIn, c *cell, i int) {
	if c.col.wkt || c.col.class != nil || in.computed(it, c.col) {
		return
	}
	if !c.col.known {
		in.tell(it, c.col)
		return
	}
	t := in.vines
	switch c.col.field {
	case csv.Block:
		t.block[i] = in.names.index(c.labelBytes())
	case csv.Row:
		t.row[i] = in.names.index(c.labelBytes())
	case csv.Vine:
		t.number[i] = int32(in.numberOfVine(it, c))
	case csv.Tag:
		in.tagCell(it, c, i)
	case csv.Address:
		in.addressCell(it, c, i)
	case csv.ExportedAt:
		in.exportedCell(it, c)
	case csv.CoursonID:
		t.id.set(i, in.idCell(it, c))
	case csv.Longitude:
		it.place[0] = in.degreesCell(it, c, false)
	case csv.Latitude:
		it.place[1] = in.degreesCell(it, c, true)
	case csv.Season:
		t.season.set(i, int16(in.takeSeason(it, c)))
	default:
		in.recordCell(it, c, i)
	}
}

// numberOfVine reads a vine's number. 0 passes here: it tells later that vines
// were counted from nought.
func (in *intake) numberOfVine(it *itemIn, c *cell) int {
	if n, ok := c.small(); ok && n <= stand.MaxNumber {
		return n
	}
	v := in.numberCell(it, c, 0, stand.MaxNumber, fmt.Sprintf("a whole number from 1 to %d", stand.MaxNumber))
	switch {
	case math.IsNaN(v):
		return 1 // a stand-in: the problem keeps the import from being stored
	case v != math.Trunc(v):
		in.bad(it, c, "not a whole number", fmt.Sprintf("a whole number from 1 to %d", stand.MaxNumber))
		return 1
	}
	return int(v)
}

// mostTag is the longest tag, in bytes; chosen by us.
const mostTag = 200

func (in *intake) tagCell(it *itemIn, c *cell, i int) {
	text := c.labelBytes()
	if len(text) > mostTag {
		in.bad(it, c, "too long for a tag", fmt.Sprintf("at most %d characters", mostTag))
		return
	}
	if likely, mangled := csv.LooksLikeMangledID(string(text)); mangled {
		in.bad(it, c, "looks like an id that a spreadsheet made into a date", fmt.Sprintf("the id as it was, perhaps %q: format the column as text and type it again", likely))
		return
	}
	in.vines.setTag(i, text)
}

// exportedCell notes when we wrote the file; of several times, the earliest.
func (in *intake) exportedCell(it *itemIn, c *cell) {
	at, err := time.Parse(time.RFC3339Nano, string(c.text))
	if err != nil {
		in.bad(it, c, "not a time", "the time as the export wrote it")
		return
	}
	if known, ok := in.exported[it.file]; !ok || at.Before(known) {
		in.exported[it.file] = at
	}
}

func (in *intake) addressCell(it *itemIn, c *cell, i int) {
	a, err := vine.ParseAddress(c.label())
	if err != nil {
		in.bad(it, c, "not an address", "block/row/vine, as in H3/12/41")
		return
	}
	t := in.vines
	if t.block[i] < 0 {
		t.block[i] = in.names.index([]byte(a.Block))
	}
	if t.row[i] < 0 {
		t.row[i] = in.names.index([]byte(a.Row))
	}
	if t.number[i] == noNumber {
		t.number[i] = int32(a.Number)
	}
}

// degreesCell reads a latitude or longitude; NaN after a problem.
func (in *intake) degreesCell(it *itemIn, c *cell, latitude bool) float64 {
	format := csv.NumberFormat{NumberStyle: csv.NumberStyle{Decimal: '.'}}
	if c.col.nf != nil {
		format = *c.col.nf
	}
	v, err := csv.ParseDegrees(string(c.text), latitude, format)
	if err != nil {
		in.bad(it, c, err.Error(), `degrees such as 45.2101, 45.2101N or 45°12'36.4"N`)
		return math.NaN()
	}
	return v
}
