package rate

// Stretch is a run of vines of one row in one zone, for valves and row lists.
type Stretch struct {
	Row      string // label
	From, To int    // numbers of its first and last vine
	Vines    int
	RowM     float64
	AreaM2   float64
	Zone     int
	Rate     float64
	Quantity float64 // kg, l or pieces
}

// Stretches lists the rows cut where the zone changes, in order of rows and
// numbers; a road alone cuts nothing. Vines without a zone are left out. Error:
// ErrOption.
func (z *Zones) Stretches(r *Rates) ([]Stretch, error) {
	if err := z.fits(r); err != nil {
		return nil, err
	}
	g := z.lie.g
	var out []Stretch
	for i, zone := range z.Zone {
		if zone == 0 {
			continue
		}
		if i == 0 || z.Zone[i-1] != zone || g.Row[i-1] != g.Row[i] {
			out = append(out, Stretch{Row: g.Rows[g.Row[i]].Label, From: int(g.Number[i]), Zone: int(zone), Rate: r.Zones[zone-1].Rate})
		}
		s := &out[len(out)-1]
		s.To = int(g.Number[i])
		s.Vines++
		s.RowM += z.lie.lengthM(i)
		s.AreaM2 += z.CellM2[i]
		s.Quantity += r.Zones[zone-1].Rate * r.perHa * z.CellM2[i] / 1e4
	}
	return out, nil
}
