package vigour

import (
	"testing"

	"courson/geo/vine"
)

// A block of 100,000 vines, 2,000 weighed, the rest kriged from the 24 nearest:
// the whole of it, with variogram and leave-one-out check. Kriging alone is
// measured in geo/krige; it is to stay under 0.6 s on two cores.
func BenchmarkEstimate_100000From2000(b *testing.B) {
	p := plot{rows: 250, vines: 400, rowM: 2.2, vineM: 1.1, azimuthDeg: 20}
	s := p.stand(b, 2027)
	weighEvery(s, 50, wave(s))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Estimate(Input{Stand: s}); err != nil {
			b.Fatal(err)
		}
	}
}

// A score on every vine and 200 weights: no kriging, all calibrated.
func BenchmarkEstimate_100000Scored(b *testing.B) {
	p := plot{rows: 250, vines: 400, rowM: 2.2, vineM: 1.1, azimuthDeg: 20}
	s := p.stand(b, 2027)
	w := wave(s)
	weighEvery(s, 500, w)
	length := column(s, vine.ShootLength, func(i int) (float64, bool) { return w(i) / 4, true })
	for b.Loop() {
		if _, err := Estimate(Input{Stand: s, Columns: []Column{length}}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPlan_60000(b *testing.B) {
	p := plot{rows: 200, vines: 300, rowM: 2.2, vineM: 1.1}
	s := p.stand(b, 2027)
	for b.Loop() {
		if _, err := Plan(PlanInput{Stand: s, Options: PlanOptions{Number: 200}}); err != nil {
			b.Fatal(err)
		}
	}
}
