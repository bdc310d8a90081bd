package work

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb/geojson"

	"courson/geo/patch"
)

// patchField is one column of a list of patches: its name and what a patch
// says, nil for nothing.
type patchField struct {
	name string
	of   func(f *Findings, p patchOrArea) any
}

// patchOrArea is a tested patch, or an area that is likely weak.
type patchOrArea struct {
	place  Place
	tested *patch.Patch
	likely *patch.LikelyPatch
}

// patchRows gives the patches and areas of a block, in the order of its places.
func patchRows(f *Findings) (out []patchOrArea) {
	if f.Patches != nil {
		for i := range f.Patches.Patches {
			out = append(out, patchOrArea{place: f.PatchPlace(i), tested: &f.Patches.Patches[i]})
		}
	}
	if f.Likely != nil {
		for i := range f.Likely.Patches {
			out = append(out, patchOrArea{place: f.LikelyPlace(i), likely: &f.Likely.Patches[i]})
		}
	}
	return out
}

// either picks what both kinds have.
func either(tested func(*patch.Patch) any, likely func(*patch.LikelyPatch) any) func(*Findings, patchOrArea) any {
	return func(_ *Findings, p patchOrArea) any {
		if p.tested != nil {
			return tested(p.tested)
		}
		return likely(p.likely)
	}
}

// ofTested is said of tested patches only.
func ofTested(of func(f *Findings, p *patch.Patch) any) func(*Findings, patchOrArea) any {
	return func(f *Findings, p patchOrArea) any {
		if p.tested == nil {
			return nil
		}
		return of(f, p.tested)
	}
}

// to rounds to some decimals.
func to(v float64, decimals int) float64 {
	by := math.Pow10(decimals)
	return math.Round(v*by) / by
}

// acresPerM2 and feetPerM: international foot and acre (exact, 1959).
const (
	acresPerM2 = 1 / 4046.8564224
	feetPerM   = 1 / 0.3048
)

// patchFields is the one table of what files say of a patch. Values are in the
// unit of what was tested, named beside them.
func patchFields(usUnits bool) []patchField {
	area, byArea, length, byLength := "hectares", 1e-4, "row_m", 1.0
	if usUnits {
		area, byArea, length, byLength = "acres", acresPerM2, "row_ft", feetPerM
	}
	return []patchField{
		{"patch", func(_ *Findings, p patchOrArea) any { return p.place.ID }},
		{"block", func(f *Findings, _ patchOrArea) any { return f.Stand.Ground.Code }},
		{"season", func(f *Findings, _ patchOrArea) any { return f.Stand.Season }},
		{"kind", func(_ *Findings, p patchOrArea) any { return p.place.Kind }},
		{"how", either(func(*patch.Patch) any { return "tested vine by vine" }, func(*patch.LikelyPatch) any { return "likely, from a sample" })},
		{"vines", either(func(p *patch.Patch) any { return len(p.Vines) }, func(p *patch.LikelyPatch) any { return len(p.Vines) })},
		{"living", either(func(p *patch.Patch) any { return p.Living }, func(p *patch.LikelyPatch) any { return p.Living })},
		{"gaps", either(func(p *patch.Patch) any { return p.Gaps }, func(p *patch.LikelyPatch) any { return p.Gaps })},
		{area, either(func(p *patch.Patch) any { return to(p.AreaM2*byArea, 4) }, func(p *patch.LikelyPatch) any { return to(p.AreaM2*byArea, 4) })},
		{length, either(func(p *patch.Patch) any { return to(p.RowM*byLength, 1) }, func(p *patch.LikelyPatch) any { return to(p.RowM*byLength, 1) })},
		{"tested", ofTested(func(f *Findings, _ *patch.Patch) any { return f.Tested.Label })},
		{"unit", ofTested(func(f *Findings, _ *patch.Patch) any { return f.Tested.Unit })},
		{"expected", ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Expected, 4) })},
		{"mean", ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Mean, 4) })},
		{"shortfall", ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Shortfall, 4) })},
		{"shortfall_percent", ofTested(func(_ *Findings, p *patch.Patch) any { return to(100*p.ShortfallShare, 1) })},
		{"leaf_median", ofTested(func(_ *Findings, p *patch.Patch) any { return said(p.LeafMedian, p.LeafMedian > 0) })},
		{"q", ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Q, 6) })},
		{"change_percent", ofTested(func(_ *Findings, p *patch.Patch) any {
			return sincePercent(p, func(s *patch.Since) float64 { return s.Percent })
		})},
		{"change_percent_elsewhere", ofTested(func(_ *Findings, p *patch.Patch) any {
			return sincePercent(p, func(s *patch.Since) float64 { return s.RestPercent })
		})},
		{"probability", either(func(*patch.Patch) any { return nil }, func(p *patch.LikelyPatch) any { return to(p.Probability, 3) })},
	}
}

func said(v float64, known bool) any {
	if !known {
		return nil
	}
	return v
}

// WritePatches writes the patches and likely weak areas of blocks and gives how
// many there are: as a table, or as GeoJSON with their outlines (RFC 7946).
func WritePatches(w io.Writer, form Form, usUnits bool, blocks []*Findings) (int, error) {
	fields := patchFields(usUnits)
	switch form {
	case Table:
		return patchTable(w, fields, blocks)
	case GeoJSON:
		return patchGeoJSON(w, fields, blocks)
	}
	return 0, fmt.Errorf("patches cannot be written as %q (geojson, csv)", form)
}

func patchTable(w io.Writer, fields []patchField, blocks []*Findings) (n int, err error) {
	out := csv.NewWriter(w)
	cells := make([]string, len(fields))
	for i, f := range fields {
		cells[i] = f.name
	}
	if err := out.Write(cells); err != nil {
		return 0, err
	}
	for _, b := range blocks {
		for _, p := range patchRows(b) {
			for i, f := range fields {
				cells[i] = cellOf(f.of(b, p))
			}
			if err := out.Write(cells); err != nil {
				return n, err
			}
			n++
		}
	}
	out.Flush()
	return n, out.Error()
}

func cellOf(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return fmt.Sprint(v)
}

func patchGeoJSON(w io.Writer, fields []patchField, blocks []*Findings) (int, error) {
	all := geojson.NewFeatureCollection()
	for _, b := range blocks {
		for _, p := range patchRows(b) {
			feature := geojson.NewFeature(p.place.Outline)
			feature.ID = p.place.ID
			for _, f := range fields {
				feature.Properties[f.name] = f.of(b, p)
			}
			all.Append(feature)
		}
	}
	return len(all.Features), json.NewEncoder(w).Encode(all)
}

// sincePercent is a change in per cent; nil where there is no earlier season.
func sincePercent(p *patch.Patch, of func(*patch.Since) float64) any {
	if p.Since == nil {
		return nil
	}
	return to(of(p.Since), 1)
}
