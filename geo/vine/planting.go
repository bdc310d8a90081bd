package vine

// plants are the plants that stood in one position, the present or last one at
// the end; there is always at least the first.
type plants []Planting

// see lets a sighting speak about the plant and gives the season of the present
// plant's first leaf where it says one.
//
// Dead or missing closes the plant: seen in season s, its last season was the
// one before (common practice: gaps are counted in winter, before growth), or
// its first where it never saw another. A living plant seen later opens it
// again: it was not dead after all. Replanted begins a new plant, unless the
// present one has its first leaf in that same season.
func (ps *plants) see(s Sighting, season int) (planted int, ok bool) {
	last := &(*ps)[len(*ps)-1]
	switch {
	case s.Condition == Replanted:
		planted = s.firstLeaf(season)
		ps.replant(s, planted)
		ps.sever(s, season)
		return planted, true
	case !s.Condition.Living():
		if last.To == 0 {
			last.To = max(last.From, season-1)
		}
		if s.Cause != "" {
			last.Why = s.Cause
		}
	default:
		last.To, last.Why = 0, ""
		ps.sever(s, season)
	}
	return 0, false
}

// sever cuts the present plant from its mother, where it is a layer that has had a
// season to root.
func (ps *plants) sever(s Sighting, season int) {
	if last := &(*ps)[len(*ps)-1]; s.Severed && last.Mother != 0 && last.Severed == 0 && season > last.From {
		last.Severed = season
	}
}

func (ps *plants) replant(s Sighting, planted int) {
	// The newest sighting says how old the present plant is: a replant taken for
	// younger than that was never planted.
	for len(*ps) > 1 && (*ps)[len(*ps)-1].From > planted {
		*ps = (*ps)[:len(*ps)-1]
	}
	last := &(*ps)[len(*ps)-1]
	if last.From != planted {
		if last.To == 0 || last.To >= planted {
			last.To = max(last.From, planted-1)
		}
		if last.Why == "" {
			last.Why = s.Cause
		}
		*ps = append(*ps, Planting{From: planted})
		last = &(*ps)[len(*ps)-1]
	}
	last.To, last.Why = 0, ""
	if s.Mother != 0 {
		last.Mother = s.Mother
	}
	for _, f := range []struct {
		to   *string
		said string
	}{{&last.Rootstock, s.Rootstock}, {&last.Clone, s.Clone}, {&last.Batch, s.Batch}, {&last.Grade, s.Grade}} {
		if f.said != "" {
			*f.to = f.said
		}
	}
}
