package tile

import "courson/geo/stand"

// Limits of the findings' classes, each class from its limit up.
var (
	doubtLimits  = [3]float64{0.05, 0.10, 0.20}
	changeLimits = [4]float64{-30, -10, 10, 30}
)

// DoubtClass is how unsure a vigour with this standard error (kg/m) is, 1 to 4.
// The borders are chosen by us: a class of vigour is 0.15 kg/m wide and wider,
// so that up to 0.05 a vine is hardly ever off by more than one.
func DoubtClass(seKgPerM float64) uint8 {
	class := uint8(1)
	for _, l := range doubtLimits {
		if seKgPerM >= l {
			class++
		}
	}
	return class
}

// ChangeClass is the class 1 (lost much) to 5 (gained much) of a change in per
// cent of the earlier season, or in ranks of a hundred. Borders chosen by us.
func ChangeClass(percent float64) uint8 {
	class := uint8(1)
	for _, l := range changeLimits {
		if percent >= l {
			class++
		}
	}
	return class
}

// bounded sets the borders of classes 1 and up.
func bounded(classes []Class, limits []float64) {
	for i := range classes {
		if i > 0 {
			classes[i].From = &limits[i-1]
		}
		if i < len(limits) {
			classes[i].To = &limits[i]
		}
	}
}

// DoubtLegend gives how unsure the vigour of a vine is: its standard error.
func DoubtLegend() Legend {
	l := Legend{Title: "How sure the vigour is", Unit: "kg/m", Classes: []Class{
		{Key: "none", Label: "No value", Light: greyLight, Dark: greyDark, Symbol: SymbolRing, Line: "dotted"},
		{Key: "sure", Label: "Sure", Code: 1, Light: "#0a3f73", Dark: "#4aa3ff", Symbol: SymbolTick, Line: "solid"},
		{Key: "fair", Label: "Fairly sure", Code: 2, Light: "#3c7ebe", Dark: "#a9c8ee", Symbol: SymbolDisc, Line: "solid"},
		{Key: "rough", Label: "Rough", Code: 3, Light: "#f0a202", Dark: "#ffbe4d", Symbol: SymbolHalf, Line: "dashed"},
		{Key: "unsure", Label: "Not known well", Code: 4, Light: "#b5264f", Dark: "#ff8aa0", Symbol: SymbolDiamond, Line: "dashdot"},
	}}
	bounded(l.Classes[1:], doubtLimits[:])
	return l
}

// ChangeLegend gives how a vine changed since an earlier season.
func ChangeLegend() Legend {
	l := Legend{Title: "Change since the earlier season", Unit: "%", Classes: []Class{
		{Key: "none", Label: "Not compared", Light: greyLight, Dark: greyDark, Symbol: SymbolRing, Line: "dotted"},
		{Key: "lost_much", Label: "Lost much", Code: 1, Light: "#853901", Dark: "#ff8f57", Symbol: SymbolDown, Line: "dashdot"},
		{Key: "lost", Label: "Lost", Code: 2, Light: "#f0a202", Dark: "#ffce85", Symbol: SymbolBar, Line: "dashed"},
		{Key: "same", Label: "About the same", Code: 3, Light: "#b9b5a4", Dark: "#d9d5c6", Symbol: SymbolDisc, Line: "solid"},
		{Key: "gained", Label: "Gained", Code: 4, Light: "#3c7ebe", Dark: "#4aa3ff", Symbol: SymbolPlus, Line: "solid"},
		{Key: "gained_much", Label: "Gained much", Code: 5, Light: "#0a3f73", Dark: "#8fb8ff", Symbol: SymbolUp, Line: "solid"},
	}}
	bounded(l.Classes[1:], changeLimits[:])
	return l
}

// PatchLegend gives how a vine stands in its surroundings. What a sample makes
// likely is told apart from what was tested vine by vine.
func PatchLegend() Legend {
	class := func(p stand.Patchy, key, label, light, dark string, s Symbol, line string) Class {
		return Class{Key: key, Label: label, Code: uint8(p), Light: light, Dark: dark, Symbol: s, Line: line}
	}
	return Legend{Title: "Patches", Classes: []Class{
		class(stand.PatchNone, "none", "Not judged", greyLight, greyDark, SymbolRing, "dotted"),
		class(stand.PatchPlain, "plain", "Like the block", "#b9b5a4", "#d9d5c6", SymbolDisc, "solid"),
		class(stand.PatchWeak, "weak", "Weak patch (tested)", "#b5264f", "#ff8aa0", SymbolDown, "dashed"),
		class(stand.PatchStrong, "strong", "Strong patch (tested)", "#036063", "#a4d391", SymbolUp, "solid"),
		class(stand.PatchLikely, "likely", "Likely weak (from a sample)", "#f0a202", "#ffbe4d", SymbolHalf, "dashdot"),
	}}
}
