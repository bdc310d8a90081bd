package tile

import "courson/geo/stand"

// ReplantLegend gives the kinds of gap and the steps of their replacement. Places
// with a living vine are quiet; each of the others has a symbol of its own within
// its group of colours: gaps dark, steps from orange by blue to what came of them.
func ReplantLegend() Legend {
	class := func(r stand.Replanting, key, label, light, dark string, s Symbol, line string) Class {
		return Class{Key: key, Label: label, Code: uint8(r), Light: light, Dark: dark, Symbol: s, Line: line}
	}
	return Legend{Title: "Replants", Classes: []Class{
		class(stand.ReplantNone, "none", "No gap known", "#b9b5a4", "#d9d5c6", SymbolDisc, "solid"),
		class(stand.ReplantSuspected, "suspected", "Suspected gap", "#c09cce", "#c09cce", SymbolHalf, "dashdot"),
		class(stand.ReplantDoubtful, "doubtful", "Doubtful, look again", "#6d448d", "#8f63b0", SymbolCheck, "dashdot"),
		class(stand.ReplantDead, "dead", "Dead standing", "#853901", "#be6517", SymbolSquare, "dashed"),
		class(stand.ReplantAboveGraft, "above_graft", "Dead above the graft", "#be6517", "#853901", SymbolDiamond, "dashed"),
		class(stand.ReplantMissing, "missing", "Missing", GlyphInk, InkDark, SymbolCross, "dotted"),
		class(stand.ReplantToReplace, "to_replace", "To replace", "#f0a202", "#ffbe4d", SymbolDown, "dashdot"),
		class(stand.ReplantOrdered, "ordered", "Ordered", "#f7d26a", "#ffefb3", SymbolBar, "dashed"),
		class(stand.ReplantHoleDug, "hole_dug", "Hole dug", "#3c7ebe", "#4aa3ff", SymbolRing, "dotted"),
		class(stand.ReplantPlanted, "planted", "Planted", "#0a3f73", "#8fb8ff", SymbolUp, "solid"),
		class(stand.ReplantTook, "took", "Took", "#036063", "#a4d391", SymbolTick, "solid"),
		class(stand.ReplantFailed, "failed", "Failed", "#b5264f", "#ff8aa0", SymbolPlus, "dashdot"),
	}}
}
