package server

import (
	"context"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/rate"
	"courson/geo/vine"
	"courson/server/work"
)

// zonesInUse gives the versions of a season by block, where a collection shows
// them.
func (s *Server) zonesInUse(ctx context.Context, c *ogcCollection, season int) (map[vine.ID]*work.KeptZones, error) {
	if !c.needsZones {
		return nil, nil
	}
	return work.AllZonesInUse(ctx, s.cfg.Store, season)
}

// zoneOn gives zone i of a part, with its rate; nil where there are none.
func (p *ogcPart) zoneOn(i int) (rate.Zone, *rate.ZoneRate) {
	v := &p.zones.View
	if v.Rates == nil {
		return v.Zones[i], nil
	}
	return v.Zones[i], &v.Rates.Zones[i]
}

func zoneCount(p *ogcPart) int {
	if p.zones == nil {
		return 0
	}
	return len(p.zones.View.Zones)
}

// zoneOutline gives the ground of zone i as it was when it was kept.
func (p *ogcPart) zoneOutline(i int) orb.MultiPolygon {
	mp, _ := p.zones.View.Ground.Features[i].Geometry.(orb.MultiPolygon)
	return mp
}

func zoneFields() []ogcField {
	whole := func(name, what string, of func(rate.Zone) int) ogcField {
		return ogcField{name: name, kind: ogcWhole, what: what, of: func(p *ogcPart, i int) ogcCell {
			z, _ := p.zoneOn(i)
			return wholeCell(of(z), true)
		}}
	}
	number := func(name, what string, decimals int, of func(rate.Zone) float64) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: func(p *ogcPart, i int) ogcCell {
			z, _ := p.zoneOn(i)
			return numberCell(of(z), decimals, of(z) >= 0)
		}}
	}
	rated := func(name, what string, of func(*rate.ZoneRate) float64) ogcField {
		return ogcField{name: name, kind: ogcNumber, what: what, of: func(p *ogcPart, i int) ogcCell {
			if _, q := p.zoneOn(i); q != nil {
				return numberCell(of(q), 4, true)
			}
			return ogcCell{}
		}}
	}
	text := func(name, what string, of func(*work.RatesView) string) ogcField {
		return ogcField{name: name, what: what, of: func(p *ogcPart, _ int) ogcCell {
			if r := p.zones.View.Rates; r != nil {
				return textCell(of(r))
			}
			return ogcCell{}
		}}
	}
	kept := func(name, what string, of func(*work.KeptZones) string) ogcField {
		return ogcField{name: name, what: what, of: func(p *ogcPart, _ int) ogcCell { return textCell(of(p.zones)) }}
	}
	return append(blockFields(),
		whole("zone", "Number of the zone, 1 the weakest", func(z rate.Zone) int { return z.Number }),
		whole("vines", "Vine positions", func(z rate.Zone) int { return z.Vines }),
		whole("living", "Living vines", func(z rate.Zone) int { return z.Living }),
		whole("gaps", "Positions where the vine is dead or missing", func(z rate.Zone) int { return z.Gaps }),
		number("hectares", "Area, ha", 4, func(z rate.Zone) float64 { return z.Hectares() }),
		number("row_m", "Row, m", 1, func(z rate.Zone) float64 { return z.RowM }),
		whole("parts", "Connected parts", func(z rate.Zone) int { return z.Parts }),
		number("sure", "Mean of how sure it is that its vines belong to it, 0 to 1", 3, func(z rate.Zone) float64 { return z.Sure }),
		text("material", "What is spread; null: zones alone", func(r *work.RatesView) string { return r.Material }),
		text("aim", "What the rates are for", func(r *work.RatesView) string { return r.Aim }),
		rated("rate", "Planned rate", func(q *rate.ZoneRate) float64 { return q.Rate }),
		text("unit", "Unit of the rate", func(r *work.RatesView) string { return string(r.Unit) }),
		rated("quantity", "What the zone takes", func(q *rate.ZoneRate) float64 { return q.Quantity }),
		text("quantity_unit", "Unit of the quantity", func(r *work.RatesView) string { return r.Measure }),
		kept("kept_by", "Who kept the version", func(k *work.KeptZones) string { return k.By }),
		kept("kept_at", "When it was kept, UTC", func(k *work.KeptZones) string { return k.Made.UTC().Format(time.RFC3339) }),
		text("cautions", "What holds for every rate", func(r *work.RatesView) string { return strings.Join(r.Cautions, " ") }))
}

// zonesCollection has the zones of the version that was kept last, of each block
// and season.
func zonesCollection() ogcCollection {
	name := func(p *ogcPart, i int) string { return work.ZoneID(p.head.Code, p.season, i) }
	return ogcCollection{id: "zones", title: "Zones", geometry: "MultiPolygon", blockField: "block", needsZones: true, textID: true,
		what:   "Zones for rates, of the version that was kept last for each block in one season; planning figures, see cautions.",
		fields: zoneFields(),
		known:  zoneCount,
		count:  zoneCount,
		name:   name,
		find: func(p *ogcPart, id string) (int, bool) {
			for i := range zoneCount(p) {
				if name(p, i) == id {
					return i, true
				}
			}
			return 0, false
		},
		within: func(p *ogcPart, i int, boxes []ogcBox) bool {
			o := p.zoneOutline(i)
			return len(o) == 0 || areaWithin(o, boxes)
		},
		shape: func(dst []byte, p *ogcPart, i int) []byte { return appendAreas(dst, p.zoneOutline(i)) },
	}
}
