package layout_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/layout"
)

// An invented block: 8 rows at azimuth 20.0°, 1.80 m apart, 22.00 m long, drawn
// from the south end; 21 places 1.10 m apart. Coordinates are rounded to nine
// decimals of a degree, as they come in files.
var (
	blockB1 = orb.Polygon{{
		{11.369982704, 45.209990087}, {11.370154953, 45.209945771}, {11.370263796, 45.210157154},
		{11.370091547, 45.21020147}, {11.369982704, 45.209990087}}}
	rowsB1 = []orb.LineString{
		{{11.37, 45.21}, {11.370095782, 45.210186018}},
		{{11.370021531, 45.209994461}, {11.370117313, 45.210180478}},
		{{11.370043062, 45.209988921}, {11.370138844, 45.210174939}},
		{{11.370064593, 45.209983382}, {11.370160375, 45.210169399}},
		{{11.370086124, 45.209977842}, {11.370181907, 45.21016386}},
		{{11.370107655, 45.209972302}, {11.370203438, 45.21015832}},
		{{11.370129187, 45.209966763}, {11.370224969, 45.21015278}},
		{{11.370150718, 45.209961223}, {11.3702465, 45.210147241}},
	}
	row4Cut = orb.MultiLineString{
		{{11.370064593, 45.209983382}, {11.370102906, 45.210057789}},
		{{11.370122063, 45.210094992}, {11.370160375, 45.210169399}},
	}
	planted = layout.Spacing{VineM: 1.1}
)

func frameB1(t testing.TB) frame.Frame {
	t.Helper()
	f, err := frame.ForGeometry(blockB1)
	require.NoError(t, err)
	return f
}

func end(t testing.TB, word string) layout.End {
	t.Helper()
	e, err := layout.ParseEnd(word)
	require.NoError(t, err)
	return e
}

func mustRow(t testing.TB, f frame.Frame, g orb.Geometry, e layout.End) layout.Row {
	t.Helper()
	r, err := layout.NewRow(f, g, e)
	require.NoError(t, err)
	return r
}

func knownB1(t testing.TB) []layout.Known {
	t.Helper()
	f := frameB1(t)
	var out []layout.Known
	for _, ls := range rowsB1 {
		laid, err := layout.Places(f, ls, end(t, "S"), planted)
		require.NoError(t, err)
		out = append(out, layout.Known{Row: laid.Row, Places: laid.Places})
	}
	return out
}

func reversed(ls orb.LineString) orb.LineString {
	out := ls.Clone()
	out.Reverse()
	return out
}

// apartM is the geodesic distance, independent of the block's frame.
func apartM(a, b orb.Point) float64 { return frame.WGS84.Distance(a, b) }

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g, allowed %.3g", what, got, want, tol)
	}
}
