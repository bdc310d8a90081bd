package replant

// hearSurvey lets the latest survey of the place speak.
func (w *work) hearSurvey(i int, begin Day, c *claim, say sayer) {
	var trunkDay, coverDay Day
	trunk, cover := w.trunk[i], w.covered[i]
	if trunk > 0 {
		trunkDay = w.trunkDay(trunk - 1)
	}
	if cover > 0 {
		coverDay = w.e.Surveys[cover-1].Day
	}
	switch {
	case trunk > 0 && (cover == 0 || trunkDay >= coverDay):
		if trunkDay >= begin {
			w.hearTrunk(trunk-1, trunkDay, c, say)
		}
	case cover > 0 && coverDay >= begin:
		w.hearNoTrunk(i, cover-1, coverDay, c, say)
	case w.doubt[i] > 0:
		say.say("A doubtful surveyed point may be its trunk; nothing is made of it.")
	}
}

// hearTrunk: a trunk stands there; whether it lives is not known.
func (w *work) hearTrunk(k int32, day Day, c *claim, say sayer) {
	t := &w.e.Trunks[k]
	if say != nil {
		say("%s, survey %s: a trunk %.2f m along and %.2f m aside of the place (%s).", day, w.e.Surveys[t.Survey].Name, t.AlongM, t.AsideM, t.Fit)
	}
	switch c.State {
	case Unjudged:
		c.State, c.Day, c.surveyed = Living, day, true
		say.say("A trunk stands; nobody said that it is dead, so it is taken to live.")
	case Living:
		if day > c.Day && !c.seen {
			c.Day, c.surveyed = day, true
		}
	case Missing:
		if day < c.Day {
			say.say("It is gone since that survey.")
			return
		}
		c.Contradictions |= TrunkAtMissing
		if day > c.Day || !c.Confirmed {
			c.State, c.Day, c.LookAgain, c.Confirmed = Doubtful, day, 0, false
		}
	}
}

// hearNoTrunk: the survey measured every trunk of this stretch, none is here.
func (w *work) hearNoTrunk(i int, k int32, day Day, c *claim, say sayer) {
	name := w.e.Surveys[k].Name
	if d := w.doubt[i]; d > 0 && w.trunkDay(d-1) == day {
		say.say("%s, survey %s: no sure trunk, but a doubtful point (%s) may be it.", day, name, w.e.Trunks[d-1].Fit)
		if c.State == Unjudged {
			c.State, c.Day = Suspected, day
		}
		return
	}
	say.say("%s, survey %s: every trunk of this stretch was measured, none stands here.", day, name)
	near := int(abs(day-c.Day)) <= w.s.ConflictDays
	if !w.sure(i, k) {
		w.hearUnsure(day, near, c, say)
		return
	}
	switch {
	case c.State == Unjudged:
		c.State, c.Day = Missing, day
	case c.State == Living && day > c.Day && near:
		c.Contradictions |= SurveyMissesLiving
		c.State, c.Day, c.LookAgain, c.Confirmed = Doubtful, day, 0, false
	case c.State == Living && day > c.Day:
		c.State, c.Day, c.Confirmed = Missing, day, false
		say.say("It was last known to stand long before.")
	case c.State == Living && near:
		c.Contradictions |= SurveyMissesLiving
	case day >= c.Day && c.wasDead():
		c.State, c.Day, c.Confirmed = Missing, day, false
		say.say("The plant seen dead is gone.")
	}
}

// reach is how many places to each side a trunk is looked for that tells how well
// the survey measured there.
const reach = 50

// sure tells whether the survey measured well around a place: the nearest trunk
// to each side has a claimed error that is small enough. A trunk whose point was
// taken for the next place would else leave a gap that is none.
func (w *work) sure(i int, survey int32) bool {
	found := false
	for _, way := range []int{-1, 1} {
		for j := i + way; j >= 0 && j < len(w.trunk) && abs(Day(j-i)) <= reach; j += way {
			t := w.trunk[j]
			if t == 0 || w.e.Trunks[t-1].Survey != survey {
				continue
			}
			if e := float64(w.e.Trunks[t-1].ErrorM); !(e > 0 && e <= w.s.SureErrorM) {
				return false
			}
			found = true
			break
		}
	}
	return found
}

// hearUnsure: no trunk, but the points around are not good enough to say so.
func (w *work) hearUnsure(day Day, near bool, c *claim, say sayer) {
	say.say("The points around do not claim an error of %.2f m or less: no more than a suspicion.", w.s.SureErrorM)
	switch {
	case c.State == Unjudged, c.State == Living && day > c.Day && !near:
		c.State, c.Day, c.Confirmed = Suspected, day, false
	case c.State == Living && near:
		c.Contradictions |= SurveyMissesLiving
	}
}

// wasDead tells whether the last that was seen of the plant was that it is dead.
func (c *claim) wasDead() bool {
	return c.State == DeadStanding || c.State == DeadAboveGraft ||
		c.State == Doubtful && c.deadDays > 0 && c.lastDead == c.Day && c.Contradictions&SightingsDiffer == 0
}

// hearDetections lets images speak: the strongest suspicion of the present plant
// and the weakest.
func (w *work) hearDetections(i int, begin Day, c *claim, say sayer) {
	high, low := int32(-1), int32(-1)
	list := w.detections.of(i)
	for _, k := range list {
		d := &w.e.Detections[k]
		if d.Day < begin {
			continue
		}
		if say != nil {
			say("%s, detection by %s: %s.", d.Day, by(d.Source), d.text())
		}
		// What images showed before the last look was there to be seen.
		if d.Day <= c.Day && c.State != Unjudged {
			continue
		}
		if float64(d.Score) >= w.s.SuspectFrom && (high < 0 || d.Score >= w.e.Detections[high].Score) {
			high = k
		}
		if float64(d.Score) < w.s.CanopyBelow {
			low = k
		}
	}
	if low >= 0 && c.State.Gap() {
		c.Contradictions |= CanopyAtGap
	}
	if high >= 0 {
		w.suspect(w.e.Detections[high].Day, c, say)
	}
}

// suspect is what a detection after the last look can do at most.
func (w *work) suspect(day Day, c *claim, say sayer) {
	switch {
	case c.State == Unjudged:
		c.State, c.Day = Suspected, day
		say.say("A detection alone is no more than a suspicion.")
	case c.State == Living && c.seen && int(day-c.Day) <= w.s.ConflictDays:
		c.Contradictions |= DetectionAtLiving
		say.say("A person saw it shortly before: that holds.")
	case c.State == Living:
		if c.surveyed || c.seen {
			c.Contradictions |= DetectionAtLiving
		}
		c.State, c.Day, c.Confirmed = Suspected, day, false
		say.say("A detection alone is no more than a suspicion.")
	}
}

func abs(d Day) Day { return max(d, -d) }
