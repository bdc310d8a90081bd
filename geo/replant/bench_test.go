package replant

import (
	"math/rand/v2"
	"testing"

	"courson/geo/vine"
)

// millionEvidence is an invented estate of a million positions: half were seen by
// crews, all surveyed but one in fifty, a tenth in detections.
func millionEvidence() *Evidence {
	const n = 1_000_000
	r := rand.New(rand.NewPCG(5, 6))
	e := &Evidence{Places: n, Surveys: []Survey{{Name: "winter", Day: jan(20), Spans: []Span{{0, n}}}}}
	for i := range int32(n) {
		if r.IntN(2) == 0 {
			e.Sightings = append(e.Sightings, Sighting{Vine: i, Day: jan(1 + r.IntN(28)), By: "Ana", Condition: vine.Condition(1 + r.IntN(8))})
		}
		if r.IntN(50) > 0 {
			e.Trunks = append(e.Trunks, Trunk{Vine: i, Next: -1, ErrorM: 0.02})
		}
		if r.IntN(10) == 0 {
			e.Detections = append(e.Detections, Detection{i, jan(25), r.Float32(), "flight", ""})
		}
		if r.IntN(20) == 0 {
			e.Records = append(e.Records, Record{i, jan(2), Planted})
		}
	}
	r.Shuffle(len(e.Sightings), func(a, b int) { e.Sightings[a], e.Sightings[b] = e.Sightings[b], e.Sightings[a] })
	return e
}

// A million positions: to stay under 2 s.
func BenchmarkJudge_Million(b *testing.B) {
	e := millionEvidence()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Judge(e, DefaultFindSettings()); err != nil {
			b.Fatal(err)
		}
	}
}

// A million vines, 100 blocks of 10,000, one vine in fifty infected: candidates and
// the comparison of each block, to stay under 2 s.
func BenchmarkPlan_Million(b *testing.B) {
	s := plotStand(b, 100, 100, 2027, 2010)
	r := rand.New(rand.NewPCG(1, 2))
	in := BlockInput{Stand: s}
	gaps := 0
	for i := range s.Condition {
		s.Condition[i] = vine.Bearing
		switch r.IntN(50) {
		case 0, 1:
			s.Condition[i] = vine.Missing
			gaps++
		case 2:
			in.Sick = append(in.Sick, Sickness{int32(i), KindLeafroll, jan(1)})
		}
	}
	block := BlockCase{Season: 2027, AreaHa: 2, Positions: 10_000, Gaps: gaps, Remaining: 15, Over: 3, KeepUp: true}
	for b.Loop() {
		for range 100 {
			if _, err := Candidates(in, DefaultRules()); err != nil {
				b.Fatal(err)
			}
			if _, err := Compare(block, DefaultMoney()); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkCandidates_10000(b *testing.B) {
	s := plotStand(b, 100, 100, 2027, 2010)
	for b.Loop() {
		if _, err := Candidates(BlockInput{Stand: s}, DefaultRules()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	block := BlockCase{AreaHa: 2, Positions: 10_000, Gaps: 600, Remaining: 15, Over: 3, KeepUp: true}
	for b.Loop() {
		if _, err := Compare(block, DefaultMoney()); err != nil {
			b.Fatal(err)
		}
	}
}
