package frame_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb/encoding/wkt"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
)

func line(t *testing.T, s string) frame.Line {
	t.Helper()
	ls, err := wkt.UnmarshalLineString(s)
	require.NoError(t, err)
	out := make(frame.Line, len(ls))
	for i, p := range ls {
		out[i] = frame.XY{X: p[0], Y: p[1]}
	}
	return out
}

func sameLine(t *testing.T, what string, got, want frame.Line, tol float64) {
	t.Helper()
	require.Len(t, got, len(want), what)
	for i := range want {
		require.Less(t, frame.Dist(got[i], want[i]), tol, "%s position %d", what, i)
	}
}

// PostGIS 3.3.2 (GEOS 3.11.1): ST_LineInterpolatePoint, ST_LineLocatePoint,
// ST_ClosestPoint, ST_LineSubstring, ST_OffsetCurve with mitre joins.
func TestLine_PostGIS(t *testing.T) {
	var c struct {
		Line        string       `json:"line_wkt"`
		Length      float64      `json:"length"`
		Interpolate [][3]float64 `json:"interpolate"`
		Locate      []struct {
			Point    [2]float64
			Fraction float64
			Distance float64
			Closest  [2]float64
		}
		Substring string `json:"substring_25_75"`
		Left      string `json:"offset_left_3_mitre"`
		Right     string `json:"offset_right_3_mitre"`
	}
	readJSON(t, "linear-referencing-planar.json", &c)
	l := line(t, c.Line)
	near(t, "length", l.Length(), c.Length, 1e-9)
	require.Len(t, c.Interpolate, 7)
	for _, x := range c.Interpolate {
		at, _ := l.At(x[0] * c.Length)
		near(t, "x", at.X, x[1], 1e-8)
		near(t, "y", at.Y, x[2], 1e-8)
	}
	require.Len(t, c.Locate, 5)
	for _, x := range c.Locate {
		hit := l.Nearest(frame.XY{X: x.Point[0], Y: x.Point[1]})
		near(t, "fraction", hit.Chainage/c.Length, x.Fraction, 1e-11)
		near(t, "distance", hit.Dist, x.Distance, 1e-9)
		near(t, "closest x", hit.At.X, x.Closest[0], 1e-8)
		near(t, "closest y", hit.At.Y, x.Closest[1], 1e-8)
		near(t, "offset", math.Abs(hit.Offset), x.Distance, 1e-9)
	}
	sameLine(t, "sub-line", l.Cut(c.Length/4, 3*c.Length/4), line(t, c.Substring), 1e-8)
	sameLine(t, "left", l.Parallel(3), line(t, c.Left), 1e-5)
	sameLine(t, "right", l.Parallel(-3), line(t, c.Right), 1e-5)
}

func TestLine_SidesAndEnds(t *testing.T) {
	l := frame.Line{{0, 0}, {10, 0}}
	for _, c := range []struct {
		p              frame.XY
		offset, beyond float64
	}{
		{frame.XY{X: 5, Y: 2}, -2, 0},
		{frame.XY{X: 5, Y: -2}, 2, 0},
		{frame.XY{X: 13, Y: 4}, -5, 3},
		{frame.XY{X: -3, Y: -4}, 5, 3},
		{frame.XY{X: 10, Y: 1}, -1, 0},
	} {
		hit := l.Nearest(c.p)
		near(t, "offset", hit.Offset, c.offset, 1e-12)
		near(t, "beyond", hit.Beyond, c.beyond, 1e-12)
	}
	require.True(t, math.IsInf(frame.Line{}.Nearest(frame.XY{}).Dist, 1))
	require.Equal(t, 5.0, frame.Line{{3, 4}}.Nearest(frame.XY{}).Dist)
	require.Nil(t, frame.Line{{1, 1}}.Cut(0, 1))
	require.Nil(t, frame.Line{{1, 1}, {1, 1}}.Parallel(3))
	at, az := frame.Line{{0, 0}, {0, 0}, {3, 0}, {3, 4}, {3, 4}}.At(3)
	require.Equal(t, frame.XY{X: 3, Y: 0}, at)
	require.Equal(t, 0.0, az)
	at, az = frame.Line{}.At(1)
	require.Equal(t, frame.XY{}, at)
	require.Equal(t, 0.0, az)
}

func TestAzimuth(t *testing.T) {
	for _, c := range []struct{ x, y, want float64 }{
		{0, 1, 0}, {1, 1, 45}, {1, 0, 90}, {0, -1, 180}, {-1, 0, 270}, {-1, 1, 315}, {0, 0, 0},
	} {
		require.InDelta(t, c.want, frame.Azimuth(frame.XY{}, frame.XY{X: c.x, Y: c.y}), 1e-12, "%v %v", c.x, c.y)
	}
}

var courtyard = frame.Polygon{
	{{0, 0}, {20, 0}, {20, 10}, {0, 10}, {0, 0}},
	{{5, 3}, {5, 7}, {9, 7}, {9, 3}, {5, 3}},
}

func TestPolygon_AreaAndInside(t *testing.T) {
	require.Equal(t, 200.0, courtyard[0].SignedArea())
	require.Equal(t, -16.0, courtyard[1].SignedArea())
	require.Equal(t, 184.0, courtyard.Area())
	require.Equal(t, 200.0, courtyard[0][:4].SignedArea(), "last position left out")
	for p, want := range map[frame.XY]bool{
		{X: 1, Y: 1}: true, {X: 7, Y: 5}: false, {X: 21, Y: 5}: false, {X: 10, Y: 5}: true, {X: 4, Y: 7}: true,
	} {
		require.Equal(t, want, courtyard.Contains(p), "%v", p)
		require.Equal(t, want, frame.MultiPolygon{courtyard}.Contains(p), "%v", p)
	}
	require.False(t, frame.Polygon{}.Contains(frame.XY{}))
	near(t, "border", frame.MultiPolygon{courtyard}.BorderDist(frame.XY{X: 7, Y: 5}), 2, 1e-12)
	require.True(t, math.IsInf(frame.MultiPolygon{}.BorderDist(frame.XY{}), 1))
}

func TestLine_Clip(t *testing.T) {
	mp := frame.MultiPolygon{courtyard}
	for _, c := range []struct {
		name string
		l    frame.Line
		want []frame.Line
	}{
		{"through the hole", frame.Line{{-5, 5}, {25, 5}}, []frame.Line{{{0, 5}, {5, 5}}, {{9, 5}, {20, 5}}}},
		{"inside", frame.Line{{1, 1}, {2, 1}, {2, 2}}, []frame.Line{{{1, 1}, {2, 1}, {2, 2}}}},
		{"outside", frame.Line{{-1, 1}, {-1, 9}}, nil},
		{"out and in again", frame.Line{{1, 9}, {1, 12}, {2, 12}, {2, 9}}, []frame.Line{{{1, 9}, {1, 10}}, {{2, 10}, {2, 9}}}},
		{"one position", frame.Line{{1, 1}}, nil},
		{"repeated positions", frame.Line{{1, 1}, {1, 1}, {3, 1}, {3, 1}}, []frame.Line{{{1, 1}, {3, 1}}}},
		{"empty", nil, nil},
	} {
		got := c.l.Clip(mp)
		require.Len(t, got, len(c.want), c.name)
		for i := range got {
			sameLine(t, c.name, got[i], c.want[i], 1e-9)
		}
	}
}

// What is inside and what is outside add up to the line, by counting along it.
func TestLine_ClipKeepsLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		co := rapid.Float64Range(-30, 30)
		l := make(frame.Line, rapid.IntRange(2, 6).Draw(t, "n"))
		for i := range l {
			l[i] = frame.XY{X: co.Draw(t, "x"), Y: co.Draw(t, "y")}
		}
		var clipped float64
		for _, part := range l.Clip(frame.MultiPolygon{courtyard}) {
			clipped += part.Length()
		}
		const n = 4000
		length, in := l.Length(), 0
		for i := range n {
			at, _ := l.At((float64(i) + 0.5) * length / n)
			if courtyard.Contains(at) {
				in++
			}
		}
		if want := length * float64(in) / n; math.Abs(clipped-want) > length*25/n {
			t.Fatalf("clipped %g m, counted %g of %g m", clipped, want, length)
		}
	})
}

func TestPolygon_Crossing(t *testing.T) {
	for _, c := range []struct {
		name    string
		pg      frame.Polygon
		at      frame.XY
		overlap bool
		ok      bool
	}{
		{"bow tie", frame.Polygon{{{0, 0}, {25, 14.4}, {25, 0}, {0, 14.4}, {0, 0}}}, frame.XY{X: 12.5, Y: 7.2}, false, false},
		{"simple", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}}, frame.XY{}, false, true},
		{"not closed", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {0, 10}}}, frame.XY{}, false, true},
		{"repeated positions", frame.Polygon{{{0, 0}, {0, 0}, {10, 0}, {10, 10}, {10, 10}, {0, 10}, {0, 0}, {0, 0}}}, frame.XY{}, false, true},
		{"position on a straight edge", frame.Polygon{{{0, 0}, {5, 0}, {10, 0}, {10, 10}, {0, 0}}}, frame.XY{}, false, true},
		{"with a hole", courtyard, frame.XY{}, false, true},
		{"spike", frame.Polygon{{{0, 0}, {10, 0}, {15, 0}, {10, 0}, {10, 10}, {0, 0}}}, frame.XY{X: 10, Y: 0}, true, false},
		{"figure of eight at a position", frame.Polygon{{{0, 0}, {5, 5}, {10, 0}, {10, 10}, {5, 5}, {0, 10}, {0, 0}}}, frame.XY{X: 5, Y: 5}, false, false},
		{"touches its own edge", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {5, 0}, {0, 10}, {0, 0}}}, frame.XY{X: 5, Y: 0}, false, false},
		{"hole crosses the border", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, {{8, 4}, {12, 4}, {12, 6}, {8, 6}}}, frame.XY{X: 10, Y: 4}, false, false},
		{"hole touches the border", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, {{8, 4}, {10, 5}, {8, 6}}}, frame.XY{}, false, true},
		{"two turns", frame.Polygon{{{0, 0}, {10, 0}, {10, 10}, {0, 0}, {10, 0}, {10, 10}, {0, 0}}}, frame.XY{}, true, false},
		{"there and back", frame.Polygon{{{0, 0}, {10, 0}, {0, 0}}}, frame.XY{}, true, false},
		{"nothing", frame.Polygon{{}}, frame.XY{}, false, true},
		{"none", nil, frame.XY{}, false, true},
	} {
		got, found := c.pg.Crossing()
		require.Equal(t, !c.ok, found, "%s: %+v", c.name, got)
		if found && c.at != (frame.XY{}) {
			require.Less(t, frame.Dist(c.at, got.At), 1e-6, "%s: %+v", c.name, got)
		}
		if found {
			require.Equal(t, c.overlap, got.Overlap, "%s: %+v", c.name, got)
		}
	}
}

// The sweep finds a crossing exactly where a look at every pair of edges does.
func TestPolygon_CrossingAgainstEveryPair(t *testing.T) {
	crosses := func(a, b, c, d frame.XY) bool {
		side := func(p, q, r frame.XY) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
		return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
	}
	rapid.Check(t, func(t *rapid.T) {
		r := make(frame.Ring, rapid.IntRange(3, 9).Draw(t, "n"))
		for i := range r {
			// Irregular coordinates, so that touches do not come up.
			r[i] = frame.XY{
				X: float64(rapid.IntRange(0, 1000).Draw(t, "x")) + 0.001*float64(i*i),
				Y: float64(rapid.IntRange(0, 1000).Draw(t, "y")) + 0.0007*float64(i*i*i),
			}
		}
		want := false
		for i := range r {
			for j := i + 2; j < len(r); j++ {
				if (j+1)%len(r) != i && crosses(r[i], r[i+1], r[j], r[(j+1)%len(r)]) {
					want = true
				}
			}
		}
		c, got := frame.Polygon{r}.Crossing()
		if want && !got {
			t.Fatalf("no crossing found in %v", r)
		}
		if got && !c.Overlap && !want {
			// A touch: the place found must lie on both edges.
			for _, e := range []int{c.EdgeA, c.EdgeB} {
				at, _ := frame.NearestOnSegment(c.At, r[e], r[(e+1)%len(r)])
				if frame.Dist(at, c.At) > 1e-6 {
					t.Fatalf("%v is not on edge %d of %v", c.At, e, r)
				}
			}
		}
	})
}

func TestLine_ParallelSharpBend(t *testing.T) {
	hairpin := frame.Line{{0, 0}, {10, 0}, {0, 0.01}}
	for _, p := range hairpin.Parallel(-2) {
		require.Less(t, math.Hypot(p.X-5, p.Y), 20.0, "corner runs away")
	}
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(0, 2*math.Pi).Draw(t, "azimuth")
		d := rapid.Float64Range(-50, 50).Draw(t, "distance")
		l := frame.Line{{3, 4}, {3 + 100*math.Sin(az), 4 + 100*math.Cos(az)}}
		p := l.Parallel(d)
		if math.Abs(p.Length()-100) > 1e-9 || math.Abs(l.Nearest(p[0]).Offset+d) > 1e-9 {
			t.Fatalf("parallel at %g is %v", d, p)
		}
	})
}

// International yard and pound agreement, 1959; NIST Special Publication 811,
// 2008, appendix B.8 and B.6: acre 4.046 873 E+03 m² (US survey), foot, inch,
// pound 4.535 924 E-01 kg.
func TestUnits_NIST(t *testing.T) {
	near(t, "acre", frame.Acre, 4046.8564224, 1e-9)
	near(t, "survey acre", frame.USSurveyAcre, 4046.873, 5e-4)
	near(t, "survey foot", frame.USSurveyFoot, 0.3048006, 5e-8)
	near(t, "foot", 12*frame.Inch, frame.Foot, 1e-15)
	near(t, "pound", frame.Pound, 0.4535924, 5e-8)
	near(t, "ounce", frame.Ounce, 0.02834952, 5e-9)
}
