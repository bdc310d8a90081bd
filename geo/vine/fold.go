package vine

// Fold works out a vine's life from its events. Events that do not cover the
// place are passed over, an event given twice counts once, and neither the
// order of the slice nor its split into batches matters: the same set of events
// always gives the same life. Order in time is by When, except that events of
// one device never change places against their Seq. The slice is not changed.
//
// Every season that has an event gets a State, also where all its events were
// taken back: then the State shows what is carried forward and nothing else.
// An event of an earlier season that is recorded later changes that season and
// those after it up to the next one with a sighting of its own.
//
// A Life shares parts with the events it came from: read it, do not change it.
// Cost is n log n in the events; it allocates little for a handful of events.
func Fold(p Place, events []Event) Life {
	var list []entry
	for _, r := range inOrder(events) {
		if pos, ok := r.position(p); ok {
			list = append(list, entry{record: r, pos: pos})
		}
	}
	return foldEntries(p, list)
}

// foldEntries folds what covers one vine, given in the order of inOrder.
func foldEntries(p Place, list []entry) Life {
	settleOrder(list)
	life := Life{Plantings: plants{{From: p.Planted}}}
	if n := countSeasons(list); n > 0 {
		life.States = make([]State, 0, n)
	}
	now := State{Planted: p.Planted}
	for len(list) > 0 {
		n := seasonLength(list)
		now = carried(now, list[0].Season)
		for i := range list[:n] {
			if !list[i].taken {
				now.apply(&list[i], (*plants)(&life.Plantings))
			}
		}
		now.Clashes = clashes(list[:n])
		life.States = append(life.States, now)
		list = list[n:]
	}
	return life
}

// seasonLength counts the leading entries of one season.
func seasonLength(list []entry) int {
	n := 1
	for n < len(list) && list[n].Season == list[0].Season {
		n++
	}
	return n
}

func countSeasons(list []entry) (n int) {
	for i := range list {
		if i == 0 || list[i].Season != list[i-1].Season {
			n++
		}
	}
	return n
}

// carried begins a season's state with what holds until something newer is seen.
func carried(before State, season int) State {
	return State{Season: season, Condition: before.Condition, Cause: before.Cause,
		SeenAt: before.SeenAt, LookAgain: before.LookAgain, Planted: before.Planted}
}

// apply lets one event speak. A later one takes the place of an earlier one,
// field by field.
func (s *State) apply(e *entry, stood *plants) {
	switch body := e.Body.(type) {
	case Sighting:
		s.see(body, e)
		if planted, ok := stood.see(body, e.Season); ok {
			s.Planted = planted
		}
	case Measure:
		s.read(body, e)
	case Pruned:
		if s.Pruned == nil || body.says() {
			s.Pruned, s.PrunedAt, s.PrunedBy = e.pruned, e.when, e.By
		}
		s.progress(Pruning, Done)
	case Work:
		s.progress(body.Operation, body.Progress)
	case Note:
		s.Notes++
	}
}

func (s *State) see(body Sighting, e *entry) {
	s.Condition, s.Cause, s.SeenAt = body.Condition, body.Cause, e.when
	s.LookAgain = State{}.LookAgain
	if body.LookAgain != nil {
		s.LookAgain = clean(*body.LookAgain)
	}
}

func (s *State) read(body Measure, e *entry) {
	value, ok := body.at(e.pos)
	if !ok {
		return // refused by Check, so never in a store
	}
	if s.Measures == nil {
		s.Measures = make(map[Quantity]Reading, 1)
	}
	s.Measures[body.Quantity] = Reading{Value: value, Scale: body.Scale, At: e.when}
}

func (s *State) progress(operation string, p Progress) {
	if s.Work == nil {
		s.Work = make(map[string]Progress, 1)
	}
	s.Work[operation] = p
}
