package server

import (
	"courson/geo/patch"
	"courson/server/work"
)

// ogcPatch is a tested patch or an area that is likely weak.
type ogcPatch struct {
	place  work.Place
	tested *patch.Patch
	likely *patch.LikelyPatch
}

// patchOn gives patch i of a part: the tested ones first.
func (p *ogcPart) patchOn(i int) ogcPatch {
	f := p.found
	if f.Patches != nil {
		if n := len(f.Patches.Patches); i < n {
			return ogcPatch{place: f.PatchPlace(i), tested: &f.Patches.Patches[i]}
		} else {
			i -= n
		}
	}
	return ogcPatch{place: f.LikelyPlace(i), likely: &f.Likely.Patches[i]}
}

func patchCount(f *work.Findings) (n int) {
	if f == nil {
		return 0
	}
	if f.Patches != nil {
		n += len(f.Patches.Patches)
	}
	if f.Likely != nil {
		n += len(f.Likely.Patches)
	}
	return n
}

// patchSize is what both kinds of patch have.
type patchSize struct {
	vines, living, gaps int
	areaM2, rowM        float64
}

func (p ogcPatch) size() patchSize {
	if t := p.tested; t != nil {
		return patchSize{len(t.Vines), t.Living, t.Gaps, t.AreaM2, t.RowM}
	}
	l := p.likely
	return patchSize{len(l.Vines), l.Living, l.Gaps, l.AreaM2, l.RowM}
}

func patchFields() []ogcField {
	const byTest, bySample = "tested vine by vine", "likely, from a sample"
	whole := func(name, what string, of func(patchSize) int) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: func(p *ogcPart, i int) ogcCell { return wholeCell(of(p.patchOn(i).size()), true) }}
	}
	number := func(name, what string, decimals int, of func(patchSize) float64) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: func(p *ogcPart, i int) ogcCell { return numberCell(of(p.patchOn(i).size()), decimals, true) }}
	}
	tested := func(name, what string, kind ogcKind, cell func(p *ogcPart, t *patch.Patch) ogcCell) ogcField {
		return ogcField{name: name, kind: kind, what: what, of: func(p *ogcPart, i int) ogcCell {
			if t := p.patchOn(i).tested; t != nil {
				return cell(p, t)
			}
			return ogcCell{}
		}}
	}
	since := func(of func(*patch.Since) float64) func(*ogcPart, *patch.Patch) ogcCell {
		return func(_ *ogcPart, t *patch.Patch) ogcCell {
			if t.Since == nil {
				return ogcCell{}
			}
			return numberCell(of(t.Since), 1, true)
		}
	}
	fields := append(blockFields(),
		ogcField{name: "kind", what: "weak and strong were tested; likely is an area that a sample makes likely to be weak", words: []string{"weak", "strong", "likely"},
			of: func(p *ogcPart, i int) ogcCell { return textCell(p.patchOn(i).place.Kind) }},
		ogcField{name: "how", what: "How sure it is", words: []string{byTest, bySample}, of: func(p *ogcPart, i int) ogcCell {
			if p.patchOn(i).tested != nil {
				return textCell(byTest)
			}
			return textCell(bySample)
		}},
		whole("vines", "Vine positions", func(s patchSize) int { return s.vines }),
		whole("living", "Living vines", func(s patchSize) int { return s.living }),
		whole("gaps", "Positions where the vine is dead or missing", func(s patchSize) int { return s.gaps }),
		number("hectares", "Area, ha", 4, func(s patchSize) float64 { return s.areaM2 / 1e4 }),
		number("row_m", "Row, m", 1, func(s patchSize) float64 { return s.rowM }),
	)
	return append(fields,
		tested("tested", "What was tested", ogcText, func(p *ogcPart, _ *patch.Patch) ogcCell { return textCell(p.found.Tested.Label) }),
		tested("unit", "Unit of expected, mean and shortfall", ogcText, func(p *ogcPart, _ *patch.Patch) ogcCell { return textCell(p.found.Tested.Unit) }),
		tested("expected", "What leaf and cultivar lead one to expect", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(t.Expected, 4, true) }),
		tested("mean", "Mean of its vines", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(t.Mean, 4, true) }),
		tested("shortfall", "Expected less mean", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(t.Shortfall, 4, true) }),
		tested("shortfall_percent", "Shortfall in per cent of what was expected", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(100*t.ShortfallShare, 1, true) }),
		tested("leaf_median", "Median leaf of its vines", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(t.LeafMedian, 1, t.LeafMedian > 0) }),
		tested("q", "Smallest false-discovery rate at which it would still be found", ogcNumber, func(_ *ogcPart, t *patch.Patch) ogcCell { return numberCell(t.Q, 6, true) }),
		tested("change_percent", "Change since the season it is compared with, %", ogcNumber, since(func(s *patch.Since) float64 { return s.Percent })),
		tested("change_percent_elsewhere", "Change of the rest of the block, %", ogcNumber, since(func(s *patch.Since) float64 { return s.RestPercent })),
		ogcField{name: "probability", kind: ogcNumber, what: "Mean probability that its vines lie under the limit; of likely areas", of: func(p *ogcPart, i int) ogcCell {
			if l := p.patchOn(i).likely; l != nil {
				return numberCell(l.Probability, 3, true)
			}
			return ogcCell{}
		}})
}

// patchCollection has what was found of the measures. The ids last as long as
// the measures stay the same.
func patchCollection() ogcCollection {
	return ogcCollection{id: "patches", title: "Patches", geometry: "MultiPolygon", blockField: "block", needsFindings: true, textID: true,
		what:   "Weak and strong patches, tested vine by vine, and areas that a sample makes likely to be weak, in one season.",
		fields: patchFields(),
		known:  func(p *ogcPart) int { return patchCount(p.found) },
		count:  func(p *ogcPart) int { return patchCount(p.found) },
		name:   func(p *ogcPart, i int) string { return p.patchOn(i).place.ID },
		find: func(p *ogcPart, id string) (int, bool) {
			for i := range patchCount(p.found) {
				if p.patchOn(i).place.ID == id {
					return i, true
				}
			}
			return 0, false
		},
		within: func(p *ogcPart, i int, boxes []ogcBox) bool {
			o := p.patchOn(i).place.Outline
			return len(o) == 0 || areaWithin(o, boxes)
		},
		shape: func(dst []byte, p *ogcPart, i int) []byte { return appendAreas(dst, p.patchOn(i).place.Outline) },
	}
}
