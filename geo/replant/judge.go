package replant

import (
	"cmp"
	"fmt"
	"slices"
)

// State says whether a living vine stands in a position.
type State uint8

// The states.
const (
	Unjudged       State = iota // nothing is known
	Living                      // a living vine is taken to stand there
	Suspected                   // perhaps a gap: a hint that nobody has looked into
	Doubtful                    // look again on a day
	DeadStanding                // the plant stands, dead
	DeadAboveGraft              // dead, but its rootstock lives
	Missing                     // no plant
)

var stateWords = [...]string{"not judged", "living", "suspected", "doubtful", "dead standing", "dead above graft", "missing"}

// String gives the word for people.
func (s State) String() string {
	return word(stateWords[:], int(s), "state")
}

// Gap tells whether the position is taken to be without a living vine. Suspected
// and doubtful positions are not.
func (s State) Gap() bool { return s >= DeadStanding && s <= Missing }

// Contradictions are the ways in which the evidence of a position disagrees, one
// bit each.
type Contradictions uint16

// The contradictions.
const (
	SightingsDiffer     Contradictions = 1 << iota // people saw different things on one day
	LivingAfterMissing                             // living, without a planting, where nothing stood
	DeadAfterMissing                               // a dead plant where nothing stood
	LivingAfterDead                                // living after it was found dead twice or confirmed
	LivingAfterPulled                              // living after it was pulled
	SurveyMissesLiving                             // a survey found no trunk where a living vine was seen
	TrunkAtMissing                                 // a survey found a trunk where nothing should stand
	DetectionAtLiving                              // a detection suspects a vine that was seen or surveyed
	CanopyAtGap                                    // a detection sees canopy at a gap
	contradictionsCount = iota
)

var contradictionTexts = [contradictionsCount]string{
	"people saw different things on the same day",
	"seen living, without a planting on record, where nothing had stood",
	"a dead plant seen where nothing had stood",
	"seen living after it had been found dead",
	"seen living after the planting record says it was pulled",
	"a survey found no trunk where a living vine had been seen shortly before or was seen later",
	"a survey found a trunk where nothing should stand",
	"a detection suspects a vine that was seen living or whose trunk was surveyed",
	"a detection sees canopy at the gap; it may be a neighbour's cane",
}

// Words gives the contradictions in plain words.
func (c Contradictions) Words() (out []string) {
	for k, text := range contradictionTexts {
		if c&(1<<k) != 0 {
			out = append(out, text)
		}
	}
	return out
}

// FindSettings are the settings of Judge.
type FindSettings struct {
	// DeadDays is on how many different days a plant must be seen dead, where no
	// person confirms it. Default 2; 1 is refused.
	DeadDays int `json:"dead_sightings"`
	// DaysApart is the least time between the first and last of them. Default 1:
	// another day. Longer is safer in a late spring.
	DaysApart int `json:"dead_days_apart"`
	// LookAgainDays is when a doubtful plant is looked at again, where nobody set
	// a day. Default 30 (chosen by us: about the spread of budburst after a dry
	// winter; see "Delayed spring growth and grapevine production during drought",
	// progressivecrop.com, 2022, for the reason, not the figure).
	LookAgainDays int `json:"look_again_days"`
	// ConflictDays is within what time two sources that disagree contradict each
	// other, rather than tell of a change. Default 120 (chosen by us: one winter).
	ConflictDays int `json:"conflict_days"`
	// SureErrorM is the claimed error, m, up to which surveyed trunks to both sides of
	// a place without one make it missing; else it is suspected. Default 0.15 (chosen
	// by us: a satellite receiver with a fixed solution claims a few centimetres).
	SureErrorM float64 `json:"sure_error_m"`
	// SuspectFrom is the score from which a detection is a suspicion, CanopyBelow
	// that under which it speaks for a plant. Defaults 0.5 and 0.2 (chosen by us).
	SuspectFrom float64 `json:"suspect_from"`
	CanopyBelow float64 `json:"canopy_below"`
}

// DefaultFindSettings gives the defaults.
func DefaultFindSettings() FindSettings {
	return FindSettings{DeadDays: 2, DaysApart: 1, LookAgainDays: 30, ConflictDays: 120, SureErrorM: 0.15, SuspectFrom: 0.5, CanopyBelow: 0.2}
}

// Check refuses settings out of range; the error wraps ErrSettings.
func (s FindSettings) Check() error {
	switch {
	case s.DeadDays < 2 || s.DeadDays > 10:
		return wrong(ErrSettings, "dead_sightings", s.DeadDays, "2 to 10")
	case s.DaysApart < 1 || s.DaysApart > 400:
		return wrong(ErrSettings, "dead_days_apart", s.DaysApart, "1 to 400")
	case s.LookAgainDays < 1 || s.LookAgainDays > 400:
		return wrong(ErrSettings, "look_again_days", s.LookAgainDays, "1 to 400")
	case s.ConflictDays < 0 || s.ConflictDays > 4000:
		return wrong(ErrSettings, "conflict_days", s.ConflictDays, "0 to 4000")
	case !(s.SureErrorM > 0 && s.SureErrorM <= 10):
		return wrong(ErrSettings, "sure_error_m", s.SureErrorM, "above 0, at most 10")
	case !(s.SuspectFrom > 0 && s.SuspectFrom <= 1):
		return wrong(ErrSettings, "suspect_from", s.SuspectFrom, "above 0, at most 1")
	case !(s.CanopyBelow >= 0 && s.CanopyBelow < s.SuspectFrom):
		return wrong(ErrSettings, "canopy_below", s.CanopyBelow, "0 to below suspect_from")
	}
	return nil
}

// Verdict is what is taken to hold of one position.
type Verdict struct {
	State          State          `json:"state"`
	Day            Day            `json:"day"`        // of the evidence that decided; 0 none
	LookAgain      Day            `json:"look_again"` // for Doubtful
	Confirmed      bool           `json:"confirmed"`  // by the person who decides
	Contradictions Contradictions `json:"contradictions"`
}

// Findings are the verdicts of a block, and what each source by itself says.
type Findings struct {
	Verdicts []Verdict
	w        *work
}

// Judge weighs the evidence on every position. Sources are not added up: a sum of
// points would let many weak hints outvote a look. Instead they are heard by
// rank:
//
//   - A planting begins anew: what was seen before it is of another plant.
//   - What people saw goes by day. "Missing" needs one sighting. "Dead" needs a
//     second one on another day, or the word of the person who decides; until then
//     the plant is doubtful, with a day to look again.
//   - "Pulled" in the planting record stands until a plant is seen or planted.
//   - A survey that covered the place and has no trunk there speaks for missing,
//     one with a trunk for a standing plant; doubtful points, and a missing point
//     among points that are not good enough, are only hints.
//   - A detection alone is never more than a suspicion.
//
// Where sources disagree within ConflictDays the position is doubtful or the
// later look holds; in either case the contradiction is named. The evidence must
// not change while the findings are in use. Cost is linear in the evidence. The
// errors wrap ErrEvidence or ErrSettings.
func Judge(e *Evidence, s FindSettings) (*Findings, error) {
	if e == nil {
		return nil, wrong(ErrEvidence, "evidence", "none", "evidence")
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	if err := e.Check(); err != nil {
		return nil, err
	}
	f := &Findings{Verdicts: make([]Verdict, e.Places), w: sortOut(e, s)}
	for i := range f.Verdicts {
		f.Verdicts[i] = f.w.judge(i, all, nil)
	}
	return f, nil
}

// Explain gives the reasons of a position's verdict in plain words.
func (f *Findings) Explain(i int) (out []string) {
	v := f.w.judge(i, all, func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) })
	for _, c := range v.Contradictions.Words() {
		out = append(out, "Contradiction: "+c+".")
	}
	last := fmt.Sprintf("Result: %s.", v.State)
	if v.State == Doubtful {
		last = fmt.Sprintf("Result: doubtful, look again from %s on.", v.LookAgain)
	}
	return append(out, last)
}

// Due counts the doubtful positions whose day to look again has come by today, and
// gives the earliest such day; 0 where none is due.
func (f *Findings) Due(today Day) (n int, since Day) {
	for _, v := range f.Verdicts {
		if v.State != Doubtful || v.LookAgain == 0 || v.LookAgain > today {
			continue
		}
		n++
		if since == 0 || v.LookAgain < since {
			since = v.LookAgain
		}
	}
	return n, since
}

// BySource gives what each source by itself would make of a position, side by
// side; the verdict is not their sum.
func (f *Findings) BySource(i int) (by [Sources]Verdict) {
	for k := range by {
		by[k] = f.w.judge(i, 1<<k, nil)
	}
	return by
}

// Gaps counts positions by state.
func (f *Findings) Gaps() (counts [Missing + 1]int) {
	for _, v := range f.Verdicts {
		counts[v.State]++
	}
	return counts
}

// work is the evidence by position.
type work struct {
	e          *Evidence
	s          FindSettings
	sightings  byPlace
	detections byPlace
	records    byPlace
	// One more than the index of the latest, 0 none: survey that covered the
	// place, trunk taken for it, doubtful point that may be it.
	covered, trunk, doubt []int32
}

// byPlace lists entries of a source by position, each list by day.
type byPlace struct {
	first []int32
	index []int32
}

func (b *byPlace) of(i int) []int32 { return b.index[b.first[i]:b.first[i+1]] }

func group(places, n int, at func(k int) (vine int32, day Day)) byPlace {
	b := byPlace{first: make([]int32, places+1), index: make([]int32, n)}
	for k := range n {
		v, _ := at(k)
		b.first[v+1]++
	}
	for i := range places {
		b.first[i+1] += b.first[i]
	}
	next := slices.Clone(b.first[:places])
	for k := range n {
		v, _ := at(k)
		b.index[next[v]] = int32(k)
		next[v]++
	}
	for i := range places {
		if list := b.of(i); len(list) > 1 {
			slices.SortStableFunc(list, func(x, y int32) int {
				_, dx := at(int(x))
				_, dy := at(int(y))
				return cmp.Compare(dx, dy)
			})
		}
	}
	return b
}

func sortOut(e *Evidence, s FindSettings) *work {
	w := &work{e: e, s: s,
		sightings:  group(e.Places, len(e.Sightings), func(k int) (int32, Day) { return e.Sightings[k].Vine, e.Sightings[k].Day }),
		detections: group(e.Places, len(e.Detections), func(k int) (int32, Day) { return e.Detections[k].Vine, e.Detections[k].Day }),
		records:    group(e.Places, len(e.Records), func(k int) (int32, Day) { return e.Records[k].Vine, e.Records[k].Day }),
		covered:    make([]int32, e.Places), trunk: make([]int32, e.Places), doubt: make([]int32, e.Places)}
	for k, sv := range e.Surveys {
		for _, span := range sv.Spans {
			for i := span.From; i < span.To; i++ {
				if c := w.covered[i]; c == 0 || e.Surveys[c-1].Day <= sv.Day {
					w.covered[i] = int32(k) + 1
				}
			}
		}
	}
	for k := range e.Trunks {
		t := &e.Trunks[k]
		switch {
		case t.Fit <= FitNotice:
			w.keepLatest(w.trunk, t.Vine, k)
		case t.Fit != FitOutside:
			w.keepLatest(w.doubt, t.Vine, k)
			w.keepLatest(w.doubt, t.Next, k)
		}
	}
	return w
}

func (w *work) keepLatest(list []int32, place int32, k int) {
	if place < 0 {
		return
	}
	if old := list[place]; old == 0 || w.trunkDay(old-1) <= w.trunkDay(int32(k)) {
		list[place] = int32(k) + 1
	}
}

func (w *work) trunkDay(k int32) Day { return w.e.Surveys[w.e.Trunks[k].Survey].Day }
