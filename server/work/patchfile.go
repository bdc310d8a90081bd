package work

import (
	"io"
	"math"
	"time"

	"courson/geo/format"
	"courson/geo/patch"
)

// patchOrArea is a tested patch of a block, or an area that is likely weak.
type patchOrArea struct {
	f      *Findings
	place  Place
	tested *patch.Patch
	likely *patch.LikelyPatch
}

// patchRows gives the patches and areas of a block, in the order of its places.
func patchRows(f *Findings) (out []patchOrArea) {
	if f.Patches != nil {
		for i := range f.Patches.Patches {
			out = append(out, patchOrArea{f: f, place: f.PatchPlace(i), tested: &f.Patches.Patches[i]})
		}
	}
	if f.Likely != nil {
		for i := range f.Likely.Patches {
			out = append(out, patchOrArea{f: f, place: f.LikelyPlace(i), likely: &f.Likely.Patches[i]})
		}
	}
	return out
}

// either picks what both kinds have.
func either(tested func(*patch.Patch) any, likely func(*patch.LikelyPatch) any) func(patchOrArea) any {
	return func(p patchOrArea) any {
		if p.tested != nil {
			return tested(p.tested)
		}
		return likely(p.likely)
	}
}

// ofTested is said of tested patches only.
func ofTested(of func(f *Findings, p *patch.Patch) any) func(patchOrArea) any {
	return func(p patchOrArea) any {
		if p.tested == nil {
			return nil
		}
		return of(p.f, p.tested)
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
func patchFields(u unitsOut) []layerField[patchOrArea] {
	area, areaUnit, byArea, length, byLength := "hectares", "ha", 1e-4, "row_m", 1.0
	if u.length == "ft" {
		area, areaUnit, byArea, length, byLength = "acres", "acre", acresPerM2, "row_ft", feetPerM
	}
	return []layerField[patchOrArea]{
		{text("patch", "Name of the patch, as long as the measures stay the same"), func(p patchOrArea) any { return p.place.ID }},
		{text("block", "Code of the block"), func(p patchOrArea) any { return p.f.Stand.Ground.Code }},
		{whole("season", "Harvest year that the winter's pruning prepares"), func(p patchOrArea) any { return p.f.Stand.Season }},
		{text("kind", "weak and strong were tested; likely is an area that a sample makes likely to be weak"), func(p patchOrArea) any { return p.place.Kind }},
		{text("how", "How sure it is"), either(func(*patch.Patch) any { return "tested vine by vine" }, func(*patch.LikelyPatch) any { return "likely, from a sample" })},
		{whole("vines", "Vine positions"), either(func(p *patch.Patch) any { return len(p.Vines) }, func(p *patch.LikelyPatch) any { return len(p.Vines) })},
		{whole("living", "Living vines"), either(func(p *patch.Patch) any { return p.Living }, func(p *patch.LikelyPatch) any { return p.Living })},
		{whole("gaps", "Positions where the vine is dead or missing"), either(func(p *patch.Patch) any { return p.Gaps }, func(p *patch.LikelyPatch) any { return p.Gaps })},
		{number(area, areaUnit, "Area"), either(func(p *patch.Patch) any { return to(p.AreaM2*byArea, 4) }, func(p *patch.LikelyPatch) any { return to(p.AreaM2*byArea, 4) })},
		{number(length, u.length, "Row"), either(func(p *patch.Patch) any { return to(p.RowM*byLength, 1) }, func(p *patch.LikelyPatch) any { return to(p.RowM*byLength, 1) })},
		{text("tested", "What was tested"), ofTested(func(f *Findings, _ *patch.Patch) any { return f.Tested.Label })},
		{text("unit", "Unit of expected, mean and shortfall"), ofTested(func(f *Findings, _ *patch.Patch) any { return f.Tested.Unit })},
		{number("expected", "", "What leaf and cultivar lead one to expect"), ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Expected, 4) })},
		{number("mean", "", "Mean of its vines"), ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Mean, 4) })},
		{number("shortfall", "", "Expected less mean"), ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Shortfall, 4) })},
		{number("shortfall_percent", "%", "Shortfall in per cent of what was expected"), ofTested(func(_ *Findings, p *patch.Patch) any { return to(100*p.ShortfallShare, 1) })},
		{number("leaf_median", "", "Median leaf of its vines"), ofTested(func(_ *Findings, p *patch.Patch) any { return said(p.LeafMedian, p.LeafMedian > 0) })},
		{number("q", "", "Smallest false-discovery rate at which it would still be found"), ofTested(func(_ *Findings, p *patch.Patch) any { return to(p.Q, 6) })},
		{number("change_percent", "%", "Change since the season it is compared with"), ofTested(func(_ *Findings, p *patch.Patch) any {
			return sincePercent(p, func(s *patch.Since) float64 { return s.Percent })
		})},
		{number("change_percent_elsewhere", "%", "Change of the rest of the block"), ofTested(func(_ *Findings, p *patch.Patch) any {
			return sincePercent(p, func(s *patch.Since) float64 { return s.RestPercent })
		})},
		{number("probability", "", "Mean probability that its vines lie under the limit; of likely areas"), either(func(*patch.Patch) any { return nil }, func(p *patch.LikelyPatch) any { return to(p.Probability, 3) })},
	}
}

func said(v float64, known bool) any {
	if !known {
		return nil
	}
	return v
}

// WritePatches writes the patches and likely weak areas of blocks with their
// outlines and gives how many there are.
func WritePatches(w io.Writer, form Form, usUnits bool, blocks []*Findings) (int, error) {
	x := &exporter{job: ExportJob{What: PatchLayer, Form: form, Now: time.Now}, units: unitsFor(usUnits)}
	x.layer = &format.Layer{Name: string(PatchLayer), Title: "Patches", Shape: format.AreaShape, Columns: columnsOf(patchFields(x.units))}
	defer x.clear()
	if err := x.open(w); err != nil {
		return 0, err
	}
	for _, f := range blocks {
		if err := x.patchesOf(f); err != nil {
			return x.n, err
		}
	}
	return x.n, x.out.close()
}

func (x *exporter) patchesOf(f *Findings) error {
	fields := patchFields(x.units)
	for _, p := range patchRows(f) {
		if err := putAll(x, fields, 0, p.place.ID, p, single(p.place.Outline)); err != nil {
			return err
		}
	}
	return nil
}

// sincePercent is a change in per cent; nil where there is no earlier season.
func sincePercent(p *patch.Patch, of func(*patch.Since) float64) any {
	if p.Since == nil {
		return nil
	}
	return to(of(p.Since), 1)
}
