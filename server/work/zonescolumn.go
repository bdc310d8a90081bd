package work

import (
	"context"
	"fmt"
	"hash/fnv"

	"courson/geo/stand"
	"courson/store"
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

// ZonesInUse gives the zone of every vine of a stand by the version that was kept
// last for its block and season; nil where none was.
func ZonesInUse(ctx context.Context, st store.Plans, s *stand.Stand) ([]uint8, error) {
	kept, err := NewestZones(ctx, st, s.Ground.Block, s.Season)
	if err != nil || kept == nil {
		return nil, err
	}
	return kept.Column(s.Ground), nil
}

// WithZones gives the findings with another column of zones, as WithReplants does
// for gaps.
func (f *Findings) WithZones(zone []uint8) *Findings {
	if zone == nil && f.Found.Zone == nil {
		return f
	}
	h := fnv.New64a()
	_, _ = h.Write(zone)
	next, found := *f, *f.Found
	found.Zone = zone
	found.Stamp = fmt.Sprintf("%s-%x", f.Found.Stamp, h.Sum64())
	next.Found = &found
	return &next
}
