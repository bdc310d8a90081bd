package replant

import (
	"fmt"
	"math"
	"strings"

	"courson/geo/vine"
)

// Source is where evidence comes from.
type Source uint8

// The sources.
const (
	FromCrews Source = iota
	FromRecords
	FromSurveys
	FromDetections
	Sources = iota
)

var sourceWords = [...]string{"crew sightings", "planting records", "surveyed trunks", "detections"}

// String gives the words for people.
func (s Source) String() string { return word(sourceWords[:], int(s), "source") }

// Evidence is what is known about the positions of a block, source by source, in
// any order. Vine is everywhere the index of a position in the ground.
type Evidence struct {
	Places     int // number of positions
	Sightings  []Sighting
	Surveys    []Survey
	Trunks     []Trunk
	Detections []Detection
	Records    []Record
}

// Sighting is what a person saw at a position.
type Sighting struct {
	Vine      int32
	Day       Day
	By        string
	Condition vine.Condition
	// AboveGraft: dead above the graft, while the rootstock lives; for Dead.
	AboveGraft bool
	LookAgain  Day // for Doubtful; 0: as the settings say
	// Confirmed: said by the person who decides, after a look at this very
	// position (such as an answer to a review list). It settles what was seen
	// before.
	Confirmed bool
}

// CauseAboveGraft is the cause with which the record says that a dead vine's
// rootstock lives.
const CauseAboveGraft = "above graft"

// FromRecord turns a condition event of the record into a sighting. Without a name
// nobody confirms anything: such an event is a sighting like others.
func FromRecord(place int32, s vine.Sighting, by string, day Day) Sighting {
	out := Sighting{Vine: place, Day: day, By: by, Condition: s.Condition, Confirmed: s.Confirmed && by != "",
		AboveGraft: s.Condition == vine.Dead && strings.Contains(strings.ToLower(s.Cause), CauseAboveGraft)}
	if s.LookAgain != nil {
		out.LookAgain = DayOf(*s.LookAgain, nil)
	}
	return out
}

// Survey is one survey of trunks.
type Survey struct {
	Name string
	Day  Day // its last day
	// Spans are the stretches of positions in which every trunk was measured:
	// only there a missing point means a missing trunk.
	Spans []Span
}

// Span is the positions From to below To.
type Span struct{ From, To int32 }

// Fit says what a surveyed point is good for. The steps are those of a point's
// match to rows and places.
type Fit uint8

// The steps, from best to worst.
const (
	FitClear   Fit = iota // one place, no doubt
	FitNotice             // one place, but not close to it: taken, and said
	FitReview             // two places are about as likely
	FitPoor               // the receiver was too unsure
	FitOutside            // no place there
)

var fitWords = [...]string{"clear", "notice", "review", "poor", "outside"}

// String gives the word for people.
func (f Fit) String() string {
	return word(fitWords[:], int(f), "fit")
}

// Trunk is a surveyed point that was matched to a position before.
type Trunk struct {
	Vine   int32 // the place taken; -1 none
	Next   int32 // for FitReview: the other place that it may be; -1 none
	Survey int32 // index into Surveys
	AlongM float32
	AsideM float32 // from the place, m along the row and to its right
	ErrorM float32 // claimed by the receiver, m; 0 not said
	Fit    Fit
}

// Detection is a suspicion from images: no plant, or no living canopy.
type Detection struct {
	Vine   int32
	Day    Day     // of the images
	Score  float32 // 0 (a plant stands there) to 1 (surely none)
	Source string
	Rests  string // what the score rests on, in words; "" not said
}

// text tells the score and what it rests on.
func (d *Detection) text() string {
	return fmt.Sprintf("score %.2f", d.Score) + ifText(d.Rests != "", ": "+d.Rests)
}

// RecordKind says what was written down about a planting.
type RecordKind uint8

// The kinds.
const (
	Planted RecordKind = iota // a plant was set
	Pulled                    // the plant was taken out
	LeftOut                   // nothing was ever planted there
)

var recordWords = [...]string{"planted", "pulled", "left out at planting"}

// String gives the word for people.
func (k RecordKind) String() string {
	return word(recordWords[:], int(k), "record")
}

// Record is an entry of the planting record.
type Record struct {
	Vine int32
	Day  Day // 0: before everything else
	Kind RecordKind
}

// Check refuses evidence about places that are not there and numbers out of
// range. The error wraps ErrEvidence.
func (e *Evidence) Check() error {
	if e.Places < 0 || e.Places > math.MaxInt32 {
		return wrong(ErrEvidence, "places", e.Places, "0 to 2147483647")
	}
	place := func(list string, i int, v, least int32) error {
		if v < least || int(v) >= e.Places {
			return wrong(ErrEvidence, fmt.Sprintf("%s %d: vine", list, i), v, fmt.Sprintf("%d to %d", least, e.Places-1))
		}
		return nil
	}
	for i := range e.Sightings {
		s := &e.Sightings[i]
		if err := place("sighting", i, s.Vine, 0); err != nil {
			return err
		}
		if s.Condition == vine.Unseen || s.Condition > vine.Doubtful {
			return wrong(ErrEvidence, fmt.Sprintf("sighting %d: condition", i), s.Condition, "what was seen")
		}
	}
	for i := range e.Trunks {
		if err := e.checkTrunk(i, place); err != nil {
			return err
		}
	}
	for i, d := range e.Detections {
		if err := place("detection", i, d.Vine, 0); err != nil {
			return err
		}
		if !(d.Score >= 0 && d.Score <= 1) {
			return wrong(ErrEvidence, fmt.Sprintf("detection %d: score", i), d.Score, "0 to 1")
		}
	}
	for i, r := range e.Records {
		if err := place("record", i, r.Vine, 0); err != nil {
			return err
		}
		if r.Kind > LeftOut {
			return wrong(ErrEvidence, fmt.Sprintf("record %d: kind", i), uint8(r.Kind), "planted, pulled or left out")
		}
	}
	return e.checkSpans()
}

func (e *Evidence) checkTrunk(i int, place func(string, int, int32, int32) error) error {
	t := &e.Trunks[i]
	if err := place("trunk", i, t.Vine, -1); err != nil {
		return err
	}
	if err := place("trunk", i, t.Next, -1); err != nil {
		return err
	}
	if t.Survey < 0 || int(t.Survey) >= len(e.Surveys) {
		return wrong(ErrEvidence, fmt.Sprintf("trunk %d: survey", i), t.Survey, fmt.Sprintf("0 to %d", len(e.Surveys)-1))
	}
	if t.Fit <= FitNotice && t.Vine < 0 {
		return wrong(ErrEvidence, fmt.Sprintf("trunk %d: vine", i), t.Vine, "the place it was taken for, as its fit is "+t.Fit.String())
	}
	return nil
}

func (e *Evidence) checkSpans() error {
	for k, s := range e.Surveys {
		for _, p := range s.Spans {
			if p.From < 0 || p.From > p.To || int(p.To) > e.Places {
				return wrong(ErrEvidence, fmt.Sprintf("survey %d (%s): span", k, s.Name), fmt.Sprintf("%d to %d", p.From, p.To), fmt.Sprintf("within 0 to %d", e.Places))
			}
		}
	}
	return nil
}
