package tile

// Layer names.
const (
	LayerBlocks      = "blocks"
	LayerBlockLabels = "block_labels"
	LayerRows        = "rows"
	LayerRowLabels   = "row_labels"
	LayerVines       = "vines"
	LayerPatches     = "patches"
	LayerZones       = "zones"
)

// marginUnits is how far lines and areas reach beyond their tile, in units of
// the extent: 4 pixels of a 256-pixel tile. Points, which clients do not clip,
// have no margin: each is in exactly one tile of a zoom.
const marginUnits = 64

// Show says what a zoom shows.
type Show struct {
	Blocks    bool // outlines and label points, with totals
	Rows      bool // pieces of row
	FineRows  bool // pieces of about 20 vines instead of about 100
	RowLabels bool // both ends of each row
	Vines     bool // points
	Patches   bool // outlines of weak, strong and likely weak areas
	Zones     bool // ground of the zones for rates
	EachVine  bool // one feature per vine, with id and number; else those of a row that look alike share one
}

// Layers is the one table of what shows at which zoom. Rows come in long
// pieces at first: at zoom 14 a tile may hold a million vines, and twenty of
// them are six pixels long.
func Layers(z uint8) Show {
	return Show{
		Blocks:    true,
		Rows:      z >= 13,
		Patches:   z >= 13,
		Zones:     z >= 11, // a block of two hectares is six pixels wide
		FineRows:  z >= 15,
		RowLabels: z >= 16,
		Vines:     z >= 16,
		EachVine:  z >= 17,
	}
}

// firstZoom gives the lowest zoom at which a layer shows.
func firstZoom(shows func(Show) bool) int {
	for z := range MaxZoom {
		if shows(Layers(uint8(z))) {
			return z
		}
	}
	return MaxZoom
}
