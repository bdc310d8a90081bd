package crew_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"courson/geo/crew"
)

// Wanted: 2,000 rows among 8 crews in 50 ms.
func BenchmarkShareOut(b *testing.B) {
	for _, c := range []struct {
		name    string
		skilled float64
	}{{"all alike", 0}, {"young rows here and there", 0.1}} {
		random := rand.New(rand.NewPCG(1, 2))
		var minutes []float64
		for range 2000 {
			m := 60 + 240*random.Float64()
			if random.Float64() < c.skilled {
				m = -m
			}
			minutes = append(minutes, m)
		}
		var crews []crew.Crew
		for i := range 8 {
			crews = append(crews, gang(fmt.Sprint(i), 3+i%4, i < 3))
		}
		rows := rowsOf(minutes...)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := crew.ShareOut(rows, crews, crew.ShareOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(c.name+", no slack", func(b *testing.B) {
			for b.Loop() {
				if _, err := crew.ShareOut(rows, crews, crew.ShareOptions{Slack: -1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
