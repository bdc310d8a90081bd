package layout_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/layout"
)

func TestPlaces_RoundedCoordinates(t *testing.T) {
	f := frameB1(t)
	for i, ls := range rowsB1 {
		laid, err := layout.Places(f, ls, end(t, "S"), planted)
		require.NoError(t, err)
		require.Len(t, laid.Places, 21, "row %d", i+1)
		near(t, "length", laid.Row.LengthM(), 22, 1e-3)
		near(t, "azimuth", laid.Row.AzimuthDeg(), 20, 0.005)
		require.Equal(t, []float64{0}, roundAll(laid.LeftOverM), "row %d", i+1)
		for k, p := range laid.Places {
			require.Equal(t, k+1, p.Number)
			near(t, "chainage", p.ChainageM, 1.1*float64(k), 1e-3)
			near(t, "from the end", apartM(ls[0], p.Point), 1.1*float64(k), 1e-3)
		}
		require.Less(t, apartM(laid.Places[20].Point, ls[1]), 1e-3)
	}
}

func roundAll(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = math.Round(v[i]*1000) / 1000
	}
	return out
}

// A road cuts the row: 18 places on 17.6 m of planted ground, none on the road,
// numbers run on, chainage leaves the road out.
func TestPlaces_RowCutByRoad(t *testing.T) {
	f := frameB1(t)
	turned := orb.MultiLineString{reversed(row4Cut[1]), reversed(row4Cut[0])}
	mixed := orb.MultiLineString{reversed(row4Cut[1]), row4Cut[0]}
	for name, g := range map[string]orb.MultiLineString{"in order": row4Cut, "from the north": turned, "mixed": mixed} {
		laid, err := layout.Places(f, g, end(t, "S"), planted)
		require.NoError(t, err, name)
		require.Len(t, laid.Row.Parts, 2, name)
		require.Len(t, laid.Places, 18, name)
		near(t, "planted", laid.Row.LengthM(), 17.6, 2e-3)
		for k, p := range laid.Places {
			require.Equal(t, k+1, p.Number, name)
			require.Equal(t, k/9, p.Part, name)
			near(t, name+" chainage", p.ChainageM, 1.1*float64(k-k/9), 2e-3)
			d := apartM(row4Cut[0][0], p.Point)
			require.True(t, d < 8.81 || d > 13.19, "%s: vine %d at %.2f m stands on the road", name, p.Number, d)
		}
		require.Less(t, apartM(laid.Places[0].Point, row4Cut[0][0]), 1e-3, name)
		require.Less(t, apartM(laid.Places[17].Point, row4Cut[1][1]), 1e-3, name)
	}
}

func TestPlaces_Parts(t *testing.T) {
	f := frameB1(t)
	a, b := f.LonLat(frame.XY{X: 0, Y: 0}), f.LonLat(frame.XY{X: 0, Y: 11})
	at := func(y float64) orb.Point { return f.LonLat(frame.XY{X: 0, Y: y}) }
	for _, c := range []struct {
		name     string
		g        orb.MultiLineString
		s        layout.Spacing
		parts, n int
	}{
		{"parts that touch are one", orb.MultiLineString{{a, b}, {b, at(22)}}, planted, 1, 21},
		{"parts that touch, drawn from both ends", orb.MultiLineString{{b, a}, {b, at(22)}}, planted, 1, 21},
		{"a part without length is left out", orb.MultiLineString{{a, b}, {at(15), at(15)}}, planted, 1, 11},
		{"room beside the road", orb.MultiLineString{{a, b}, {at(15), at(26)}}, layout.Spacing{VineM: 1.1, BreakM: 0.5}, 2, 20},
		{"a gap narrower than the spacing", orb.MultiLineString{{a, b}, {at(11.4), at(22)}}, planted, 2, 11 + 10},
		{"a part too short for a vine behind the road's edge", orb.MultiLineString{{a, b}, {at(15), at(15.2)}, {at(19), at(30)}},
			layout.Spacing{VineM: 1.1, BreakM: 0.3}, 3, 10 + 10},
	} {
		laid, err := layout.Places(f, c.g, layout.AsDrawn, c.s)
		require.NoError(t, err, c.name)
		require.Len(t, laid.Row.Parts, c.parts, c.name)
		require.Len(t, laid.Places, c.n, c.name)
		for i := 1; i < len(laid.Places); i++ {
			d := frame.Dist(laid.Places[i-1].At, laid.Places[i].At)
			require.GreaterOrEqual(t, d, 1.1-1e-3, "%s: vines %d and %d", c.name, i, i+1)
		}
	}
}

func TestPlaces_OffsetsAndLeftOver(t *testing.T) {
	f := frameB1(t)
	line := orb.LineString{f.LonLat(frame.XY{}), f.LonLat(frame.XY{X: 0, Y: 30})}
	for _, c := range []struct {
		s     layout.Spacing
		n     int
		first float64
		left  float64
	}{
		{layout.Spacing{VineM: 1.2}, 26, 0, 0},
		{layout.Spacing{VineM: 1.2, StartM: 0.6}, 25, 0.6, 0.6},
		{layout.Spacing{VineM: 1.2, StartM: 0.6, EndM: 0.6}, 25, 0.6, 0},
		{layout.Spacing{VineM: 1.1}, 28, 0, 0.3},
		{layout.Spacing{VineM: 7, StartM: 5, EndM: 5}, 3, 5, 6},
		{layout.Spacing{VineM: 1.2, StartM: 0.6, EndM: 0.61}, 25, 0.6, 0},    // 10 mm short: spread
		{layout.Spacing{VineM: 1.2, StartM: 0.6, EndM: 0.65}, 24, 0.6, 1.15}, // 50 mm short: not
	} {
		laid, err := layout.Places(f, line, layout.AsDrawn, c.s)
		require.NoError(t, err)
		require.Len(t, laid.Places, c.n, "%+v", c.s)
		near(t, "first", laid.Places[0].ChainageM, c.first, 1e-6)
		near(t, fmt.Sprintf("%+v left over", c.s), laid.LeftOverM[0], c.left, 1e-6)
	}
}

func TestPlaces_AlternatingDirections(t *testing.T) {
	f := frameB1(t)
	for i, ls := range rowsB1 {
		want, err := layout.Places(f, ls, end(t, "S"), planted)
		require.NoError(t, err)
		got, err := layout.Places(f, reversed(ls), end(t, "S"), planted)
		require.NoError(t, err)
		require.Len(t, got.Places, 21)
		for k := range got.Places {
			require.Less(t, apartM(want.Places[k].Point, got.Places[k].Point), 1e-3, "row %d vine %d", i+1, k+1)
		}
		gate := layout.Toward(orb.Point{11.3702, 45.2099})
		got, err = layout.Places(f, reversed(ls), gate, planted)
		require.NoError(t, err)
		require.Less(t, apartM(got.Places[0].Point, ls[0]), 1e-3, "nearest the gate")
		got, err = layout.Places(f, reversed(ls), layout.AsDrawn, planted)
		require.NoError(t, err)
		require.Less(t, apartM(got.Places[0].Point, ls[1]), 1e-3, "as drawn")
	}
}

func TestPlaces_RepeatedPositions(t *testing.T) {
	a, b := rowsB1[0][0], rowsB1[0][1]
	laid, err := layout.Places(frameB1(t), orb.LineString{a, a, b, b}, layout.AsDrawn, planted)
	require.NoError(t, err)
	require.Len(t, laid.Places, 21)
	require.Equal(t, 2, laid.Row.Repeated)
	near(t, "length", laid.Row.LengthM(), 22, 1e-3)
	near(t, "azimuth", laid.Row.AzimuthDeg(), 20, 0.005)
	near(t, "azimuth at vine 1", laid.Places[0].AzimuthDeg, 20, 0.01)
	near(t, "azimuth at vine 21", laid.Places[20].AzimuthDeg, 20, 0.01)
}

// The block's twins on the 180th meridian and on a border of UTM zones: rows of
// 22.00 m as anywhere else.
func TestPlaces_AwkwardMeridians(t *testing.T) {
	for name, c := range map[string]struct {
		block orb.Polygon
		rows  []orb.LineString
	}{
		"180": {
			orb.Polygon{{{179.999887253, -16.800009955}, {-179.999985806, -16.800054459}, {-179.999905594, -16.79984218},
				{179.999967466, -16.799797676}, {179.999887253, -16.800009955}}},
			[]orb.LineString{{{179.9999, -16.8}, {179.999970587, -16.799813194}},
				{{-179.999988927, -16.800038941}, {-179.999918341, -16.799852135}}},
		},
		"zones 32 and 33": {
			orb.Polygon{{{11.999859246, 45.209990087}, {12.000031495, 45.209945771}, {12.000140338, 45.210157154},
				{11.999968089, 45.21020147}, {11.999859246, 45.209990087}}},
			[]orb.LineString{{{11.999876542, 45.21}, {11.999972324, 45.210186018}},
				{{12.00002726, 45.209961223}, {12.000123042, 45.210147241}}},
		},
	} {
		f, err := frame.ForGeometry(c.block)
		require.NoError(t, err, name)
		near(t, name+" area", f.Polygon(c.block).Area(), 360, 0.05)
		near(t, name+" area on the ellipsoid", frame.WGS84.PolygonArea(c.block), 360, 0.05)
		var rows []layout.Row
		for _, ls := range c.rows {
			laid, err := layout.Places(f, ls, end(t, "S"), planted)
			require.NoError(t, err, name)
			require.Len(t, laid.Places, 21, name)
			near(t, name+" length", laid.Row.LengthM(), 22, 1e-3)
			rows = append(rows, laid.Row)
		}
		near(t, name+" rows apart", layout.Distances(rows)[0], 7*1.8, 2e-3)
	}
}

func TestPlaces_Refuses(t *testing.T) {
	f := frameB1(t)
	ls := rowsB1[0]
	a := ls[0]
	nan, inf := math.NaN(), math.Inf(1)
	long := orb.LineString{f.LonLat(frame.XY{X: 0, Y: -5000}), f.LonLat(frame.XY{X: 0, Y: 5000})}
	for _, c := range []struct {
		name string
		g    orb.Geometry
		e    string
		s    layout.Spacing
		want error
		says string
	}{
		{"one position", orb.LineString{a}, "S", planted, layout.ErrOnePosition, "1 positions"},
		{"none", orb.LineString{}, "S", planted, layout.ErrOnePosition, "0 positions"},
		{"no parts", orb.MultiLineString{}, "S", planted, layout.ErrOnePosition, ""},
		{"both ends the same", orb.LineString{a, a}, "S", planted, layout.ErrZeroLength, "2 positions"},
		{"a point", a, "S", planted, layout.ErrNotLine, "Point"},
		{"nothing", nil, "S", planted, layout.ErrNotLine, "no geometry"},
		{"a polygon", blockB1, "S", planted, layout.ErrNotLine, "Polygon"},
		{"NaN", orb.LineString{a, {nan, 45}}, "S", planted, frame.ErrLonLat, "position 1"},
		{"latitude first", orb.LineString{{45.21, 111.37}, {45.2, 111.37}}, "S", planted, frame.ErrLonLat, "111.37"},
		{"another continent", orb.LineString{{145.5, -37}, {145.5, -37.1}}, "S", planted, layout.ErrFar, "20 km"},
		{"east of a row that runs north", orb.LineString{{11.37, 45.21}, {11.37, 45.2102}}, "E", planted, layout.ErrEndUnclear, "E of a row"},
		{"spacing 0", ls, "S", layout.Spacing{}, layout.ErrSpacing, "0"},
		{"spacing NaN", ls, "S", layout.Spacing{VineM: nan}, layout.ErrSpacing, "NaN"},
		{"spacing negative", ls, "S", layout.Spacing{VineM: -1.1}, layout.ErrSpacing, "-1.1"},
		{"spacing infinite", ls, "S", layout.Spacing{VineM: inf}, layout.ErrSpacing, ""},
		{"offset negative", ls, "S", layout.Spacing{VineM: 1.1, StartM: -1}, layout.ErrOffset, "start offset -1"},
		{"offset NaN", ls, "S", layout.Spacing{VineM: 1.1, EndM: nan}, layout.ErrOffset, "end offset"},
		{"offset at a road", ls, "S", layout.Spacing{VineM: 1.1, BreakM: inf}, layout.ErrOffset, "road"},
		{"degrees for metres", ls, "S", layout.Spacing{VineM: 0.00001}, layout.ErrTooMany, "vines"},
		{"long row, too many", long, "S", layout.Spacing{VineM: 0.4}, layout.ErrTooMany, "25001 vines"},
		{"centimetres for metres", ls, "S", layout.Spacing{VineM: 110}, layout.ErrShort, "1 vines"},
		{"offsets eat the row", ls, "S", layout.Spacing{VineM: 1.1, StartM: 12, EndM: 12}, layout.ErrShort, "0 vines"},
		{"the same part twice", orb.MultiLineString{ls, ls}, "S", planted, layout.ErrOverlap, "part"},
		{"201 parts", make(orb.MultiLineString, 201), "S", planted, layout.ErrTooMany, "201"},
	} {
		_, err := layout.Places(f, c.g, end(t, c.e), c.s)
		require.ErrorIs(t, err, c.want, c.name)
		require.ErrorContains(t, err, c.says, c.name)
	}
	_, err := layout.ParseEnd("upwards")
	require.ErrorIs(t, err, layout.ErrEnd)
	_, err = layout.Places(f, ls, layout.Toward(orb.Point{nan, 0}), planted)
	require.ErrorIs(t, err, layout.ErrEndUnclear)
}

func TestParseEnd(t *testing.T) {
	for in, want := range map[string]string{
		"N": "N", "se": "SE", "South-West": "SW", "north west": "NW", "": "first", "First": "first", "east": "E",
	} {
		e, err := layout.ParseEnd(in)
		require.NoError(t, err, in)
		require.Equal(t, want, e.String())
	}
	require.Equal(t, "near 11.370000 45.210000", layout.Toward(orb.Point{11.37, 45.21}).String())
}

// A large block: 20,000 rows of 100 m, 80 places each.
func BenchmarkPlaces_20000Rows(b *testing.B) {
	f := frame.New(orb.Point{145.32, -37.73})
	rows := make([]orb.LineString, 20000)
	for i := range rows {
		x, y := float64(i%200)*2.5-250, float64(i/200)*105-5000
		rows[i] = orb.LineString{f.LonLat(frame.XY{X: x, Y: y}), f.LonLat(frame.XY{X: x + 10, Y: y + 99.6})}
	}
	e, _ := layout.ParseEnd("S")
	vines := 0
	for b.Loop() {
		vines = 0
		for _, r := range rows {
			laid, err := layout.Places(f, r, e, layout.Spacing{VineM: 1.25, StartM: 0.5})
			if err != nil {
				b.Fatal(err)
			}
			vines += len(laid.Places)
		}
	}
	b.ReportMetric(float64(vines), "vines")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(vines), "ns/vine")
}

func ExamplePlaces() {
	row := orb.LineString{{11.37, 45.21}, {11.370095782, 45.210186018}}
	f, err := frame.ForGeometry(row)
	if err != nil {
		panic(err)
	}
	south, err := layout.ParseEnd("S")
	if err != nil {
		panic(err)
	}
	laid, err := layout.Places(f, row, south, layout.Spacing{VineM: 1.1, StartM: 0.5})
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.2f m, %d vines, %.2f m left over\n", laid.Row.LengthM(), len(laid.Places), laid.LeftOverM[0])
	p := laid.Places[2]
	fmt.Printf("vine %d stands at %.2f m: %.7f %.7f\n", p.Number, p.ChainageM, p.Point[0], p.Point[1])
	// Output:
	// 22.00 m, 20 vines, 0.60 m left over
	// vine 3 stands at 2.70 m: 11.3700118 45.2100228
}
