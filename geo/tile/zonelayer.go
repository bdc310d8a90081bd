package tile

// ZoneArea is the ground of one zone for rates, ready to be drawn.
type ZoneArea struct {
	ID       string
	Zone     int // 1 the weakest
	Season   int
	Vines    int
	Hectares float64
	// Material, Rate and Unit are what is planned; Material is empty where the
	// version has zones alone.
	Material string
	Rate     float64
	Unit     string
	Outline  *Outline
}

// Areas are what lies over a block beside its rows and vines.
type Areas struct {
	Patches []Patch
	Zones   []ZoneArea
}

// zones writes the ground of zones that meet the tile.
func (w *workshop) zones(blocks []BlockView) {
	l := &w.layer
	l.reset(LayerZones, "id", "block", "zone", "season", "vines", "hectares", "material", "rate", "unit")
	for i := range blocks {
		v := &blocks[i]
		for j := range v.areas.Zones {
			z := &v.areas.Zones[j]
			if !w.drawn(z.Outline) {
				continue
			}
			l.tag(0, l.text(z.ID))
			l.tag(1, l.text(v.Stand.Ground.Code))
			l.tag(2, l.number(uint64(z.Zone)))
			l.tag(3, l.number(uint64(z.Season)))
			l.tag(4, l.number(uint64(z.Vines)))
			l.tag(5, l.fraction(z.Hectares))
			if z.Material != "" {
				l.tag(6, l.text(z.Material))
				l.tag(7, l.fraction(z.Rate))
				l.tag(8, l.text(z.Unit))
			}
			l.feature(0, polygonShape)
		}
	}
}
