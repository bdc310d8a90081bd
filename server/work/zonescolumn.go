package work

import (
	"fmt"
	"hash/fnv"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/stand"
	"courson/geo/tile"
)

// zoneRun is vines with lasting ids one after the other that are in one zone:
// first id, how many, zone.
type zoneRun [3]int64

// runsOfZones writes the zones of vines down by their lasting ids, so that they
// hold when rows are numbered anew.
func runsOfZones(g *stand.Ground, zone []uint8) (out []zoneRun) {
	for i, z := range zone {
		if z == 0 {
			continue
		}
		if k := len(out) - 1; k >= 0 && out[k][0]+out[k][1] == g.ID[i] && out[k][2] == int64(z) {
			out[k][1]++
			continue
		}
		out = append(out, zoneRun{g.ID[i], 1, int64(z)})
	}
	return out
}

// zonesOfRuns brings them back onto a ground; vines that were not there then have
// zone 0.
func zonesOfRuns(g *stand.Ground, list []zoneRun) []uint8 {
	out := make([]uint8, g.Len())
	for _, r := range list {
		for id := r[0]; id < r[0]+r[1]; id++ {
			if i, ok := g.IndexOf(id); ok {
				out[i] = uint8(r[2])
			}
		}
	}
	return out
}

// WithZones gives the findings with the zones of a version, nil for none, as
// WithReplants does for gaps.
func (f *Findings) WithZones(kept *KeptZones) *Findings {
	if kept == nil && f.Found.Zone == nil {
		return f
	}
	next, found := *f, *f.Found
	next.Found, found.Zone, next.Drawn.Zones = &found, nil, nil
	found.Stamp += "-"
	if kept != nil {
		found.Zone, next.Drawn.Zones = kept.Column(f.Stand.Ground), kept.areas(f.Stand.Ground.Code)
		h := fnv.New64a()
		_, _ = h.Write(found.Zone)
		found.Stamp += fmt.Sprintf("%s-%x", kept.ID, h.Sum64()) // its rates may be others on the same zones
	}
	return &next
}

// areas gives the ground of the zones as it was when they were kept.
func (k *KeptZones) areas(code string) (out []tile.ZoneArea) {
	for i, z := range k.View.Zones {
		if i >= len(k.View.Ground.Features) {
			break
		}
		mp, _ := k.View.Ground.Features[i].Geometry.(orb.MultiPolygon)
		shape, err := tile.PrepareOutline(mp)
		if err != nil && shape.Empty() {
			continue
		}
		a := tile.ZoneArea{ID: ZoneID(code, k.Season, i), Zone: z.Number, Season: k.Season, Vines: z.Vines, Hectares: math.Round(z.AreaM2) / 1e4, Outline: shape}
		if r := k.View.Rates; r != nil {
			a.Material, a.Rate, a.Unit = r.Material, r.Zones[i].Rate, string(r.Unit)
		}
		out = append(out, a)
	}
	return out
}

// ZoneID names zone i of a block, from 0, for people and links, as a patch is
// named.
func ZoneID(code string, season, i int) string { return fmt.Sprintf("%s-%d-z%d", code, season, i+1) }
