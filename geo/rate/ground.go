package rate

import "courson/geo/rings"

// Ground gives the outline of all zones together: the ground that a machine with
// this plan may treat. It runs along the zones' own borders, place for place.
// Metres of the block's frame.
func (z *Zones) Ground() Outline {
	borders, a := z.lie.rings(z.Zone, len(z.List))
	steps := map[rings.Step]bool{}
	for _, zone := range borders {
		for _, r := range zone {
			if r = a.straighten(r); len(r) < 3 {
				continue
			}
			for i, from := range r {
				step := rings.Step{From: from, To: r[(i+1)%len(r)]}
				if back := (rings.Step{From: step.To, To: step.From}); steps[back] {
					delete(steps, back) // a border between two zones
				} else {
					steps[step] = true
				}
			}
		}
	}
	all, kept := make([]rings.Step, 0, len(steps)), arcs{map[spot]bool{}}
	for s := range steps {
		all = append(all, s)
		kept.node[s.From] = true // straight already: nothing more is left out
	}
	return z.lie.polygons(rings.Trace(all), kept)
}
