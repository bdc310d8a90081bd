package tile

// Patch is an area of weak, strong or likely weak vines, ready to be drawn.
type Patch struct {
	ID           string
	Kind         string // weak, strong, likely
	Vines        int
	Hectares     float64
	ShortfallPct float64 // of what was expected; 0 for likely areas
	Outline      *Outline
}

// patches writes the outlines of patches that meet the tile.
func (w *workshop) patches(blocks []BlockView) {
	l := &w.layer
	l.reset(LayerPatches, "id", "block", "kind", "vines", "hectares", "shortfall_pct")
	for i := range blocks {
		v := &blocks[i]
		for j := range v.areas.Patches {
			p := &v.areas.Patches[j]
			if !w.drawn(p.Outline) {
				continue
			}
			l.tag(0, l.text(p.ID))
			l.tag(1, l.text(v.Stand.Ground.Code))
			l.tag(2, l.text(p.Kind))
			l.tag(3, l.number(uint64(p.Vines)))
			l.tag(4, l.fraction(p.Hectares))
			l.tag(5, l.fraction(p.ShortfallPct))
			l.feature(0, polygonShape)
		}
	}
}

// drawn makes an outline the shape at hand; false where nothing of it is in the tile.
func (w *workshop) drawn(o *Outline) bool {
	if !o.touches(w.tile) {
		return false
	}
	w.startShape()
	w.outline(o)
	w.endShape()
	return len(w.layer.geom) > 0
}
