package rate

// Ground gives the outline of all zones together: the ground that a machine with
// this plan may treat. It runs along the zones' own borders, place for place.
// Metres of the block's frame.
func (z *Zones) Ground() Outline {
	rings, a := z.lie.rings(z.Zone, len(z.List))
	steps := map[walked]bool{}
	for _, zone := range rings {
		for _, r := range zone {
			if r = a.straighten(r); len(r) < 3 {
				continue
			}
			for i, from := range r {
				step := walked{from, r[(i+1)%len(r)]}
				if back := (walked{step.to, step.from}); steps[back] {
					delete(steps, back) // a border between two zones
				} else {
					steps[step] = true
				}
			}
		}
	}
	all, kept := make([]walked, 0, len(steps)), arcs{map[spot]bool{}}
	for s := range steps {
		all = append(all, s)
		kept.node[s.from] = true // straight already: nothing more is left out
	}
	return z.lie.polygons(traceRings(all), kept)
}
