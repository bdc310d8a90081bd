package tile

import (
	"fmt"

	"courson/geo/stand"
)

// MostZones is how many zones the legend has.
const MostZones = stand.MostZones

// ZoneLegend gives the zones of a block, 1 the weakest. Each has a symbol of its
// own: a rate is told by the number of its zone, not by a colour alone.
func ZoneLegend() Legend {
	l := Legend{Title: "Zones", Classes: []Class{{Key: "none", Label: "No zone kept", Light: greyLight, Dark: greyDark, Symbol: SymbolRing, Line: "dotted"}}}
	light := [MostZones]string{"#f7d26a", "#95b661", "#036063", "#3c7ebe", "#6d448d", "#b5264f"}
	dark := [MostZones]string{"#ffefb3", "#a4d391", "#067f9a", "#4aa3ff", "#c09cce", "#ff8aa0"}
	symbol := [MostZones]Symbol{SymbolDisc, SymbolBar, SymbolPlus, SymbolHalf, SymbolTick, SymbolDiamond}
	line := [MostZones]string{"solid", "dashed", "solid", "dashdot", "solid", "dotted"}
	for k := range light {
		label := fmt.Sprintf("Zone %d", k+1)
		if k == 0 {
			label += ", the weakest"
		}
		l.Classes = append(l.Classes, Class{Key: fmt.Sprintf("zone_%d", k+1), Label: label, Code: uint8(k + 1), Light: light[k], Dark: dark[k], Symbol: symbol[k], Line: line[k]})
	}
	return l
}
