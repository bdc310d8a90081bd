package work

import (
	"fmt"
	"slices"
	"strings"

	"courson/geo/format"
)

// Layers that only go out. Blocks, Rows and Vines come in as well.
const (
	VigourLayer   Kind = "vigour"
	PatchLayer    Kind = "patches"
	ZoneLayer     Kind = "zones"
	PlanLayer     Kind = "plan-pruning"
	ProgressLayer Kind = "progress"
	ReplantLayer  Kind = "replants"
)

// Form is the format of an export.
type Form string

// The formats.
const (
	GeoJSON    Form = "geojson"
	Table      Form = "csv"
	Workbook   Form = "xlsx"
	GeoPackage Form = "gpkg"
	Shapefile  Form = "shp"
	KML        Form = "kml"
)

// FormInfo says what a format is and what it cannot hold.
type FormInfo struct {
	Form   Form     `json:"form"`
	Title  string   `json:"title"`
	Suffix string   `json:"suffix"` // of file names, with its point
	Media  string   `json:"media_type"`
	Limits []string `json:"limits"`
}

// Forms lists the formats in which layers go out.
func Forms() []FormInfo {
	const own = "Properties of your own, from imports, are left out."
	return []FormInfo{
		{GeoJSON, "GeoJSON (RFC 7946)", ".geojson", "application/geo+json", []string{"Coordinates to 8 decimals, 1.1 mm."}},
		{Table, "CSV (RFC 4180)", ".csv", "text/csv; charset=utf-8", []string{"Lines and areas are written as well-known text.", "A text that a spreadsheet would take for a formula has an apostrophe before it.", own}},
		{Workbook, "XLSX (ISO/IEC 29500)", ".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
			[]string{"A sheet holds 1,048,575 lines; what is more stands in further sheets.", "Lines and areas are written as well-known text, where that has no more than 32,767 characters.", own}},
		{GeoPackage, "GeoPackage (OGC 12-128r17)", ".gpkg", "application/geopackage+sqlite3", []string{own}},
		{Shapefile, "Shapefile in a zip, with a style", ".zip", "application/zip",
			[]string{"Field names have at most ten characters; a table in the zip gives the full names.", "Texts have at most 254 bytes.", "An empty text and one that is not known look alike.", "At most 2 GB of shapes.", own}},
		{KML, "KML 2.3 (OGC 12-007r2)", ".kml", "application/vnd.google-earth.kml+xml", []string{"The colours and marks of the map are not in it.", "A column called name is written as own_name.", own}},
	}
}

// InfoOf describes a format; false where there is none of the name.
func InfoOf(f Form) (FormInfo, bool) {
	all := Forms()
	if i := slices.IndexFunc(all, func(x FormInfo) bool { return x.Form == f }); i >= 0 {
		return all[i], true
	}
	return FormInfo{}, false
}

// layerInfo is what is said of a layer beside its columns.
type layerInfo struct {
	kind        Kind
	title, what string
	shape       format.Shape
	seasonal    bool // makes no sense without a season
}

// layerInfos is the list of layers, in the order in which they are offered.
func layerInfos() []layerInfo {
	return []layerInfo{
		{Blocks, "Blocks", "The blocks with their outlines and what is planted there.", format.AreaShape, false},
		{Rows, "Rows", "The rows, lines drawn from the end where vine 1 stands.", format.LineShape, false},
		{Vines, "Vines", "Every vine position with what was seen, measured, planned and left in one season. The file can be corrected and imported again.", format.PointShape, false},
		{VigourLayer, "Vigour", "Every vine position with what was worked out of the measures: vigour with its standard error, patches, change, load. Estimates are not measures; vigour_from tells them apart.", format.PointShape, true},
		{PatchLayer, "Patches", "Weak and strong patches, tested vine by vine, and areas that a sample makes likely to be weak.", format.AreaShape, true},
		{ZoneLayer, "Zones and rates", "The zones of the version that was kept last for each block, with the rates planned; planning figures, see caution.", format.AreaShape, true},
		{PlanLayer, "Pruning plan", "What the newest pruning plan gives each vine, with its reason.", format.PointShape, true},
		{ProgressLayer, "Progress", "How far pruning has got, row by row.", format.LineShape, true},
		{ReplantLayer, "Replant candidates", "Positions that the rules pick for replacing or looking at, with reasons. Gaps are confirmed by eye before anything is ordered.", format.PointShape, true},
	}
}

// LayerKinds lists the layers that go out.
func LayerKinds() (out []Kind) {
	for _, l := range layerInfos() {
		out = append(out, l.kind)
	}
	return out
}

// LayerNeedsSeason tells whether a layer is nothing without a season.
func LayerNeedsSeason(k Kind) bool {
	return slices.ContainsFunc(layerInfos(), func(l layerInfo) bool { return l.kind == k && l.seasonal })
}

// LayerOf describes a layer as it goes out: the one description that all formats
// and styles are made from. Season 0 is none.
func LayerOf(k Kind, season int, usUnits bool) (*format.Layer, error) {
	all := layerInfos()
	i := slices.IndexFunc(all, func(l layerInfo) bool { return l.kind == k })
	if i < 0 {
		var names []string
		for _, l := range all {
			names = append(names, string(l.kind))
		}
		return nil, fmt.Errorf("%q cannot be exported (%s)", k, strings.Join(names, ", "))
	}
	info := all[i]
	if info.seasonal && season == 0 {
		return nil, fmt.Errorf("%s are of one season: say which", k)
	}
	l := &format.Layer{Name: strings.ReplaceAll(string(k), "-", "_"), Title: info.title, What: info.what, Shape: info.shape}
	if season != 0 {
		l.Name += fmt.Sprintf("_%d", season)
		l.Title += fmt.Sprintf(", season %d", season)
	}
	units := metric()
	if usUnits {
		units = imperial()
	}
	switch k {
	case Blocks:
		l.Columns = blockColumns(units)
	case Rows:
		l.Columns = rowColumns(units)
	case Vines:
		l.Columns = vineColumns(units)
	case VigourLayer:
		l.Columns = columnsOf(vigourFields(units), idColumn())
	case PatchLayer:
		l.Columns = columnsOf(patchFields(units))
	case ZoneLayer:
		l.Columns = columnsOf(zoneLayerFields(units))
	case PlanLayer:
		l.Columns = columnsOf(planFields(), idColumn())
	case ProgressLayer:
		l.Columns = columnsOf(progressFields(units), idColumn())
	case ReplantLayer:
		l.Columns = columnsOf(replantFields(), idColumn())
	}
	return l, nil
}

// layerField is a column of things of a kind, and what one of them says: a text, a
// whole number, a number, or nil for nothing.
type layerField[T any] struct {
	format.Column
	of func(T) any
}

func columnsOf[T any](fields []layerField[T], before ...format.Column) []format.Column {
	for _, f := range fields {
		before = append(before, f.Column)
	}
	return before
}

func text(name, title string) format.Column {
	return format.Column{Name: name, Title: title}
}

func whole(name, title string) format.Column {
	return format.Column{Name: name, Title: title, Kind: format.Whole}
}

// number is a column of numbers; its unit ends its name, unless it ends it already
// or is a sign.
func number(name, unit, title string) format.Column {
	return format.Column{Name: name, Title: title, Unit: unit, Kind: format.Number}
}

func idColumn() format.Column {
	return whole("courson_id", "Lasting id")
}
