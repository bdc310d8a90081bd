package rate

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkMake_Million: three zones of 1 million vines from two seasons, with
// standard errors, smoothed, merged and snapped. Figure to reach: 5 s on two
// processors.
func BenchmarkMake_Million(b *testing.B) {
	st := scene{rows: 1000, vines: 1000, rowM: 2, vineM: 1, azimuthDeg: 12}.stand(b)
	columns := []Column{waves(st, "2026", 1, 0.1), waves(st, "2027", 2, 0.1)}
	for k := range columns {
		columns[k].SE = make([]float32, len(columns[k].Values))
		for i := range columns[k].SE {
			columns[k].SE[i] = 0.05
		}
	}
	for _, method := range []Method{KMeansMethod, NaturalMethod, FuzzyMethod} {
		for name, o := range map[string]Options{"by vine": {}, "by pass": {WidthM: 6}} {
			o.Method = method
			b.Run(method.String()+" "+name, func(b *testing.B) {
				for b.Loop() {
					z, err := Make(st, columns, o)
					require.NoError(b, err)
					require.Len(b, z.List, 3)
				}
			})
		}
	}
}

// BenchmarkOutlines_Million: their outlines.
func BenchmarkOutlines_Million(b *testing.B) {
	st := scene{rows: 1000, vines: 1000, rowM: 2, vineM: 1, azimuthDeg: 12}.stand(b)
	z, err := Make(st, []Column{waves(st, "2026", 1, 0.1)}, Options{})
	require.NoError(b, err)
	for b.Loop() {
		require.Len(b, z.Outlines(), 3)
	}
}
