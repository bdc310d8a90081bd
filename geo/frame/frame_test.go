package frame_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
)

// anywhere draws a place where vines could grow, or nearly.
func anywhere(t *rapid.T) orb.Point {
	return orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-80, 80).Draw(t, "lat")}
}

// The promise of the frame: over 5 km from its centre a length in the plane and
// the geodesic agree to a millimetre, and there and back loses nothing.
func TestFrame_MillimetreOverFiveKilometres(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		origin := anywhere(t)
		f := frame.New(origin)
		az := rapid.Float64Range(0, 360).Draw(t, "azimuth")
		d := rapid.Float64Range(0, 5000).Draw(t, "distance")
		p, _ := frame.WGS84.Direct(origin, az, d)
		x, y := f.Forward(p)
		if off := math.Abs(math.Hypot(x, y) - d); off > 1e-3 {
			t.Fatalf("%g m from the centre is %g m in the frame, %g off", d, math.Hypot(x, y), off)
		}
		back := f.Inverse(x, y)
		if off := frame.WGS84.Distance(p, back); off > 1e-6 {
			t.Fatalf("there and back is %g m off", off)
		}
		if math.Abs(turn(back[0]-p[0])) > 1e-9 || math.Abs(back[1]-p[1]) > 1e-9 {
			t.Fatalf("there and back: %v became %v", p, back)
		}
		// A row 200 m long out there.
		q, _ := frame.WGS84.Direct(p, rapid.Float64Range(0, 360).Draw(t, "row"), 200)
		if off := math.Abs(frame.Dist(f.XY(p), f.XY(q)) - 200); off > 1e-3 {
			t.Fatalf("a row of 200 m at %g m is %g m off", d, off)
		}
	})
}

// Vines along a geodesic row, GeographicLib 2.1.2: the frame puts them on a
// straight line at their distances.
func TestFrame_RowInterpolation(t *testing.T) {
	a, b := orb.Point{145.32053757, -37.72832195}, orb.Point{145.32069100, -37.72779612}
	f := frame.For(orb.MultiPoint{a, b}.Bound())
	row := frame.Line{f.XY(a), f.XY(b)}
	near(t, "length", row.Length(), 59.909398, 6e-7)
	for _, m := range table(t, "row-interpolation.csv") {
		d := num(t, m, "distance_m")
		want := orb.Point{num(t, m, "lon"), num(t, m, "lat")}
		at, _ := row.At(d)
		require.Less(t, frame.WGS84.Distance(f.LonLat(at), want), 1e-6, "at %g m", d)
		p, _ := frame.WGS84.Direct(a, 13.048209063, d)
		require.Less(t, frame.WGS84.Distance(p, want), 1e-6, "geodesic at %g m", d)
		e, n := system(t, 28355).Forward(want)
		near(t, "easting", e, num(t, m, "easting_28355"), 6e-5)
		near(t, "northing", n, num(t, m, "northing_28355"), 6e-5)
	}
}

// A bent line by shares of its length, GeographicLib 2.1.2.
func TestFrame_PolylineFractions(t *testing.T) {
	var c struct {
		Line      [][2]float64 `json:"line_lonlat"`
		Segments  []float64    `json:"segment_lengths_m"`
		Length    float64      `json:"length_m"`
		Fractions []struct{ Fraction, Lon, Lat float64 }
	}
	readJSON(t, "polyline-fractions.json", &c)
	var ls orb.LineString
	for _, p := range c.Line {
		ls = append(ls, p)
	}
	f, err := frame.ForGeometry(ls)
	require.NoError(t, err)
	l := f.Line(ls)
	near(t, "length", l.Length(), c.Length, 1e-6)
	near(t, "geodesic length", frame.WGS84.Length(ls), c.Length, 1e-8)
	for i, s := range c.Segments {
		near(t, "piece", frame.Dist(l[i], l[i+1]), s, 1e-6)
	}
	require.Len(t, c.Fractions, 7)
	for _, x := range c.Fractions {
		at, _ := l.At(x.Fraction * c.Length)
		require.Less(t, frame.WGS84.Distance(f.LonLat(at), orb.Point{x.Lon, x.Lat}), 1e-6, "at %g", x.Fraction)
	}
}

func TestForGeometry_AcrossThe180thMeridian(t *testing.T) {
	square := func(west, east float64) orb.Polygon {
		return orb.Polygon{{{west, -16.8}, {east, -16.8}, {east, -16.82}, {west, -16.82}, {west, -16.8}}}
	}
	for _, pg := range []orb.Polygon{square(179.99, -179.99), square(179.99, 180.01), square(-180.01, -179.99)} {
		f, err := frame.ForGeometry(pg)
		require.NoError(t, err)
		require.InDelta(t, 180, f.Origin()[0], 1e-9)
		require.InDelta(t, -16.81, f.Origin()[1], 1e-12)
		near(t, "area", f.Polygon(pg).Area(), 4718519.679984093, 3)
		f = frame.For(pg.Bound())
		require.InDelta(t, 180, f.Origin()[0], 1e-9)
	}
	f := frame.For(orb.Bound{Min: orb.Point{179.9, -17}, Max: orb.Point{-179.8, -16}}) // as RFC 7946 writes it
	require.InDelta(t, -179.95, f.Origin()[0], 1e-9)
	p := f.Inverse(-20000, 0)
	require.InDelta(t, 179.862, p[0], 1e-3)
	x, _ := f.Forward(orb.Point{p[0] - 360, p[1]})
	require.InDelta(t, -20000, x, 1e-6)
}

func TestForGeometry_Refuses(t *testing.T) {
	for name, c := range map[string]struct {
		g    orb.Geometry
		want error
	}{
		"nil":                 {nil, frame.ErrNoPlace},
		"empty":               {orb.MultiPolygon{}, frame.ErrNoPlace},
		"empty rings":         {orb.Polygon{{}, {}}, frame.ErrNoPlace},
		"NaN":                 {orb.Point{math.NaN(), 1}, frame.ErrLonLat},
		"metres":              {orb.LineString{{686107.02, 5009011.6}}, frame.ErrLonLat},
		"latitude":            {orb.Collection{orb.Point{5, 45}, orb.Ring{{-35.1, 147.2}}}, frame.ErrLonLat},
		"infinite":            {orb.MultiPoint{{math.Inf(-1), 0}}, frame.ErrLonLat},
		"beyond one time and": {orb.Bound{Min: orb.Point{0, 0}, Max: orb.Point{541, 0}}, frame.ErrLonLat},
	} {
		_, err := frame.ForGeometry(c.g)
		require.ErrorIs(t, err, c.want, name)
	}
}

// At the origin the frame is true to scale and north, whatever the latitude.
func TestFrame_Origin(t *testing.T) {
	for _, p := range []orb.Point{{0, 0}, {-0.7489, 45.1989}, {173.85, -41.518}, {180, -16.8}, {12, 89}, {-68.89, -33.04}} {
		f := frame.New(p)
		x, y := f.Forward(p)
		near(t, "x", x, 0, 1e-9)
		near(t, "y", y, 0, 1e-8)
		north, _ := frame.WGS84.Direct(p, 0, 100)
		x, y = f.Forward(north)
		near(t, "x north", x, 0, 1e-8)
		near(t, "y north", y, 100, 1e-7)
	}
}

func TestFrame_NoNumbersNoPanic(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, p := range []orb.Point{{nan, 0}, {0, nan}, {inf, inf}, {0, 1e300}, {1e300, 0}} {
		f := frame.New(orb.Point{5, 45})
		x, y := f.Forward(p)
		_ = f.Inverse(x, y)
		frame.New(p).Forward(orb.Point{5, 45})
	}
}

func BenchmarkFrame_Forward(b *testing.B) {
	f := frame.New(orb.Point{145.32, -37.728})
	p := orb.Point{145.3212, -37.7278}
	var sum float64
	for b.Loop() {
		x, y := f.Forward(p)
		sum += x + y
	}
	_ = sum
}

func BenchmarkFrame_Inverse(b *testing.B) {
	f := frame.New(orb.Point{145.32, -37.728})
	var sum float64
	for b.Loop() {
		p := f.Inverse(105.7, 22.2)
		sum += p[0]
	}
	_ = sum
}

func BenchmarkGeodesic_Row(b *testing.B) {
	p, q := orb.Point{145.32053757, -37.72832195}, orb.Point{145.320687, -37.727808}
	for b.Loop() {
		frame.WGS84.Distance(p, q)
	}
}

func ExampleFrame() {
	block := orb.Polygon{{{11.37, 45.21}, {11.3703, 45.21}, {11.3703, 45.2102}, {11.37, 45.2102}, {11.37, 45.21}}}
	f, err := frame.ForGeometry(block)
	if err != nil {
		panic(err)
	}
	x, y := f.Forward(orb.Point{11.37, 45.21})
	fmt.Printf("south-west corner %.3f m east, %.3f m north of the middle\n", x, y)
	fmt.Printf("%.1f m²\n", f.Polygon(block).Area())
	// Output:
	// south-west corner -11.784 m east, -11.114 m north of the middle
	// 523.8 m²
}

func ExampleEPSG() {
	c, err := frame.EPSG(28355)
	if err != nil {
		panic(err)
	}
	p, err := c.ToWGS84(352000, 5823000)
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.6f %.6f\n%s\n", p[0], p[1], c.Datum.Assumed)
	// Output:
	// 145.320538 -37.728322
	// GDA94 taken as WGS 84; positions from a phone or on GDA2020 lie 1.5 to 1.8 m to the north-north-east
}
