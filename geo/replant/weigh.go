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

// sources is a set of sources, one bit each.
type sources uint8

const all sources = 1<<Sources - 1

func (s sources) has(one Source) bool { return s&(1<<one) != 0 }

// judge hears the given sources about one position, in order of rank.
func (w *work) judge(i int, which sources, say sayer) Verdict {
	begin, planted := w.begin(i, which)
	var c claim
	if planted {
		c.State, c.Day = Living, begin
		if say != nil {
			say("Planted on %s: what was seen before is of another plant.", begin)
		}
	}
	if which.has(FromCrews) {
		w.hearPeople(i, begin, &c, say)
	}
	if which.has(FromRecords) {
		w.hearRecord(i, begin, planted, &c, say)
	}
	if which.has(FromSurveys) {
		w.hearSurvey(i, begin, &c, say)
	}
	if which.has(FromDetections) {
		w.hearDetections(i, begin, &c, say)
	}
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
func (w *work) begin(i int, which sources) (day Day, planted bool) {
	if which.has(FromRecords) {
		for _, k := range w.records.of(i) {
			if r := &w.e.Records[k]; r.Kind == Planted {
				day, planted = r.Day, true
			}
		}
	}
	if which.has(FromCrews) {
		for _, k := range w.sightings.of(i) {
			if s := &w.e.Sightings[k]; s.Condition == vine.Replanted && (s.Day > day || !planted) {
				day, planted = s.Day, true
			}
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

// hearDay lets the sightings of one day speak; their order within the day is not
// known. Where the person who decides spoke, nobody else counts.
func (w *work) hearDay(list []int32, c *claim, say sayer) {
	var says, decided [Missing + 1]bool
	var seen Sighting // what the day says: its gravest, with the latest day to look again
	confirmed := false
	for _, k := range list {
		s := &w.e.Sightings[k]
		st := stateOf(s)
		if say != nil {
			say("%s: %s saw it %s%s.", s.Day, by(s.By), st, ifText(s.Confirmed, ", after a look to decide"))
		}
		says[st] = true
		if s.Confirmed {
			decided[st], confirmed = true, true
		}
	}
	if confirmed {
		says = decided
	}
	gravest := Unjudged
	for _, k := range list {
		s := &w.e.Sightings[k]
		if st := stateOf(s); says[st] && st > gravest {
			look := max(seen.LookAgain, s.LookAgain)
			gravest, seen = st, *s
			seen.LookAgain = look
		} else {
			seen.LookAgain = max(seen.LookAgain, s.LookAgain)
		}
	}
	switch {
	case differ(says):
		c.Contradictions |= SightingsDiffer
		c.State, c.Day, c.LookAgain, c.seen, c.Confirmed = Doubtful, seen.Day, 0, true, false
	case confirmed:
		c.confirm(&seen)
	default:
		w.hearOne(&seen, c, say)
	}
}

// differ tells whether what was seen on one day cannot all be true. Dead standing
// and dead above the graft can; so can doubt beside living or dead.
func differ(says [Missing + 1]bool) bool {
	dead := says[DeadStanding] || says[DeadAboveGraft]
	return says[Living] && dead || says[Missing] && (says[Living] || dead || says[Doubtful])
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
func (w *work) hearOne(s *Sighting, c *claim, say sayer) {
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
		w.hearDead(s, was, c, say)
		c.Confirmed = confirmed && c.State == was
	}
}

// hearDead counts days on which the plant was seen dead.
func (w *work) hearDead(s *Sighting, was State, c *claim, say sayer) {
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
	settled := was == DeadStanding || was == DeadAboveGraft
	if settled || c.deadDays >= w.s.DeadDays && int(s.Day-c.firstDead) >= w.s.DaysApart {
		c.State = stateOf(s)
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
