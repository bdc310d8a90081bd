package pruning

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// benchBlock is an invented block of 10,000 vines of which most is known.
func benchBlock(b *testing.B) *Block {
	s := plotStand(b, 100, 100, 1.8, 2010)
	n := s.Ground.Len()
	r := rand.New(rand.NewPCG(1, 2))
	column := func(least, most float32) []float32 {
		c := make([]float32, n)
		for i := range c {
			c[i] = least + (most-least)*r.Float32()
		}
		return c
	}
	blk := &Block{Stand: s, AreaHa: 3.6, Drought: true, WeightG: column(-100, 1500), WeightSE: column(0, 60), WeightBasis: make([]Basis, n), CaneG: column(5, 60), CaneMM: column(5, 17),
		ArmMM: [2][]float32{column(5, 17), column(5, 17)}, NodesLeft: make([]int16, n), CanesLeft: make([]int16, n), WeakShoots: make([]int8, n)}
	for i := range n {
		s.Condition[i] = vine.Condition(1 + r.IntN(8))
		s.Leaf[i] = uint8(1 + r.IntN(20))
		blk.WeightBasis[i] = Basis(1 + r.IntN(3))
		blk.NodesLeft[i], blk.CanesLeft[i], blk.WeakShoots[i] = int16(4+r.IntN(24)), int16(r.IntN(3)), int8(r.IntN(2))
	}
	for i := 0; i < n; i += 500 {
		blk.Overrides = append(blk.Overrides, Override{Vine: i, Nodes: 12, Canes: -1, Reason: "trial", Author: "A. Roche"})
	}
	return blk
}

// A million vines, 100 blocks of 10,000 one after the other: to stay under 3 s.
func BenchmarkPlan_Million(b *testing.B) {
	blk := benchBlock(b)
	st := with(DoubleGuyot(), func(s *Standards) { s.Limits.CapPerVine, s.Limits.CapPerHa = 24, 60_000 })
	b.ReportAllocs()
	for b.Loop() {
		for range 100 {
			if _, err := Plan(blk, st); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e6, "ns/vine")
}

func BenchmarkSum_10000(b *testing.B) {
	r, err := Plan(benchBlock(b), with(DoubleGuyot()))
	require.NoError(b, err)
	for b.Loop() {
		r.Sum()
	}
}

func BenchmarkPractice_10000(b *testing.B) {
	r, err := Plan(benchBlock(b), with(DoubleGuyot()))
	require.NoError(b, err)
	for b.Loop() {
		r.Practice(PracticeVines, 1)
	}
}
