package replant

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// surveyOf is a survey of places 0 and 1 on a day, every trunk measured, with
// points; the trunk of place 1 is well measured.
func surveyOf(day Day, trunks ...Trunk) Evidence { return roughSurvey(day, 0.02, trunks...) }

// roughSurvey is the same, the trunk of place 1 with another claimed error.
func roughSurvey(day Day, errorM float32, trunks ...Trunk) Evidence {
	return Evidence{Surveys: []Survey{{Name: "winter", Day: day, Spans: []Span{{0, 2}}}}, Trunks: append(trunks, Trunk{Vine: 1, Next: -1, ErrorM: errorM})}
}

var trunkHere = Trunk{Vine: 0, Next: -1, Fit: FitClear, AlongM: 0.03, AsideM: -0.02, ErrorM: 0.015}

// What an agronomist expects of one position. Rules: a gap from the air is a
// suspicion (Drones 7:349, 2023, and common practice); dead needs a second look or
// a person's word (Delayed spring growth and grapevine production during drought,
// progressivecrop.com, 2022).
func TestJudge_OnePosition(t *testing.T) {
	twoDead := []Sighting{saw(jan(5), "Ana", vine.Dead), saw(jan(20), "Ben", vine.Dead)}
	with := func(e Evidence, s ...Sighting) Evidence { e.Sightings = s; return e }
	for _, c := range []struct {
		name   string
		e      Evidence
		want   State
		contra Contradictions
		look   Day
		says   string
	}{
		{"nobody looked", Evidence{}, Unjudged, 0, 0, "Nobody has looked"},
		{"a crew saw it bear", with(Evidence{}, saw(jan(5), "Ana", vine.Bearing)), Living, 0, 0, "Ana saw it living"},
		{"weak is living", with(Evidence{}, saw(jan(5), "Ana", vine.Weak)), Living, 0, 0, ""},
		{"missing needs one look", with(Evidence{}, saw(jan(5), "Ana", vine.Missing)), Missing, 0, 0, "Ana saw it missing"},
		{"dead once", with(Evidence{}, saw(jan(5), "Ana", vine.Dead)), Doubtful, 0, jan(5) + 30, "needs 2 sightings"},
		{"dead twice on one day", with(Evidence{}, saw(jan(5), "Ana", vine.Dead), saw(jan(5), "Ben", vine.Dead)), Doubtful, 0, jan(5) + 30, "needs 2 sightings"},
		{"dead on two days", with(Evidence{}, twoDead...), DeadStanding, 0, 0, "dead standing"},
		{"dead once, confirmed", with(Evidence{}, sure(saw(jan(5), "Ana", vine.Dead))), DeadStanding, 0, 0, "after a look to decide"},
		{"dead above the graft twice", with(Evidence{}, graft(jan(5), "Ana"), graft(jan(9), "Ana")), DeadAboveGraft, 0, 0, ""},
		{"dead, then rootstock shoots seen", with(Evidence{}, saw(jan(5), "Ana", vine.Dead), graft(jan(9), "Ana")), DeadAboveGraft, 0, 0, ""},
		{"dead, then it budded", with(Evidence{}, saw(jan(5), "Ana", vine.Dead), saw(jan(20), "Ben", vine.Weak)), Living, 0, 0, ""},
		{"dead, budded, dead again once", with(Evidence{}, saw(jan(5), "Ana", vine.Dead), saw(jan(8), "Ana", vine.Weak), saw(jan(20), "Ana", vine.Dead)), Doubtful, 0, jan(20) + 30, "so far 1"},
		{"dead twice, then living", with(Evidence{}, append(twoDead, saw(jan(25), "Cy", vine.Bearing))...), Living, LivingAfterDead, 0, "had been found dead"},
		{"dead, then gone", with(Evidence{}, saw(jan(5), "Ana", vine.Dead), saw(jan(20), "Ben", vine.Missing)), Missing, 0, 0, ""},
		{"doubtful with a day", with(Evidence{}, Sighting{Day: jan(5), By: "Ana", Condition: vine.Doubtful, LookAgain: Date(2027, 5, 1)}), Doubtful, 0, Date(2027, 5, 1), "look again from 2027-05-01 on"},
		{"doubtful without a day", with(Evidence{}, saw(jan(5), "Ana", vine.Doubtful)), Doubtful, 0, jan(5) + 30, ""},
		{"two people, one day", with(Evidence{}, saw(jan(5), "Ana", vine.Bearing), saw(jan(5), "Ben", vine.Missing)), Doubtful, SightingsDiffer, jan(5) + 30, "different things on the same day"},
		{"two who decide, one day", with(Evidence{}, sure(saw(jan(5), "Ana", vine.Bearing)), sure(saw(jan(5), "Ben", vine.Missing))), Doubtful, SightingsDiffer, jan(5) + 30, ""},
		{"one who decides against a crew, one day", with(Evidence{}, sure(saw(jan(5), "Ana", vine.Bearing)), saw(jan(5), "Ben", vine.Missing)), Living, 0, 0, ""},
		{"living and doubtful, one day", with(Evidence{}, saw(jan(5), "Ana", vine.Doubtful), saw(jan(5), "Ben", vine.Bearing)), Doubtful, 0, jan(5) + 30, ""},
		{"dead for one, rootstock shoots for the other", with(Evidence{}, graft(jan(5), "Ana"), saw(jan(5), "Ben", vine.Dead), saw(jan(7), "Ben", vine.Dead), graft(jan(7), "Cy")), DeadAboveGraft, 0, 0, ""},
		{"missing and doubtful, one day", with(Evidence{}, saw(jan(5), "Ana", vine.Doubtful), saw(jan(5), "Ben", vine.Missing)), Doubtful, SightingsDiffer, jan(5) + 30, ""},
		{"settled by a person", with(Evidence{}, saw(jan(5), "Ana", vine.Bearing), saw(jan(5), "Ben", vine.Missing), sure(saw(jan(9), "Cy", vine.Missing))), Missing, 0, 0, ""},
		{"living where nothing stood", with(Evidence{}, saw(jan(5), "Ana", vine.Missing), saw(jan(9), "Ben", vine.Bearing)), Living, LivingAfterMissing, 0, "without a planting"},
		{"dead where nothing stood", with(Evidence{}, saw(jan(5), "Ana", vine.Missing), saw(jan(9), "Ben", vine.Dead)), Doubtful, DeadAfterMissing, jan(9) + 30, ""},
		{"replanted", with(Evidence{}, saw(jan(5), "Ana", vine.Missing), saw(jan(9), "Ben", vine.Replanted)), Living, 0, 0, "of another plant"},
		{"planted by the record", Evidence{Sightings: []Sighting{saw(jan(5), "Ana", vine.Missing)}, Records: []Record{{0, jan(9), Planted}}}, Living, 0, 0, "Planted on 2027-01-09"},
		{"pulled", Evidence{Sightings: []Sighting{saw(jan(5), "Ana", vine.Diseased)}, Records: []Record{{0, jan(9), Pulled}}}, Missing, 0, 0, "pulled"},
		{"pulled and planted on one day", Evidence{Records: []Record{{0, jan(9), Pulled}, {0, jan(9), Planted}}}, Living, 0, 0, ""},
		{"left out at planting", Evidence{Records: []Record{{0, 0, LeftOut}}}, Missing, 0, 0, "left out at planting"},
		{"living after it was pulled", Evidence{Sightings: []Sighting{saw(jan(20), "Ana", vine.Bearing)}, Records: []Record{{0, jan(9), Pulled}}}, Living, LivingAfterPulled, 0, ""},
		{"trunk surveyed", surveyOf(jan(9), trunkHere), Living, 0, 0, "taken to live"},
		{"surveyed, no trunk", surveyOf(jan(9)), Missing, 0, 0, "none stands here"},
		{"surveyed roughly, no trunk", roughSurvey(jan(9), 0.3), Suspected, 0, 0, "no more than a suspicion"},
		{"surveyed with an error that nobody said", roughSurvey(jan(9), 0), Suspected, 0, 0, "no more than a suspicion"},
		{"seen living, surveyed roughly soon after", with(roughSurvey(jan(9), 0.5), saw(jan(5), "Ana", vine.Bearing)), Living, SurveyMissesLiving, 0, ""},
		{"seen living long before, surveyed roughly", with(roughSurvey(jan(9), 0.5), saw(jan(9)-730, "Ana", vine.Bearing)), Suspected, 0, 0, ""},
		{"dead once, surveyed roughly", with(roughSurvey(jan(9), 0.5), saw(jan(5), "Ana", vine.Dead)), Doubtful, 0, jan(5) + 30, ""},
		{"no sure trunk", surveyOf(jan(9), Trunk{Vine: 0, Next: -1, Fit: FitReview}), Suspected, 0, 0, "doubtful point (review)"},
		{"the other place of a doubtful point", surveyOf(jan(9), Trunk{Vine: -1, Next: 0, Fit: FitPoor}), Suspected, 0, 0, "doubtful point (poor)"},
		{"a point outside is nothing", surveyOf(jan(9), Trunk{Vine: -1, Next: -1, Fit: FitOutside}), Missing, 0, 0, ""},
		{"seen living, no trunk soon after", with(surveyOf(jan(9)), saw(jan(5), "Ana", vine.Bearing)), Doubtful, SurveyMissesLiving, jan(9) + 30, ""},
		{"seen living two years before, no trunk", with(surveyOf(jan(9)), saw(jan(9)-730, "Ana", vine.Bearing)), Missing, 0, 0, "long before"},
		{"no trunk, seen living after", with(surveyOf(jan(5)), saw(jan(9), "Ana", vine.Bearing)), Living, SurveyMissesLiving, 0, ""},
		{"dead once, then no trunk", with(surveyOf(jan(9)), saw(jan(5), "Ana", vine.Dead)), Missing, 0, 0, "is gone"},
		{"no trunk, then seen dead twice", with(surveyOf(jan(2)), twoDead...), DeadStanding, 0, 0, ""},
		{"bud late, then no trunk", with(surveyOf(jan(9)), saw(jan(5), "Ana", vine.Doubtful)), Doubtful, 0, jan(5) + 30, ""},
		{"missing, then a trunk", with(surveyOf(jan(9), trunkHere), saw(jan(5), "Ana", vine.Missing)), Doubtful, TrunkAtMissing, jan(9) + 30, ""},
		{"missing confirmed, a trunk that day", with(surveyOf(jan(5), trunkHere), sure(saw(jan(5), "Ana", vine.Missing))), Missing, TrunkAtMissing, 0, ""},
		{"a trunk, then missing", with(surveyOf(jan(5), trunkHere), saw(jan(9), "Ana", vine.Missing)), Missing, 0, 0, "gone since"},
		{"dead and its trunk surveyed", with(surveyOf(jan(25), trunkHere), twoDead...), DeadStanding, 0, 0, ""},
		{"survey before the planting", Evidence{Surveys: surveyOf(jan(5)).Surveys, Records: []Record{{0, jan(9), Planted}}}, Living, 0, 0, ""},
		{"a detection alone", Evidence{Detections: []Detection{{0, jan(9), 0.97, "flight", ""}}}, Suspected, 0, 0, "no more than a suspicion"},
		{"two detections", Evidence{Detections: []Detection{{0, jan(9), 1, "flight", ""}, {0, jan(12), 1, "satellite", ""}}}, Suspected, 0, 0, ""},
		{"a weak detection", Evidence{Detections: []Detection{{0, jan(9), 0.3, "flight", ""}}}, Unjudged, 0, 0, "score 0.30"},
		{"detection against a fresh look", Evidence{Sightings: []Sighting{saw(jan(5), "Ana", vine.Bearing)}, Detections: []Detection{{0, jan(9), 0.9, "flight", ""}}}, Living, DetectionAtLiving, 0, "that holds"},
		{"detection a year after a look", Evidence{Sightings: []Sighting{saw(jan(9)-365, "Ana", vine.Bearing)}, Detections: []Detection{{0, jan(9), 0.9, "flight", ""}}}, Suspected, DetectionAtLiving, 0, ""},
		{"detection before the look", Evidence{Sightings: []Sighting{saw(jan(12), "Ana", vine.Bearing)}, Detections: []Detection{{0, jan(9), 0.9, "flight", ""}}}, Living, 0, 0, ""},
		{"detection after a planting", Evidence{Records: []Record{{0, jan(5), Planted}}, Detections: []Detection{{0, jan(2), 1, "flight", ""}}}, Living, 0, 0, ""},
		{"canopy at a gap", Evidence{Sightings: []Sighting{saw(jan(5), "Ana", vine.Missing)}, Detections: []Detection{{0, jan(9), 0.05, "flight", ""}}}, Missing, CanopyAtGap, 0, "neighbour's cane"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.e.Places = 2
			f := judge(t, &c.e)
			why := strings.Join(f.Explain(0), "\n")
			v := f.Verdicts[0]
			require.Equal(t, c.want.String(), v.State.String(), why)
			require.Equal(t, c.contra.Words(), v.Contradictions.Words(), why)
			require.Equal(t, c.look, v.LookAgain, why)
			require.Contains(t, why, c.says)
			require.Equal(t, v, f.w.judge(0, all, nil), "the same whether reasons are asked for or not")
			require.Contains(t, why, "Result: "+c.want.String())
		})
	}
}

func TestJudge_DaysApart(t *testing.T) {
	s := DefaultFindSettings()
	s.DaysApart = 21
	e := &Evidence{Places: 1, Sightings: []Sighting{saw(jan(1), "Ana", vine.Dead), saw(jan(15), "Ana", vine.Dead)}}
	f, err := Judge(e, s)
	require.NoError(t, err)
	require.Equal(t, Doubtful, f.Verdicts[0].State)
	e.Sightings = append(e.Sightings, saw(jan(22), "Ben", vine.Dead))
	f, err = Judge(e, s)
	require.NoError(t, err)
	require.Equal(t, DeadStanding, f.Verdicts[0].State)
	require.Equal(t, [Missing + 1]int{DeadStanding: 1}, f.Gaps())
	s.DeadDays = 4
	f, err = Judge(e, s)
	require.NoError(t, err)
	require.Equal(t, Doubtful, f.Verdicts[0].State, "three days, four wanted")
}

func TestJudge_Refuses(t *testing.T) {
	ok := DefaultFindSettings()
	for name, e := range map[string]*Evidence{
		"none":                nil,
		"vine not there":      {Places: 1, Sightings: []Sighting{{Vine: 1, Condition: vine.Dead}}},
		"nothing seen":        {Places: 1, Sightings: []Sighting{{}}},
		"score above 1":       {Places: 1, Detections: []Detection{{Score: 1.1}}},
		"no such survey":      {Places: 1, Trunks: []Trunk{trunkHere}},
		"clear without place": {Places: 1, Surveys: []Survey{{}}, Trunks: []Trunk{{Vine: -1, Next: -1}}},
		"span too long":       {Places: 1, Surveys: []Survey{{Spans: []Span{{0, 2}}}}},
		"no such record":      {Places: 1, Records: []Record{{Kind: 9}}},
	} {
		_, err := Judge(e, ok)
		require.ErrorIs(t, err, ErrEvidence, name)
	}
	for name, change := range map[string]func(*FindSettings){
		"one sighting":  func(s *FindSettings) { s.DeadDays = 1 },
		"same day":      func(s *FindSettings) { s.DaysApart = 0 },
		"no look again": func(s *FindSettings) { s.LookAgainDays = 0 },
		"conflict":      func(s *FindSettings) { s.ConflictDays = -1 },
		"sure":          func(s *FindSettings) { s.SureErrorM = 0 },
		"suspect":       func(s *FindSettings) { s.SuspectFrom = 0 },
		"canopy":        func(s *FindSettings) { s.CanopyBelow = 0.5 },
	} {
		s := ok
		change(&s)
		_, err := Judge(&Evidence{}, s)
		require.ErrorIs(t, err, ErrSettings, name)
	}
}

func TestFromRecord(t *testing.T) {
	at := Date(2027, 5, 2).time()
	got := FromRecord(3, vine.Sighting{Condition: vine.Dead, Cause: "dead above graft, frost", LookAgain: &at}, "Ana", jan(4))
	require.Equal(t, Sighting{Vine: 3, Day: jan(4), By: "Ana", Condition: vine.Dead, AboveGraft: true, LookAgain: Date(2027, 5, 2)}, got)
	require.False(t, FromRecord(3, vine.Sighting{Condition: vine.Diseased, Cause: "above graft"}, "Ana", jan(4)).AboveGraft)
}

// Each source is told apart, whatever the verdict.
func TestFindings_BySource(t *testing.T) {
	e := surveyOf(jan(9), trunkHere)
	e.Places = 2
	e.Sightings = []Sighting{saw(jan(5), "Ana", vine.Dead)}
	e.Detections = []Detection{{0, jan(12), 0.9, "flight", ""}}
	e.Records = []Record{{0, Date(2019, 3, 1), Planted}}
	f := judge(t, &e)
	var got [Sources]State
	for k, v := range f.BySource(0) {
		got[k] = v.State
	}
	require.Equal(t, [Sources]State{FromCrews: Doubtful, FromRecords: Living, FromSurveys: Living, FromDetections: Suspected}, got)
	require.Equal(t, Doubtful, f.Verdicts[0].State)
	require.Equal(t, "surveyed trunks", FromSurveys.String())
}
