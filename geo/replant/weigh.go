package replant

import "courson/geo/vine"

// claim is what holds so far while the sources are heard.
type claim struct {
	Verdict
	seen      bool // a person saw the plant itself
	surveyed  bool // rests on a trunk
	deadDays  int  // different days on which it was seen dead
	firstDead Day
	lastDead  Day
}

// judge hears the sources about one position, in order of rank.
func (w *work) judge(i int, say sayer) Verdict {
	begin, planted := w.begin(i)
	var c claim
	if planted {
		c.State, c.Day = Living, begin
		say.say("Planted on %s: what was seen before is of another plant.", begin)
	}
	w.hearPeople(i, begin, &c, say)
	w.hearRecord(i, begin, planted, &c, say)
	w.hearSurvey(i, begin, &c, say)
	w.hearDetections(i, begin, &c, say)
	if c.State == Unjudged {
		say.say("Nobody has looked, and no source tells of it.")
	}
	if c.State != Doubtful {
		c.LookAgain = 0
	} else if c.LookAgain == 0 {
		c.LookAgain = c.Day + Day(w.s.LookAgainDays)
	}
	return c.Verdict
}

// begin gives the day on which the present plant was set, by record or sighting.
func (w *work) begin(i int) (day Day, planted bool) {
	for _, k := range w.records.of(i) {
		if r := &w.e.Records[k]; r.Kind == Planted {
			day, planted = r.Day, true
		}
	}
	for _, k := range w.sightings.of(i) {
		if s := &w.e.Sightings[k]; s.Condition == vine.Replanted && (s.Day > day || !planted) {
			day, planted = s.Day, true
		}
	}
	return day, planted
}

// hearPeople goes through the sightings of the present plant, day by day.
func (w *work) hearPeople(i int, begin Day, c *claim, say sayer) {
	list := w.sightings.of(i)
	for len(list) > 0 && w.e.Sightings[list[0]].Day < begin {
		list = list[1:]
	}
	for len(list) > 0 {
		n := 1
		for n < len(list) && w.e.Sightings[list[n]].Day == w.e.Sightings[list[0]].Day {
			n++
		}
		w.hearDay(list[:n], c, say)
		list = list[n:]
	}
}

// hearDay lets the sightings of one day speak.
func (w *work) hearDay(list []int32, c *claim, say sayer) {
	var says [Missing + 1]bool
	kinds, last := 0, list[0]
	for _, k := range list {
		s := &w.e.Sightings[k]
		say.say("%s: %s saw it %s%s.", s.Day, by(s.By), stateOf(s), ifText(s.Confirmed, ", after a look to decide"))
		if s.Confirmed {
			c.confirm(s)
			return
		}
		if st := stateOf(s); !says[st] {
			says[st] = true
			kinds++
		}
		last = k
	}
	s := w.e.Sightings[last]
	// Dead standing and dead above graft do not contradict, nor does doubt.
	living, gone, dead := says[Living], says[Missing], says[DeadStanding] || says[DeadAboveGraft]
	if kinds > 1 && (living && (gone || dead) || gone && dead) {
		c.Contradictions |= SightingsDiffer
		c.State, c.Day, c.LookAgain, c.seen, c.Confirmed = Doubtful, s.Day, 0, true, false
		return
	}
	w.hearOne(&s, says[DeadAboveGraft], c, say)
}

// confirm takes the word of the person who decides.
func (c *claim) confirm(s *Sighting) {
	before := c.Contradictions
	*c = claim{Verdict: Verdict{State: stateOf(s), Day: s.Day, LookAgain: s.LookAgain, Confirmed: true, Contradictions: before &^ (SightingsDiffer | LivingAfterMissing | DeadAfterMissing | LivingAfterDead)}, seen: true}
	if c.State == DeadStanding || c.State == DeadAboveGraft {
		c.deadDays, c.firstDead, c.lastDead = 1, s.Day, s.Day
	}
}

// hearOne lets the day's common sighting change the claim.
func (w *work) hearOne(s *Sighting, graft bool, c *claim, say sayer) {
	was := c.State
	confirmed := c.Confirmed
	c.Day, c.seen, c.Confirmed = s.Day, true, false
	switch st := stateOf(s); st {
	case Living:
		if was == Missing {
			c.Contradictions |= LivingAfterMissing
		}
		if was == DeadStanding || was == DeadAboveGraft {
			c.Contradictions |= LivingAfterDead
		}
		c.State, c.deadDays = Living, 0
	case Missing:
		c.State, c.deadDays, c.Confirmed = Missing, 0, confirmed && was == Missing
	case Doubtful:
		c.State, c.LookAgain = Doubtful, s.LookAgain
	default:
		w.hearDead(s, graft, was, c, say)
		c.Confirmed = confirmed && c.State == was
	}
}

// hearDead counts days on which the plant was seen dead.
func (w *work) hearDead(s *Sighting, graft bool, was State, c *claim, say sayer) {
	if was == Missing {
		c.Contradictions |= DeadAfterMissing
		c.State, c.LookAgain, c.deadDays, c.firstDead = Doubtful, s.LookAgain, 1, s.Day
		c.lastDead = s.Day
		return
	}
	if c.deadDays == 0 {
		c.firstDead = s.Day
	}
	c.deadDays++
	c.lastDead = s.Day
	kind := DeadStanding
	if graft || stateOf(s) == DeadAboveGraft {
		kind = DeadAboveGraft
	}
	settled := was == DeadStanding || was == DeadAboveGraft
	if settled || c.deadDays >= w.s.DeadDays && int(s.Day-c.firstDead) >= w.s.DaysApart {
		c.State = kind
		return
	}
	c.State, c.LookAgain = Doubtful, s.LookAgain
	say.say("Dead needs %d sightings at least %s apart, or the word of the person who decides; so far %d.",
		w.s.DeadDays, count(w.s.DaysApart, "day"), c.deadDays)
}

func stateOf(s *Sighting) State {
	switch s.Condition {
	case vine.Missing:
		return Missing
	case vine.Dead:
		if s.AboveGraft {
			return DeadAboveGraft
		}
		return DeadStanding
	case vine.Doubtful:
		return Doubtful
	}
	return Living
}

func by(name string) string {
	if name == "" {
		return "somebody"
	}
	return name
}

func ifText(yes bool, text string) string {
	if yes {
		return text
	}
	return ""
}

// hearRecord lets "pulled" and "left out" of the planting record speak.
func (w *work) hearRecord(i int, begin Day, planted bool, c *claim, say sayer) {
	for _, k := range w.records.of(i) {
		r := &w.e.Records[k]
		if r.Kind == Planted || planted && r.Day <= begin { // pulled and planted on one day: planted
			continue
		}
		say.say("Planting record, %s: %s.", r.Day, r.Kind)
		switch {
		case c.State == Unjudged || r.Day >= c.Day && c.State != Missing:
			c.State, c.Day, c.Confirmed, c.seen, c.deadDays = Missing, r.Day, false, false, 0
		case c.State == Living && r.Day < c.Day:
			c.Contradictions |= LivingAfterPulled
		}
	}
}
