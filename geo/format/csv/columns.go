package csv

import (
	"strings"

	"courson/geo/vine"
)

// Field is what a column, or a property of a feature, means to us.
type Field string

// The fields of blocks, rows and vines. Names of measures are those of
// vine.Quantity.
const (
	CoursonID    Field = "courson_id"  // our own lasting id, as exports write it
	ExportedAt   Field = "exported_at" // when we wrote the file
	Address      Field = "address"     // block/row/vine
	Block        Field = "block"
	Row          Field = "row"
	Vine         Field = "vine" // number in the row
	Tag          Field = "tag"  // the estate's own name for a vine
	Latitude     Field = "latitude"
	Longitude    Field = "longitude"
	Season       Field = "season"
	Status       Field = "status" // condition
	Cause        Field = "cause"
	LookAgain    Field = "look_again"
	Planted      Field = "planted" // season of the first leaf
	Mother       Field = "mother"  // of a layer: the vine of the row whose cane it is
	Severed      Field = "severed" // whether a layer is cut from its mother
	PlanNodes    Field = "nodes"   // of the pruning plan
	PlanCanes    Field = "canes"
	PlanSpurs    Field = "spurs"
	PrunedOn     Field = "pruned_on"
	PrunedBy     Field = "pruned_by"
	LeftNodes    Field = "left_nodes" // left by the pruner
	LeftCanes    Field = "left_canes"
	LeftSpurs    Field = "left_spurs"
	LeftReason   Field = "left_reason"
	Progress     Field = "progress" // of pruning
	Note         Field = "note"
	RecordedOn   Field = "recorded_on" // day on which what the line says was seen or measured
	RecordedBy   Field = "recorded_by"
	ScoreScale   Field = "visual_score_scale" // of the score on the line, such as 1-5
	IndexName    Field = "canopy_index_scale" // what the index on the line is, such as NDVI
	Name         Field = "name"
	Variety      Field = "variety"
	Clone        Field = "clone"
	Rootstock    Field = "rootstock"
	System       Field = "system"
	RowSpacing   Field = "row_spacing"
	VineSpacing  Field = "vine_spacing"
	NumberingEnd Field = "numbering_end"
	Offset       Field = "offset" // from the numbering end to vine 1
	Vines        Field = "vines"  // how many in a row
)

// Fields lists what a column may mean, but for what only our own exports write.
func Fields() []Field {
	return []Field{Block, Row, Vine, Address, Tag, Latitude, Longitude, Season, Status, Cause, LookAgain, Planted, Mother, Severed,
		Measure(vine.PruningWeight), Measure(vine.CaneCount), Measure(vine.CaneDiameter), Measure(vine.ShootCount), Measure(vine.ShootLength), Measure(vine.TrunkGirth),
		Measure(vine.VisualScore), Measure(vine.Yield), Measure(vine.CanopyIndex),
		PlanNodes, PlanCanes, PlanSpurs, PrunedOn, PrunedBy, LeftNodes, LeftCanes, LeftSpurs, LeftReason, Progress, Note, RecordedOn, RecordedBy,
		Name, Variety, Clone, Rootstock, System, RowSpacing, VineSpacing, NumberingEnd, Offset, Vines}
}

// Measure gives the field of a quantity.
func Measure(q vine.Quantity) Field { return Field(q) }

// Quantity gives what a field measures; false where it is no measure.
func (f Field) Quantity() (vine.Quantity, bool) {
	q := vine.Quantity(f)
	return q, q.Unit() != ""
}

// Unit is a unit a column can be written in.
type Unit struct {
	Name   string  // as in the header
	Factor float64 // base units in one of it
}

// names lists, for each field, the names it goes by in English; otherNames has
// those of other languages. Names are lower case with
// underscores and without a unit.
func names() map[Field][]string {
	return map[Field][]string{
		CoursonID:    {"courson_id"},
		ExportedAt:   {"exported_at"},
		Address:      {"address", "vine_address"},
		Block:        {"block", "block_code", "block_id", "block_name", "parcel", "vineyard_block"},
		Row:          {"row", "row_label", "row_no", "row_number", "row_id", "row_num"},
		Vine:         {"vine", "vine_no", "vine_number", "vine_num", "number", "place", "position"},
		Tag:          {"tag", "vine_id", "vine_tag", "plant_id", "label"},
		Latitude:     {"lat", "latitude"},
		Longitude:    {"lon", "lng", "long", "longitude"},
		Season:       {"season", "harvest", "harvest_year"},
		Status:       {"status", "condition", "state"},
		Cause:        {"cause", "reason"},
		LookAgain:    {"look_again", "check_again"},
		Planted:      {"planted", "planting_year", "year_planted", "first_leaf", "planted_season"},
		Mother:       {"mother", "mother_vine", "layer_of", "layered_from"},
		Severed:      {"severed", "cut_from_mother"},
		PlanNodes:    {"nodes", "buds", "plan_nodes", "plan_buds", "prescribed_buds", "prescribed_nodes", "load"},
		PlanCanes:    {"canes", "plan_canes"},
		PlanSpurs:    {"spurs", "plan_spurs"},
		PrunedOn:     {"pruned_on", "pruned", "pruning_date", "date_pruned"},
		PrunedBy:     {"pruned_by", "pruner"},
		LeftNodes:    {"left_nodes", "nodes_left", "buds_left", "left_buds"},
		LeftCanes:    {"left_canes", "canes_left"},
		LeftSpurs:    {"left_spurs", "spurs_left"},
		LeftReason:   {"left_reason"},
		Progress:     {"progress", "pruning_progress"},
		Note:         {"note", "notes", "comment", "comments", "remark", "remarks"},
		RecordedOn:   {"recorded_on", "date", "day", "measured_on", "date_measured", "measuring_date", "weighed_on", "scored_on", "seen_on"},
		RecordedBy:   {"recorded_by", "by", "measured_by", "weighed_by", "scored_by", "seen_by", "observer"},
		ScoreScale:   {"visual_score_scale", "score_scale"},
		IndexName:    {"canopy_index_scale", "canopy_index_name", "index_name"},
		Name:         {"name"},
		Variety:      {"variety", "cultivar", "grape", "grape_variety"},
		Clone:        {"clone"},
		Rootstock:    {"rootstock", "stock"},
		System:       {"system", "training", "training_system"},
		RowSpacing:   {"row_spacing", "row_distance", "between_rows"},
		VineSpacing:  {"vine_spacing", "spacing", "vine_distance", "in_row_spacing", "between_vines"},
		NumberingEnd: {"numbering_end", "vine1_end", "vine_1_end", "first_vine_end"},
		Offset:       {"offset", "start_offset", "first_vine_offset", "offset_start"},
		Vines:        {"vines", "vine_count", "vine_places", "places", "plants"},

		Measure(vine.PruningWeight): {"pruning_weight", "prun", "pruning", "prunings", "prune_weight", "wood_weight", "weight", "pruned_weight"},
		Measure(vine.CaneCount):     {"cane_count"},
		Measure(vine.ShootCount):    {"shoot_count", "shoots"},
		Measure(vine.CaneDiameter):  {"cane_diameter", "cane_diam"},
		Measure(vine.ShootLength):   {"shoot_length", "cane_length"},
		Measure(vine.TrunkGirth):    {"trunk_girth", "girth", "trunk_circumference"},
		Measure(vine.VisualScore):   {"visual_score", "vigour", "vigor", "vigour_score", "vigor_score", "score"},
		Measure(vine.Yield):         {"yield", "crop", "fruit_weight", "crop_weight"},
		Measure(vine.CanopyIndex):   {"canopy_index", "vegetation_index"},
	}
}

const (
	gramsInPound = 453.59237 // exact (international pound, 1959)
	metresInFoot = 0.3048    // exact (international foot, 1959)
)

// units lists the units of a field and how many of its base unit one holds;
// nil where it has none. The base units are those of vine.Quantity, and metres.
func units(f Field) map[string]float64 {
	switch f {
	case Measure(vine.PruningWeight), Measure(vine.Yield):
		return map[string]float64{"g": 1, "kg": 1000, "lb": gramsInPound, "lbs": gramsInPound, "oz": gramsInPound / 16}
	case Measure(vine.CaneDiameter), Measure(vine.TrunkGirth):
		return map[string]float64{"mm": 1, "cm": 10, "in": metresInFoot * 1000 / 12}
	case Measure(vine.ShootLength):
		return map[string]float64{"cm": 1, "mm": 0.1, "m": 100, "in": metresInFoot * 100 / 12, "ft": metresInFoot * 100}
	case RowSpacing, VineSpacing, Offset:
		return map[string]float64{"m": 1, "cm": 0.01, "ft": metresInFoot, "in": metresInFoot / 12}
	}
	return nil
}

// Units lists the units that a field may be written in, for messages.
func Units(f Field) []string {
	var out []string
	for _, u := range []string{"g", "kg", "oz", "lb", "mm", "cm", "m", "in", "ft"} {
		if _, ok := units(f)[u]; ok {
			out = append(out, u)
		}
	}
	return out
}

// Recogniser knows the fields by their names.
type Recogniser struct {
	byName  map[string]Field
	classes classNames
}

// NewRecogniser makes the table of names.
func NewRecogniser() Recogniser {
	r := Recogniser{byName: map[string]Field{}, classes: newClassNames()}
	for _, table := range []map[Field][]string{names(), otherNames()} {
		for f, list := range table {
			for _, n := range list {
				r.byName[n] = f
			}
		}
	}
	return r
}

// Recognise tells what a header or a property name means, and in which unit it
// is: "Pruning weight (g)", "yield_lb", "vine_spacing_m". Letter case, blanks
// and points count not. The unit's name is "" where the header has none; Factor
// is then 1 and it is for the caller to refuse a quantity that needs one. Of a
// score or a canopy index the unit's name is its scale: "score 0-10",
// "canopy index (NDRE)", "NDVI".
func (r Recogniser) Recognise(header string) (f Field, u Unit, ok bool) {
	name := plainName(header)
	if f, ok = r.byName[name]; ok {
		return f, Unit{Factor: 1}, true
	}
	if f, u, ok = r.scaled(header, name); ok {
		return f, u, true
	}
	at := strings.LastIndexByte(name, '_')
	if at < 0 {
		return "", Unit{}, false
	}
	unit := name[at+1:]
	if f, ok = r.byName[name[:at]]; !ok {
		return "", Unit{}, false
	}
	factor, known := units(f)[unit]
	if !known {
		return "", Unit{}, false
	}
	return f, Unit{Name: unit, Factor: factor}, true
}

// Known lists all names of the fields given, for the nearest one to a misspelt
// header.
func (r Recogniser) Known(fields ...Field) []string {
	table := names()
	var out []string
	for _, f := range fields {
		out = append(out, table[f]...)
	}
	return out
}

// separators are left out of names.
const separators = " \u00a0\u202f_-./()[]:\t\n"

// plainName brings a header to the form of the table: lower case, underscores,
// brackets taken off.
func plainName(header string) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(plainLetters(header)) {
		if strings.ContainsRune(separators, r) {
			gap = b.Len() > 0
			continue
		}
		if gap {
			b.WriteByte('_')
			gap = false
		}
		b.WriteRune(r)
	}
	return b.String()
}

// UnitOf reads the name of a unit of a field.
func UnitOf(f Field, name string) (Unit, bool) {
	name = strings.ToLower(strings.TrimSpace(name))
	factor, ok := units(f)[name]
	return Unit{Name: name, Factor: factor}, ok
}
