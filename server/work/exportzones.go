package work

import (
	"time"

	"github.com/paulmach/orb"

	"courson/geo/rate"
	"courson/store"
)

// zoneRow is one zone of a kept version.
type zoneRow struct {
	kept *KeptZones
	code string
	i    int
}

func (z zoneRow) zone() *rate.Zone { return &z.kept.View.Zones[z.i] }

// rated gives something of the rates, nil where the version has zones alone.
func rated(of func(*RatesView, *rate.ZoneRate) any) func(zoneRow) any {
	return func(z zoneRow) any {
		if r := z.kept.View.Rates; r != nil {
			return of(r, &r.Zones[z.i])
		}
		return nil
	}
}

// zoneLayerCaution goes with every zone; the material's own cautions stand on the
// page and in the files of its rates.
const zoneLayerCaution = "Planning figures: labels, local nutrient and water rules and a licensed adviser decide."

func zoneLayerFields(u unitsOut) []layerField[zoneRow] {
	area, areaUnit, byArea, length, byLength := "hectares", "ha", 1e-4, "row_m", 1.0
	if u.length == "ft" {
		area, areaUnit, byArea, length, byLength = "acres", "acre", acresPerM2, "row_ft", feetPerM
	}
	return []layerField[zoneRow]{
		{text("name", "Name of the zone in its block and season"), func(z zoneRow) any { return ZoneID(z.code, z.kept.Season, z.i) }},
		{text("block", "Code of the block"), func(z zoneRow) any { return z.code }},
		{whole("season", "Harvest year that the winter's pruning prepares"), func(z zoneRow) any { return z.kept.Season }},
		{whole("zone", "Number of the zone, 1 the weakest"), func(z zoneRow) any { return z.zone().Number }},
		{whole("vines", "Vine positions"), func(z zoneRow) any { return z.zone().Vines }},
		{whole("living", "Living vines"), func(z zoneRow) any { return z.zone().Living }},
		{whole("gaps", "Positions where the vine is dead or missing"), func(z zoneRow) any { return z.zone().Gaps }},
		{number(area, areaUnit, "Area"), func(z zoneRow) any { return to(z.zone().AreaM2*byArea, 4) }},
		{number(length, u.length, "Row"), func(z zoneRow) any { return to(z.zone().RowM*byLength, 1) }},
		{whole("parts", "Connected parts"), func(z zoneRow) any { return z.zone().Parts }},
		{number("sure", "", "Mean of how sure it is that its vines belong to it, 0 to 1"), func(z zoneRow) any { return nonNegative(z.zone().Sure, 1, 3) }},
		{text("material", "What is spread; empty: zones alone"), rated(func(r *RatesView, _ *rate.ZoneRate) any { return r.Material })},
		{text("aim", "What the rates are for"), rated(func(r *RatesView, _ *rate.ZoneRate) any { return r.Aim })},
		{number("rate", "", "Planned rate, in rate_unit"), rated(func(_ *RatesView, q *rate.ZoneRate) any { return to(q.Rate, 4) })},
		{text("rate_unit", "Unit of the rate"), rated(func(r *RatesView, _ *rate.ZoneRate) any { return string(r.Unit) })},
		{number("quantity", "", "What the zone takes, in quantity_unit"), rated(func(_ *RatesView, q *rate.ZoneRate) any { return to(q.Quantity, 3) })},
		{text("quantity_unit", "Unit of the quantity"), rated(func(r *RatesView, _ *rate.ZoneRate) any { return r.Measure })},
		{text("note", "What was noted with the version"), func(z zoneRow) any { return orNothing(z.kept.Note) }},
		{text("kept_by", "Who kept the version"), func(z zoneRow) any { return z.kept.By }},
		{text("kept_at", "When it was kept, UTC"), func(z zoneRow) any { return z.kept.Made.UTC().Format(time.RFC3339) }},
		{text("caution", "What holds for every rate"), func(zoneRow) any { return zoneLayerCaution }},
	}
}

// zones writes the zones of the version in use of a block, with their ground as it
// was when they were kept.
func (x *exporter) zones(b store.Block) error {
	kept, err := NewestZones(x.ctx, x.st, b.ID, x.job.Season)
	if err != nil || kept == nil {
		return err
	}
	fields := zoneLayerFields(x.units)
	for i := range min(len(kept.View.Zones), len(kept.View.Ground.Features)) {
		ground, _ := kept.View.Ground.Features[i].Geometry.(orb.MultiPolygon)
		if err := putAll(x, fields, 0, ZoneID(b.Code, kept.Season, i), zoneRow{kept, b.Code, i}, single(ground)); err != nil {
			return err
		}
	}
	return nil
}
