package server

import (
	"strconv"

	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
)

// Words for where a class of vigour is from. Only the first is a measure.
const (
	basisMeasured   = "measured"
	basisCalibrated = "calibrated"
	basisEstimated  = "estimated"
	basisScored     = "score"
)

// The numbers of stand.Found.Basis.
const (
	foundMeasured   = 1
	foundCalibrated = 2
	foundEstimated  = 3
)

func conditionNames() (words []string) {
	for c := vine.Unseen; c <= vine.Doubtful; c++ {
		words = append(words, c.String())
	}
	return words
}

func progressNames() (words []string) {
	for p := vine.NotStarted; p <= vine.Skipped; p++ {
		words = append(words, p.String())
	}
	return words
}

// keysOf gives the keys of a legend but the first, which says that there is
// nothing.
func keysOf(l tile.Legend) (words []string) {
	for _, c := range l.Classes[1:] {
		words = append(words, c.Key)
	}
	return words
}

func followNames() []string { return []string{"rub_off", "both_push", "done"} }

// wordCell is the n-th word, none for 0.
func wordCell(words []string, n int) ogcCell {
	if n < 1 || n > len(words) {
		return ogcCell{}
	}
	return textCell(words[n-1])
}

// vigourJudged is a vine's vigour and where it is from.
type vigourJudged struct {
	class  uint8
	basis  string
	kgPerM float32 // -1 none
	se     float32 // standard error; -1 none
}

// vigourOn tells the vigour of vine i. What was found counts as long as the vine's
// own measures are still those that it was found from; a vine measured since shows
// its measure.
func (p *ogcPart) vigourOn(i int) vigourJudged {
	s := p.view.Stand
	v := vigourJudged{class: s.Vigour[i], kgPerM: -1, se: -1}
	if f := p.found; f != nil && s.BasisOf(i) != 0 && f.Stand.WeightG[i] == s.WeightG[i] && f.Stand.Score[i] == s.Score[i] {
		v.kgPerM, v.se = f.Vigour.KgPerM[i], f.Vigour.SE[i]
		v.basis = [...]string{foundMeasured: basisMeasured, foundCalibrated: basisCalibrated, foundEstimated: basisEstimated}[s.BasisOf(i)]
		return v
	}
	if !s.Condition[i].Living() {
		return v
	}
	if g, ok := s.WeightPerMetre(i); ok {
		v.basis, v.kgPerM = basisMeasured, float32(g/1000)
		return v
	}
	if s.Score[i] >= 0 {
		v.basis = basisScored
	}
	return v
}

func byteCell(b uint8, none uint8) ogcCell { return wholeCell(int(b), b != none) }

func flagCell(p *ogcPart, i int, f stand.Flags) ogcCell {
	return yesNoCell(p.view.Stand.Flags[i]&f != 0)
}

// blockFields are said of a feature by the block it lies in.
func blockFields() []ogcField {
	return []ogcField{
		{name: "block", what: "Code of the block", of: func(p *ogcPart, _ int) ogcCell { return textCell(p.head.Code) }},
		{name: "season", kind: ogcWhole, what: "Harvest year that the winter's pruning prepares", of: func(p *ogcPart, _ int) ogcCell { return wholeCell(p.season, true) }},
		{name: "variety", what: "Variety of the block", of: func(p *ogcPart, _ int) ogcCell { return textCell(p.head.Variety) }},
	}
}

func vineFields() []ogcField {
	conditions, progress := conditionNames(), progressNames()
	patches, change, follow := keysOf(tile.PatchLegend()), keysOf(tile.ChangeLegend()), followNames()
	num := func(name, what string, of func(*ogcPart, int) ogcCell) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: of}
	}
	whole := func(name, what string, of func(*ogcPart, int) ogcCell) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: of}
	}
	word := func(name, what string, words []string, of func(*ogcPart, int) ogcCell) ogcField {
		return ogcField{name: name, what: what, words: words, of: of}
	}
	flag := func(name, what string, f stand.Flags) ogcField {
		return ogcField{name: name, kind: ogcYesNo, what: what, of: func(p *ogcPart, i int) ogcCell { return flagCell(p, i, f) }}
	}
	return append(blockFields(), []ogcField{
		word("row", "Label of the row", nil, func(p *ogcPart, i int) ogcCell { return textCell(p.view.Stand.Ground.Address(i).Row) }),
		whole("number", "Number in the row, 1 at the numbering end", func(p *ogcPart, i int) ogcCell { return wholeCell(int(p.view.Stand.Ground.Number[i]), true) }),
		word("address", "block/row/number", nil, func(p *ogcPart, i int) ogcCell { return textCell(p.view.Stand.Ground.Address(i).String()) }),
		word("condition", "As last seen", conditions, func(p *ogcPart, i int) ogcCell {
			return textCell(conditions[min(int(p.view.Stand.Condition[i]), len(conditions)-1)])
		}),
		whole("leaf", "Which growing season of its life the plant is in", func(p *ogcPart, i int) ogcCell { return byteCell(p.view.Stand.Leaf[i], 0) }),
		whole("vigour", "Class of vigour, 1 weakest to 5; see vigour_basis", func(p *ogcPart, i int) ogcCell { return byteCell(p.vigourOn(i).class, 0) }),
		word("vigour_basis", "Where the vigour is from: measured = weighed; calibrated from another measure of this vine; estimated from vines around it; score = the class of its score, no weight",
			[]string{basisMeasured, basisCalibrated, basisEstimated, basisScored}, func(p *ogcPart, i int) ogcCell { return textCell(p.vigourOn(i).basis) }),
		num("vigour_kg_per_m", "Prunings per metre of row, kg/m; see vigour_basis", func(p *ogcPart, i int) ogcCell { return columnCell(p.vigourOn(i).kgPerM, 4) }),
		num("vigour_se_kg_per_m", "Standard error of vigour_kg_per_m, kg/m", func(p *ogcPart, i int) ogcCell { return columnCell(p.vigourOn(i).se, 4) }),
		num("pruning_weight_g", "Pruning weight of the vine as weighed, g", func(p *ogcPart, i int) ogcCell { return columnCell(p.view.Stand.WeightG[i], 2) }),
		num("visual_score", "Score given by eye, on the estate's scale", func(p *ogcPart, i int) ogcCell { return columnCell(p.view.Stand.Score[i], 3) }),
		num("yield_g", "Fruit of the vine as weighed, g", func(p *ogcPart, i int) ogcCell { return columnCell(p.view.Stand.YieldG[i], 2) }),
		word("patch", "How it stands in its surroundings: plain = judged, nothing found; weak and strong are tested, likely is what a sample makes probable", patches,
			func(p *ogcPart, i int) ogcCell { return wordCell(patches, int(p.view.Stand.PatchOf(i))) }),
		word("change", "Change of vigour since the season it is compared with", change, func(p *ogcPart, i int) ogcCell { return wordCell(change, int(p.view.Stand.ChangeOf(i))) }),
		word("progress", "Of pruning", progress, func(p *ogcPart, i int) ogcCell {
			return textCell(progress[min(int(p.view.Stand.Progress[i]), len(progress)-1)])
		}),
		whole("nodes_planned", "Nodes that the pruning plan gives", func(p *ogcPart, i int) ogcCell { return byteCell(p.view.Stand.Nodes[i], stand.None) }),
		whole("nodes_left", "Nodes that the pruner left", func(p *ogcPart, i int) ogcCell { return byteCell(p.view.Stand.Left[i], stand.None) }),
		word("follow_up", "Job at shoot thinning", follow, func(p *ogcPart, i int) ogcCell { return wordCell(follow, int(p.view.Stand.FollowOf(i))) }),
		flag("clash", "Devices disagree about it", stand.FlagClash),
		flag("note", "Has a note this season", stand.FlagNote),
		flag("look_again", "To be looked at again", stand.FlagLookAgain),
	}...)
}

// vineCollection has every position, also those without a plant.
func vineCollection() ogcCollection {
	return ogcCollection{id: "vines", title: "Vines", geometry: "Point", blockField: "block", needsView: true, inBounds: true,
		what:   "Every vine position, a point, with what is known of it in one season. Positions without a living vine are missing or dead.",
		fields: vineFields(),
		known:  func(p *ogcPart) int { return p.totals.Vines },
		count:  func(p *ogcPart) int { return p.view.Stand.Ground.Len() },
		name:   func(p *ogcPart, i int) string { return strconv.FormatInt(p.view.Stand.Ground.ID[i], 10) },
		find: func(p *ogcPart, id string) (int, bool) {
			n, err := strconv.ParseInt(id, 10, 64)
			if err != nil {
				return 0, false
			}
			return p.view.Find(n)
		},
		within: func(p *ogcPart, i int, boxes []ogcBox) bool { return p.placeOf().within(i, boxes) },
		shape: func(dst []byte, p *ogcPart, i int) []byte {
			return appendShape(dst, "Point", func(dst []byte) []byte { return appendPosition(dst, p.placeOf().point(i)) })
		},
	}
}

func (p *ogcPart) placeOf() *ogcPlace {
	if p.place == nil {
		p.place = newOGCPlace(p.view.Stand.Ground)
	}
	return p.place
}
