package tile

import "courson/geo/stand"

// FarOff tells whether a zoom shows blocks as wholes only, neither rows nor
// vines, in vector tiles and pictures.
func FarOff(z uint8) bool { return !Layers(z).Rows }

// Far gives the view as it shows where FarOff holds: outline, names and totals,
// without a vine, in a few hundred bytes, and the ground of its zones. A block without an outline shows where
// its vines are and has no such view.
func (v BlockView) Far() (far BlockView, ok bool) {
	if v.sums == nil || v.Outline.Empty() {
		return BlockView{}, false
	}
	g := &stand.Ground{Block: v.Stand.Ground.Block, Code: v.Stand.Ground.Code, Revision: v.Stand.Ground.Revision}
	far = BlockView{Outline: v.Outline, Name: v.Name, Variety: v.Variety, sums: &sums{block: v.sums.block}}
	far.areas.Zones = v.areas.Zones
	far.Stand = &stand.Stand{Ground: g, Season: v.Stand.Season, Revision: v.Stand.Revision}
	far.Index = &Index{ground: g}
	return far, true
}
