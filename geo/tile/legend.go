package tile

import (
	"slices"

	"courson/geo/vine"
)

// Theme is what a picture shows.
type Theme string

// The themes.
const (
	ThemeCondition Theme = "condition"
	ThemeVigour    Theme = "vigour"
	ThemeProgress  Theme = "progress"
	ThemeDoubt     Theme = "doubt"      // how unsure the vigour is
	ThemeChange    Theme = "change"     // since an earlier season
	ThemePatches   Theme = "patches"    // weak and strong areas
	ThemeLoad      Theme = "load"       // nodes that the plan leaves
	ThemeFollowUps Theme = "follow-ups" // jobs at shoot thinning
	ThemeZones     Theme = "zones"      // of the version that is in use
	ThemeReplants  Theme = "replants"   // kinds of gap, and steps of their replacement
)

// Themes gives all of them.
func Themes() []Theme {
	return []Theme{ThemeCondition, ThemeVigour, ThemeProgress, ThemeDoubt, ThemeChange, ThemePatches, ThemeLoad, ThemeFollowUps, ThemeReplants, ThemeZones}
}

// Valid tells whether there is such a theme.
func (t Theme) Valid() bool {
	return slices.Contains(Themes(), t)
}

// Legend says how a theme is drawn: the one source for pictures, pages and
// printed keys.
type Legend struct {
	Title   string  `json:"title"`
	Unit    string  `json:"unit"`
	Classes []Class `json:"classes"`
}

// Class is one entry of a legend.
type Class struct {
	Key   string `json:"key"`
	Label string `json:"label"`
	Code  uint8  `json:"code"` // byte in the stand column
	// Colours on the light and the dark ground, #rrggbb.
	Light string `json:"light"`
	Dark  string `json:"dark"`
	// Symbol names the mark of a vine. Within a theme, classes whose colours
	// some eyes cannot tell apart have different symbols.
	Symbol Symbol `json:"symbol"`
	// Line is how a piece of row is drawn: solid, dashed, dotted, dashdot.
	Line string `json:"line"`
	// From and To bound the class, from inclusive; nil where it is open.
	From *float64 `json:"from,omitempty"`
	To   *float64 `json:"to,omitempty"`
}

// Symbol is the mark of a vine.
type Symbol string

// The symbols. Glyphs (cross, square, up, down, check) are drawn in ink with a
// halo and keep a readable size.
const (
	SymbolDisc    Symbol = "disc"
	SymbolRing    Symbol = "ring"    // hollow: no data, not started
	SymbolHalf    Symbol = "half"    // half filled
	SymbolTick    Symbol = "tick"    // disc with a tick
	SymbolPlus    Symbol = "plus"    // disc with a plus
	SymbolBar     Symbol = "bar"     // disc with a bar
	SymbolDiamond Symbol = "diamond" // filled diamond with an exclamation mark
	SymbolCheck   Symbol = "check"   // empty diamond with an exclamation mark
	SymbolCross   Symbol = "cross"   // ×
	SymbolSquare  Symbol = "square"  // square with a stroke through it
	SymbolUp      Symbol = "up"      // triangle
	SymbolDown    Symbol = "down"    // triangle, point down
)

// The grounds the map is drawn on, and the ink for casings on each.
const (
	GroundLight = "#f4f1e8"
	GroundDark  = "#171b19"
	InkLight    = "#1a1f1c"
	InkDark     = "#f2f0ea"
	// GlyphInk in GlyphHalo stands out from any colour: one of the two edges
	// always has a contrast of at least √21 (WCAG 2.2, contrast ratio).
	GlyphInk  = "#111111"
	GlyphHalo = "#ffffff"
)

// grey is for what nobody has looked at or measured.
const (
	greyLight = "#737b86"
	greyDark  = "#8f98a3"
)

// ConditionLegend gives the classes of vine.Condition. Bearing, the common
// case, is calm; what asks for attention has a glyph of its own, so that
// colour never carries the meaning alone.
func ConditionLegend() Legend {
	class := func(c vine.Condition, label, light, dark string, s Symbol, line string) Class {
		return Class{Key: c.String(), Label: label, Code: uint8(c), Light: light, Dark: dark, Symbol: s, Line: line}
	}
	return Legend{Title: "Condition", Classes: []Class{
		class(vine.Unseen, "Not yet seen", greyLight, greyDark, SymbolRing, "dotted"),
		class(vine.Bearing, "Bearing", "#95b661", "#3faf9a", SymbolDisc, "solid"),
		class(vine.Young, "Young", "#036063", "#a4d391", SymbolPlus, "solid"),
		class(vine.Weak, "Weak", "#f0a202", "#ffbe4d", SymbolDown, "solid"),
		class(vine.Diseased, "Diseased", "#b5264f", "#ff8aa0", SymbolBar, "solid"),
		class(vine.Dead, "Dead", "#853901", "#be6517", SymbolSquare, "dashed"),
		class(vine.Missing, "Missing", GlyphInk, InkDark, SymbolCross, "dotted"),
		class(vine.Replanted, "Replanted", "#3c7ebe", "#4aa3ff", SymbolUp, "solid"),
		class(vine.Doubtful, "Doubtful, look again", "#6d448d", "#c09cce", SymbolCheck, "dashdot"),
	}}
}

// VigourLegend gives the five classes of vigour from weakest to strongest, and
// the vines that were not measured. limits are the four borders between
// classes, kg of prunings per metre of row; without them the classes carry no
// numbers.
func VigourLegend(limits []float64) Legend {
	l := Legend{Title: "Vigour", Unit: "kg/m", Classes: []Class{{
		Key: "none", Label: "Not measured", Light: greyLight, Dark: greyDark, Symbol: SymbolRing, Line: "dotted",
	}}}
	labels := [5]string{"Very weak", "Weak", "Middling", "Strong", "Very strong"}
	keys := [5]string{"very_weak", "weak", "middling", "strong", "very_strong"}
	light := [5]string{"#f7d26a", "#95b661", "#33906a", "#036063", "#013249"}
	dark := [5]string{"#2a4a88", "#067f9a", "#3faf9a", "#a4d391", "#ffefb3"}
	for i := range labels {
		c := Class{Key: keys[i], Label: labels[i], Code: uint8(i + 1), Light: light[i], Dark: dark[i], Symbol: SymbolDisc, Line: "solid"}
		if len(limits) == 4 {
			if i > 0 {
				c.From = &[]float64{limits[i-1]}[0]
			}
			if i < 4 {
				c.To = &[]float64{limits[i]}[0]
			}
		}
		l.Classes = append(l.Classes, c)
	}
	return l
}

// ProgressLegend gives the states of pruning.
func ProgressLegend() Legend {
	class := func(p vine.Progress, label, light, dark string, s Symbol, line string) Class {
		return Class{Key: p.String(), Label: label, Code: uint8(p), Light: light, Dark: dark, Symbol: s, Line: line}
	}
	return Legend{Title: "Pruning", Classes: []Class{
		class(vine.NotStarted, "Not started", greyLight, greyDark, SymbolRing, "dotted"),
		class(vine.Started, "Started", "#f0a202", "#ffbe4d", SymbolHalf, "dashed"),
		class(vine.Done, "Done", "#0a3f73", "#4aa3ff", SymbolTick, "solid"),
		class(vine.ToRedo, "To be redone", "#b5264f", "#ff8aa0", SymbolDiamond, "dashdot"),
		class(vine.Skipped, "Skipped", greyLight, greyDark, SymbolBar, "dashed"),
	}}
}

// Legends gives the legend of every theme. limits are those of VigourLegend.
func Legends(limits []float64) map[Theme]Legend {
	return map[Theme]Legend{
		ThemeCondition: ConditionLegend(),
		ThemeVigour:    VigourLegend(limits),
		ThemeProgress:  ProgressLegend(),
		ThemeDoubt:     DoubtLegend(),
		ThemeChange:    ChangeLegend(),
		ThemePatches:   PatchLegend(),
		ThemeLoad:      LoadLegend(),
		ThemeFollowUps: FollowLegend(),
		ThemeZones:     ZoneLegend(),
		ThemeReplants:  ReplantLegend(),
	}
}
