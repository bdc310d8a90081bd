package tile

import (
	"courson/geo/stand"
	"courson/geo/vine"
)

// LoadLegend gives the nodes that the pruning plan leaves on a vine, from a vine
// that is cut back to one that carries much.
func LoadLegend() Legend {
	l := Legend{Title: "Load", Unit: "nodes", Classes: []Class{
		{Key: "none", Label: "No plan", Light: greyLight, Dark: greyDark, Symbol: SymbolRing, Line: "dotted"},
		{Key: "least", Label: "Cut back, or two spurs", Code: 1, Light: "#b5264f", Dark: "#ff8aa0", Symbol: SymbolDown, Line: "dashdot"},
		{Key: "small", Label: "Small", Code: 2, Light: "#f0a202", Dark: "#ffbe4d", Symbol: SymbolBar, Line: "dashed"},
		{Key: "light", Label: "Light", Code: 3, Light: "#f7d26a", Dark: "#2a4a88", Symbol: SymbolDisc, Line: "solid"},
		{Key: "medium", Label: "Medium", Code: 4, Light: "#33906a", Dark: "#3faf9a", Symbol: SymbolDisc, Line: "solid"},
		{Key: "full", Label: "Full", Code: 5, Light: "#036063", Dark: "#a4d391", Symbol: SymbolDisc, Line: "solid"},
		{Key: "heavy", Label: "Heavy", Code: 6, Light: "#013249", Dark: "#ffefb3", Symbol: SymbolUp, Line: "solid"},
	}}
	limits := stand.LoadLimits()
	at := make([]float64, len(limits))
	for i, n := range limits {
		at[i] = float64(n)
	}
	bounded(l.Classes[1:], at)
	return l
}

// FollowLegend gives the jobs at shoot thinning that the wood left asks for.
func FollowLegend() Legend {
	class := func(f vine.FollowUp, key, label, light, dark string, s Symbol, line string) Class {
		return Class{Key: key, Label: label, Code: uint8(f), Light: light, Dark: dark, Symbol: s, Line: line}
	}
	return Legend{Title: "At shoot thinning", Classes: []Class{
		class(vine.FollowNone, "none", "Nothing special", "#b9b5a4", "#d9d5c6", SymbolDisc, "solid"),
		class(vine.FollowRubOff, "rub_off", "Rub off: keep the second and third shoot", "#f0a202", "#ffbe4d", SymbolDown, "dashed"),
		class(vine.FollowBothPush, "both_push", "See that node and base bud pushed", "#6d448d", "#c09cce", SymbolDiamond, "dashdot"),
		class(vine.FollowDone, "done", "Done", "#0a3f73", "#4aa3ff", SymbolTick, "solid"),
	}}
}
