package renewal_test

import (
	"testing"

	"courson/geo/pruning/renewal"
)

func BenchmarkChoose(b *testing.B) {
	arm := armOf(lowerShoot("above", 8, 30, true), upperShoot(9))
	for b.Loop() {
		if _, err := renewal.Choose(arm, renewal.Settings{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	v := drawn(b)["two-arms"]
	for b.Loop() {
		if _, err := renewal.Draw(v, renewal.Style{Labels: true}); err != nil {
			b.Fatal(err)
		}
	}
}
