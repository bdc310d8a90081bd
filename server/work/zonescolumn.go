package work

import (
	"courson/geo/stand"
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
