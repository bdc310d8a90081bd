package csv

import (
	"strconv"
	"strings"

	"courson/geo/vine"
)

// scaled reads a header of a score with its scale, or of a canopy index with its
// name.
func (r Recogniser) scaled(header, name string) (Field, Unit, bool) {
	for _, index := range indexNames() {
		if strings.EqualFold(name, index) {
			return Measure(vine.CanopyIndex), Unit{Name: index, Factor: 1}, true
		}
	}
	for at := strings.LastIndexByte(name, '_'); at > 0; at = strings.LastIndexByte(name[:at], '_') {
		rest := behind(header, name[:at])
		switch f := r.byName[name[:at]]; {
		case f == Measure(vine.VisualScore) && isScale(rest):
			return f, Unit{Name: plainScale(rest), Factor: 1}, true
		case f == Measure(vine.CanopyIndex) && rest != "":
			return f, Unit{Name: IndexCase(rest), Factor: 1}, true
		}
	}
	return "", Unit{}, false
}

// indexNames are indices of reflectance that a header may name alone.
func indexNames() []string { return []string{"NDVI", "NDRE", "GNDVI", "SAVI"} }

// IndexCase writes the well-known indices in capitals and leaves other names.
func IndexCase(name string) string {
	for _, index := range indexNames() {
		if strings.EqualFold(name, index) {
			return index
		}
	}
	return name
}

// behind gives what stands in a header behind the letters and digits of a name.
func behind(header, name string) string {
	n := len(strings.ReplaceAll(name, "_", ""))
	header = strings.TrimSpace(header)
	for i, r := range header {
		if n == 0 {
			return strings.Trim(header[i:], " \u00a0_-.()[]:/")
		}
		if !strings.ContainsRune(separators, r) {
			n -= len(strings.ToLower(string(r)))
		}
	}
	return ""
}

// isScale tells whether a text reads like 1-5, "0 to 10" or 0–1.5.
func isScale(text string) bool {
	low, high, found := strings.Cut(plainScale(text), "-")
	_, errLow := strconv.ParseFloat(low, 64)
	_, errHigh := strconv.ParseFloat(high, 64)
	return found && errLow == nil && errHigh == nil
}

// plainScale writes a scale as 1-5.
func plainScale(text string) string {
	return strings.NewReplacer(" ", "", "–", "-", "to", "-", "_", "-").Replace(strings.ToLower(text))
}

// StrangeUnit gives the unit in brackets of a header that names a quantity in a
// unit that is not known: "Pruning weight (stone)".
func (r Recogniser) StrangeUnit(header string) (f Field, unit string, ok bool) {
	open := strings.LastIndexAny(header, "([")
	if open < 0 {
		return "", "", false
	}
	f, ok = r.byName[plainName(header[:open])]
	unit = strings.Trim(header[open:], " ()[]")
	return f, unit, ok && unit != "" && len(units(f)) > 0
}
