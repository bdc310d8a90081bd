package replant

import (
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"courson/geo/vine"
)

// anyEvidence draws evidence of all sources on a few positions.
func anyEvidence(t *rapid.T) *Evidence {
	place := rapid.Int32Range(0, 3)
	day := rapid.Custom(func(t *rapid.T) Day { return jan(1) + Day(rapid.IntRange(0, 400).Draw(t, "day")/20*20) })
	e := &Evidence{Places: 4}
	e.Sightings = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Sighting {
		return Sighting{Vine: place.Draw(t, "vine"), Day: day.Draw(t, "when"), By: rapid.SampledFrom([]string{"Ana", "Ben"}).Draw(t, "who"),
			Condition: vine.Condition(rapid.IntRange(1, 8).Draw(t, "condition")), AboveGraft: rapid.Bool().Draw(t, "graft"), Confirmed: rapid.IntRange(0, 5).Draw(t, "sure") == 0}
	}), 0, 14).Draw(t, "sightings")
	e.Surveys = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Survey {
		from := place.Draw(t, "from")
		return Survey{Day: day.Draw(t, "when"), Spans: []Span{{from, rapid.Int32Range(from, 4).Draw(t, "to")}}}
	}), 0, 2).Draw(t, "surveys")
	if len(e.Surveys) > 0 {
		e.Trunks = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Trunk {
			return Trunk{Vine: place.Draw(t, "vine"), Next: -1, Survey: int32(rapid.IntRange(0, len(e.Surveys)-1).Draw(t, "survey")), Fit: Fit(rapid.IntRange(0, 4).Draw(t, "fit"))}
		}), 0, 5).Draw(t, "trunks")
	}
	e.Detections = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Detection {
		return Detection{place.Draw(t, "vine"), day.Draw(t, "when"), rapid.Float32Range(0, 1).Draw(t, "score"), "flight", ""}
	}), 0, 5).Draw(t, "detections")
	e.Records = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Record {
		return Record{place.Draw(t, "vine"), day.Draw(t, "when"), RecordKind(rapid.IntRange(0, 2).Draw(t, "kind"))}
	}), 0, 3).Draw(t, "records")
	return e
}

// Whatever the evidence: dead rests on two days or a person's word, doubtful has a
// day after what was seen, missing has a look, a survey or a record behind it, the
// order of the lists does not matter, and detections by themselves change nothing
// but between living, suspected and not judged.
func TestJudge_Holds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anyEvidence(t)
		f, err := Judge(e, DefaultFindSettings())
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range f.Verdicts {
			checkVerdict(t, e, int32(i), v)
		}
		sameShuffled(t, e, f)
		without := *e
		without.Detections = nil
		g, err := Judge(&without, DefaultFindSettings())
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range f.Verdicts {
			if old := g.Verdicts[i].State; v.State != old && !(v.State == Suspected && (old == Unjudged || old == Living)) {
				t.Fatalf("detections made %v of %v: %v", v.State, old, f.Explain(i))
			}
		}
	})
}

func checkVerdict(t *rapid.T, e *Evidence, i int32, v Verdict) {
	deadOn, word, missing := map[Day]bool{}, false, false
	for _, s := range e.Sightings {
		if s.Vine == i {
			if s.Condition == vine.Dead {
				deadOn[s.Day] = true
				word = word || s.Confirmed
			}
			missing = missing || s.Condition == vine.Missing
		}
	}
	for _, r := range e.Records {
		missing = missing || r.Vine == i && r.Kind != Planted
	}
	for _, s := range e.Surveys {
		missing = missing || s.Spans[0].From <= i && i < s.Spans[0].To
	}
	switch {
	case (v.State == DeadStanding || v.State == DeadAboveGraft) && len(deadOn) < 2 && !word:
		t.Fatalf("place %d: %v after %d days and no word", i, v.State, len(deadOn))
	case v.State == Missing && !missing:
		t.Fatalf("place %d: missing, and nobody said so", i)
	case (v.State == Doubtful) != (v.LookAgain != 0):
		t.Fatalf("place %d: %+v", i, v)
	case v.State == Suspected && v.Confirmed:
		t.Fatalf("place %d: a confirmed suspicion", i)
	}
}

func sameShuffled(t *rapid.T, e *Evidence, f *Findings) {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	other := *e
	other.Sightings = append([]Sighting(nil), e.Sightings...)
	other.Detections = append([]Detection(nil), e.Detections...)
	other.Records = append([]Record(nil), e.Records...)
	other.Trunks = append([]Trunk(nil), e.Trunks...)
	r.Shuffle(len(other.Sightings), func(a, b int) {
		other.Sightings[a], other.Sightings[b] = other.Sightings[b], other.Sightings[a]
	})
	r.Shuffle(len(other.Detections), func(a, b int) {
		other.Detections[a], other.Detections[b] = other.Detections[b], other.Detections[a]
	})
	r.Shuffle(len(other.Records), func(a, b int) { other.Records[a], other.Records[b] = other.Records[b], other.Records[a] })
	r.Shuffle(len(other.Trunks), func(a, b int) { other.Trunks[a], other.Trunks[b] = other.Trunks[b], other.Trunks[a] })
	g, err := Judge(&other, DefaultFindSettings())
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Verdicts {
		if f.Verdicts[i] != g.Verdicts[i] {
			t.Fatalf("place %d: %+v, shuffled %+v\n%v\n%v", i, f.Verdicts[i], g.Verdicts[i], f.Explain(i), g.Explain(i))
		}
	}
}
