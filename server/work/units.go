package work

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/stand"
	"courson/geo/vine"
)

// checkUnits settles the units that the job states.
func (in *intake) checkUnits() {
	in.units = map[csv.Field]csv.Unit{}
	nowhere := where{file: -1, feature: format.None}
	for _, name := range slices.Sorted(maps.Keys(in.job.Units)) {
		unit := strings.TrimSpace(in.job.Units[name])
		f, _, known := in.reco.Recognise(name)
		if _, measured := f.Quantity(); !known || !measured {
			in.problem(nowhere, "unit", "not a quantity that is measured", format.Quote(name), "such as pruning_weight, cane_diameter, canopy_index, visual_score")
			continue
		}
		u, ok := unitOf(f, unit)
		if !ok {
			in.problem(nowhere, "unit of "+name, "a unit that is not known", format.Quote(unit), unitsWanted(f))
			continue
		}
		in.units[f] = u
	}
}

// unitOf reads a unit of a quantity, the name of an index or the scale of a score.
func unitOf(f csv.Field, text string) (csv.Unit, bool) {
	switch f {
	case csv.Measure(vine.CanopyIndex):
		return csv.Unit{Name: csv.IndexCase(text), Factor: 1}, text != ""
	case csv.Measure(vine.VisualScore):
		_, ok := stand.ParseScale(text)
		return csv.Unit{Name: text, Factor: 1}, ok
	}
	return csv.UnitOf(f, text)
}

func unitsWanted(f csv.Field) string {
	switch f {
	case csv.Measure(vine.CanopyIndex):
		return "the name of the index, such as NDVI"
	case csv.Measure(vine.VisualScore):
		return "lowest and highest score, as in 1-5"
	}
	if units := csv.Units(f); len(units) > 0 {
		return "one of " + strings.Join(units, ", ")
	}
	return "nothing: it is counted"
}

// settleUnit finds the unit of a column: its own, else the one that is stated.
// Two that differ are refused, and so is a unit that is not known.
func (in *intake) settleUnit(file int, c *colInfo) {
	at := where{file: file, feature: format.None, line: 1}
	if !c.known {
		if in.settleClass(at, c) {
			return
		}
		if f, unit, strange := in.reco.StrangeUnit(c.name); strange {
			in.problem(at, c.name, "a unit that is not known", format.Quote(unit), unitsWanted(f))
		}
		return
	}
	stated, ok := in.units[c.field]
	switch {
	case ok && c.unit.Name == "":
		c.unit = stated
	case ok && (c.unit.Factor != stated.Factor || len(csv.Units(c.field)) == 0 && c.unit.Name != stated.Name):
		in.problem(at, c.name, "the column is in another unit than the one stated", c.unit.Name+", and "+stated.Name, "one of the two")
	}
	if c.field == csv.Measure(vine.VisualScore) && c.unit.Name != "" {
		scale, ok := stand.ParseScale(c.unit.Name)
		if !ok {
			in.problem(at, c.name, "not a scale", format.Quote(c.unit.Name), "lowest and highest score, as in 1-5")
			return
		}
		c.score = &scale
	}
}

// settleClass takes up a column that counts the canes of a class of diameters.
func (in *intake) settleClass(at where, c *colInfo) bool {
	class, ok, err := in.reco.Class(c.name)
	if !ok {
		return false
	}
	if err != nil {
		in.problem(at, c.name, "not a class of diameters: "+err.Error(), format.Quote(class.Name), "from a smaller to a greater diameter, with its unit, as in canes 6-8 mm")
		return true
	}
	if class.Unit == "" {
		stated, ok := in.units[csv.Measure(vine.CaneDiameter)]
		if !ok {
			in.problem(at, c.name, "a class of diameters without its unit", format.Quote(class.Name), fmt.Sprintf("the unit in the name, as in %s mm; or stated: --unit cane_diameter=mm", c.name))
			return true
		}
		class, _ = class.In(stated.Name)
		class.Name += " " + stated.Name
	}
	c.class = &class
	return true
}
