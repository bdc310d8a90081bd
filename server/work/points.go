package work

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/frame"
	"courson/geo/vine"
)

// pointIn is a surveyed or detected point as a file gives it.
type pointIn struct {
	where
	at          orb.Point // degrees; noPoint: none
	x, y        float64   // in the stated coordinate system; NaN: not said
	id          int64     // of a vine, our own
	block, row  int32     // names, -1 none
	name        int32     // of the point, -1 none
	number      int32     // noNumber: not said
	fix         fixKind
	errorM      float64 // claimed, m; 0 not said
	score       float64 // of a detection; NaN: not said
	day         int32   // noDay: not said
	by          int32
	statedRow   int  // index into the rows of its block; -1 none named
	addressable bool // a row and number, or an id, are named
}

// noPoint stands for no place.
func noPoint() orb.Point { return orb.Point{math.Inf(1), math.Inf(1)} }

// fixKind is how good a receiver says its position is.
type fixKind uint8

const (
	fixUnsaid fixKind = iota
	fixNone           // no valid position
	fixSingle
	fixDifferential
	fixFloat
	fixFixed
)

// parseFix reads the words in use, and the digits of the quality indicator in
// the GGA sentence of NMEA 0183 (0 none, 1 single, 2 differential, 4 fixed, 5
// float; from memory).
func parseFix(text string) (fixKind, bool) {
	word := strings.ToLower(strings.TrimSpace(text))
	word = strings.TrimSpace(strings.TrimPrefix(strings.NewReplacer("_", " ", "-", " ").Replace(word), "rtk"))
	switch word {
	case "fix", "fixed", "4":
		return fixFixed, true
	case "float", "5":
		return fixFloat, true
	case "dgps", "dgnss", "differential", "sbas", "2":
		return fixDifferential, true
	case "single", "autonomous", "gps", "gnss", "3d", "1":
		return fixSingle, true
	case "none", "invalid", "no fix", "0":
		return fixNone, true
	}
	return fixUnsaid, false
}

// String is how the store and reports name a fix.
func (k fixKind) String() string {
	return [...]string{"", "none", "single", "differential", "float", "fixed"}[k]
}

// errorOf gives the error to reckon with: what the receiver claims, but never
// less than its kind of fix can hold; where it claims none, what is usual for that
// kind. Chosen by us, in the usual range of each kind.
func (k fixKind) errorOf(claimed float64) float64 {
	least, usual := 0.0, 0.0
	switch k {
	case fixFixed:
		least, usual = 0.005, 0.02
	case fixFloat:
		least, usual = 0.1, 0.5
	case fixDifferential:
		least, usual = 0.3, 1
	case fixSingle:
		least, usual = 0.5, 2.5
	}
	if claimed == 0 {
		return usual
	}
	return max(claimed, least)
}

// pointCol is what a column means for points.
type pointCol struct {
	what   string
	factor float64
}

// pointName is what a column means for points, beyond what it means for vines.
func pointName(header string) (what string, factor float64) {
	name := strings.ToLower(strings.Join(strings.FieldsFunc(header, func(r rune) bool { return strings.ContainsRune(" _-.()", r) }), "_"))
	factor = 1
	for suffix, f := range map[string]float64{"_m": 1, "_cm": 0.01, "_mm": 0.001, "_ft": frame.Foot} {
		if n, cut := strings.CutSuffix(name, suffix); cut {
			name, factor = n, f
			break
		}
	}
	switch name {
	case "fix", "fix_type", "fix_quality", "quality", "solution", "solution_status":
		return "fix", 1
	case "hrms", "h_rms", "accuracy", "horizontal_accuracy", "h_accuracy", "hacc", "error", "precision", "sigma", "rms":
		return "error", factor
	case "x", "e", "east", "easting":
		return "x", 1
	case "y", "n", "north", "northing":
		return "y", 1
	case "score", "suspicion", "probability", "confidence":
		return "score", 1
	case "name", "point", "point_name", "point_id", "id":
		return "name", 1
	}
	return "", 1
}

// takePoint takes up one point.
func (in *intake) takePoint(it *itemIn) {
	p := pointIn{where: it.where, at: noPoint(), x: math.NaN(), y: math.NaN(), block: -1, row: -1, name: -1, number: noNumber, score: math.NaN(), day: noDay, by: -1, statedRow: -1}
	if len(in.points) >= mostVines {
		in.problem(it.where, "", "too many points in one import", fmt.Sprint(len(in.points)+1), fmt.Sprintf("at most %d; split the file", mostVines))
		return
	}
	switch g := it.geometry.(type) {
	case nil:
	case orb.Point:
		p.at = g
	default:
		in.problem(it.where, "geometry", "wrong geometry type for a file of points", it.geometry.GeoJSONType(), "a Point for each trunk or place")
		return
	}
	it.place = p.at
	before := in.problems
	for k := range it.cells {
		if c := &it.cells[k]; c.kind != geojson.Null && !c.col.wkt && !in.computed(it, c.col) {
			in.pointCell(it, c, &p)
		}
	}
	if it.place != noPoint() {
		p.at = it.place
	}
	in.place(it, &p)
	in.checkPoint(it, &p)
	if before == in.problems {
		in.points = append(in.points, p)
		if in.job.Look && it.geometry == nil && p.at != noPoint() {
			in.seen[it.file].drawPoint(p.at)
		}
	}
}

// pointCell takes up one property of a point.
func (in *intake) pointCell(it *itemIn, c *cell, p *pointIn) {
	meant, known := in.pointCols[c.col]
	if !known {
		meant.what, meant.factor = pointName(c.col.name)
		in.pointCols[c.col] = meant
	}
	switch meant.what {
	case "fix":
		kind, ok := parseFix(c.label())
		if !ok {
			in.bad(it, c, "a fix that is not known", "fixed, float, differential, single or none")
			return
		}
		p.fix = kind
	case "error":
		p.errorM = in.numberCell(it, c, 0, 1e6, "metres, 0 and up") * meant.factor
	case "x":
		p.x = in.numberCell(it, c, -1e9, 1e9, "an easting")
	case "y":
		p.y = in.numberCell(it, c, -1e9, 1e9, "a northing")
	case "score":
		p.score = in.numberCell(it, c, 0, 1, "0 (a plant stands there) to 1 (surely none)")
	case "name":
		p.name = in.names.index(c.labelBytes())
	default:
		in.pointField(it, c, p)
	}
}

// pointField takes up what means the same for points as for vines.
func (in *intake) pointField(it *itemIn, c *cell, p *pointIn) {
	if !c.col.known {
		in.tell(it, c.col)
		return
	}
	switch c.col.field {
	case csv.Block:
		p.block = in.names.index(c.labelBytes())
	case csv.Row:
		p.row = in.names.index(c.labelBytes())
	case csv.Vine:
		p.number = int32(in.numberOfVine(it, c))
	case csv.Tag, csv.Name:
		p.name = in.names.index(c.labelBytes())
	case csv.CoursonID:
		p.id = in.idCell(it, c)
	case csv.Longitude:
		it.place[0] = in.degreesCell(it, c, false)
	case csv.Latitude:
		it.place[1] = in.degreesCell(it, c, true)
	case csv.RecordedOn:
		p.day = in.dayCell(it, c)
	case csv.RecordedBy:
		p.by = in.names.index(c.labelBytes())
	case csv.Address:
		a, err := vine.ParseAddress(c.label())
		if err != nil {
			in.bad(it, c, "not an address", "block/row/vine, as in H3/12/41")
			return
		}
		p.block, p.row, p.number = in.names.index([]byte(a.Block)), in.names.index([]byte(a.Row)), int32(a.Number)
	case csv.Note, csv.Season:
	default:
		in.tell(it, c.col)
	}
}

// place brings an easting and northing to degrees.
func (in *intake) place(it *itemIn, p *pointIn) {
	hasX, hasY := !math.IsNaN(p.x), !math.IsNaN(p.y)
	switch {
	case !hasX && !hasY || p.at != noPoint():
	case hasX != hasY:
		in.problem(it.where, "easting, northing", "one of the two is missing", "one", "both, or neither")
	case in.job.CRS == "":
		in.problem(it.where, "easting, northing", "numbers, but not of which coordinate system", fmt.Sprintf("%g %g", p.x, p.y), "the coordinate system stated: EPSG:32632; or longitude and latitude")
	default:
		crs, err := frame.ParseCRS(in.job.CRS)
		if err == nil {
			p.at, err = crs.ToWGS84(p.x, p.y)
		}
		if err != nil {
			in.problem(it.where, "easting, northing", err.Error(), fmt.Sprintf("%g %g", p.x, p.y), "a place in the stated coordinate system")
		}
	}
}

// checkPoint refuses a point that is nowhere, and a detection without a score.
func (in *intake) checkPoint(it *itemIn, p *pointIn) {
	p.addressable = p.id != 0 || p.row >= 0 && p.number != noNumber
	placed := !math.IsInf(p.at[0], 0) && !math.IsInf(p.at[1], 0)
	switch {
	case in.job.As == Detections && math.IsNaN(p.score):
		in.problem(it.where, "score", "a detection without its score", "nothing", "a column or property \"score\": 0 (a plant stands there) to 1 (surely none)")
	case in.job.As == Detections && (placed || p.addressable), placed:
	case !math.IsInf(p.at[0], 0) || !math.IsInf(p.at[1], 0):
		in.problem(it.where, "latitude, longitude", "one of the two is missing", "one", "both")
	case in.job.As == Detections:
		in.problem(it.where, "geometry", "no place", "nothing", "a Point, longitude and latitude, or block, row and vine")
	default:
		in.problem(it.where, "geometry", "no place", "nothing", "a Point, longitude and latitude, or easting and northing with the coordinate system stated")
	}
	p.errorM = p.fix.errorOf(p.errorM)
	if p.errorM == 0 {
		p.errorM = in.job.PointErrorM
	}
}
