package patch

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkGiStar_Million: 1 million vines at 2 by 1 m, about 6 m along and 1.75
// rows across (35 vines in reach), neighbours found included. Figure to reach: 1 s on
// two processors.
func BenchmarkGiStar_Million(b *testing.B) {
	const rows, vines = 1000, 1000
	rng := rand.New(rand.NewPCG(1, 1))
	x, y, v := make([]float64, 0, rows*vines), make([]float64, 0, rows*vines), make([]float64, 0, rows*vines)
	s := scene{rows: rows, vines: vines, rowM: 2, vineM: 1, azimuthDeg: 12}
	for r := range rows {
		for n := range vines {
			p := s.place(r, n)
			x, y, v = append(x, p.X), append(y, p.Y), append(v, rng.NormFloat64())
		}
	}
	b.ResetTimer()
	for b.Loop() {
		got, err := GiStar(x, y, v, Reach{AlongM: 6.5, AcrossM: 3.5, AzimuthDeg: 12})
		require.NoError(b, err)
		require.Equal(b, 35, got[500_500].Neighbours)
	}
}

// estate is 14 blocks with 60,000 vines, each with a weak and a strong area.
func estate(b *testing.B) Input {
	var in Input
	for k := range 14 {
		s := scene{rows: 66, vines: 65, rowM: 2, vineM: 1, azimuthDeg: float64(13 * k)}
		if k%4 == 1 {
			s.radiusM, s.stagger = 150, true
		}
		in.Blocks = append(in.Blocks, withPatch(b, s, uint64(k)))
	}
	return in
}

// BenchmarkFind_Estate: everything for the patches of an estate of 60,000 vines
// after a new measure. Figure to reach: 1 s on two processors.
func BenchmarkFind_Estate(b *testing.B) {
	in := estate(b)
	b.ResetTimer()
	for b.Loop() {
		got, err := Find(in)
		require.NoError(b, err)
		require.Greater(b, got.Tests, 50_000)
		for _, f := range got.Blocks {
			require.NoError(b, f.Refused)
			require.NotEmpty(b, f.Patches)
		}
	}
}
