package layout_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

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

// drawn makes a bent row within 2 km of a block anywhere.
func drawn(t *rapid.T) (frame.Frame, orb.LineString) {
	f := frame.New(orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-65, 65).Draw(t, "lat")})
	p := frame.XY{X: rapid.Float64Range(-2000, 2000).Draw(t, "x"), Y: rapid.Float64Range(-2000, 2000).Draw(t, "y")}
	az := rapid.Float64Range(0, 2*math.Pi).Draw(t, "azimuth")
	ls := orb.LineString{f.LonLat(p)}
	for range rapid.IntRange(1, 8).Draw(t, "pieces") {
		d := rapid.Float64Range(2, 80).Draw(t, "piece")
		p = frame.XY{X: p.X + d*math.Sin(az), Y: p.Y + d*math.Cos(az)}
		az += rapid.Float64Range(-0.3, 0.3).Draw(t, "bend")
		ls = append(ls, f.LonLat(p))
	}
	return f, ls
}

// Every vine lies on the row, at its chainage, and vines stand a spacing apart
// along the curve, within 1 mm, on the ground.
func TestPlaces_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, ls := drawn(t)
		s := layout.Spacing{
			VineM:  rapid.Float64Range(0.5, 4).Draw(t, "spacing"),
			StartM: rapid.Float64Range(0, 0.9).Draw(t, "start"),
			EndM:   rapid.Float64Range(0, 0.9).Draw(t, "end"),
		}
		laid, err := layout.Places(f, ls, layout.AsDrawn, s)
		if err != nil {
			if length := frame.WGS84.Length(ls); length > s.VineM+1.9 {
				t.Fatalf("%.2f m refused: %v", length, err)
			}
			return
		}
		line := f.Line(ls)
		length := line.Length()
		for k, p := range laid.Places {
			at := f.XY(p.Point)
			if hit := line.Nearest(at); hit.Dist > 1e-6 {
				t.Fatalf("vine %d lies %g m off the row", p.Number, hit.Dist)
			}
			on, _ := line.At(p.ChainageM)
			if d := frame.Dist(on, at); d > 1e-6 {
				t.Fatalf("vine %d lies %g m from its chainage", p.Number, d)
			}
			if k == 0 {
				continue
			}
			if step := p.ChainageM - laid.Places[k-1].ChainageM; math.Abs(step-s.VineM) > 1e-3 {
				t.Fatalf("step %d is %g m, wanted %g", k, step, s.VineM)
			}
			// Measured on the ellipsoid, along the curve, without the frame.
			ground := orb.LineString{laid.Places[k-1].Point}
			for i := 1; i+1 < len(ls); i++ {
				c := line[:i+1].Length()
				if c > laid.Places[k-1].ChainageM && c < p.ChainageM {
					ground = append(ground, ls[i])
				}
			}
			if d := frame.WGS84.Length(append(ground, p.Point)); math.Abs(d-s.VineM) > 1e-3 {
				t.Fatalf("vines %d and %d are %g m apart on the ground, wanted %g", k, k+1, d, s.VineM)
			}
		}
		last := laid.Places[len(laid.Places)-1].ChainageM
		if left := length - s.EndM - last; left < -1e-6 || left >= s.VineM || math.Abs(left-laid.LeftOverM[0]) > 1e-6 {
			t.Fatalf("left over %g m, said %g", left, laid.LeftOverM[0])
		}
	})
}

// Numbered from the other end and back again: nothing changed.
func TestLaid_ReversedTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, ls := drawn(t)
		g := orb.Geometry(ls)
		if len(ls) > 3 { // cut out a piece for a road
			g = orb.MultiLineString{ls[:2], ls[2:]}
		}
		laid, err := layout.Places(f, g, layout.AsDrawn, layout.Spacing{VineM: rapid.Float64Range(0.5, 4).Draw(t, "spacing")})
		if err != nil {
			return
		}
		once := laid.Reversed()
		n := len(laid.Places)
		for i, p := range once.Places {
			o := laid.Places[n-1-i]
			if p.Number != i+1 || p.Point != o.Point || math.Abs(p.ChainageM+o.ChainageM-laid.Row.LengthM()) > 1e-9 {
				t.Fatalf("vine %d: %+v was %+v", i+1, p, o)
			}
			if hit := once.Row.Nearest(p.At); hit.Dist > 1e-6 || math.Abs(hit.ChainageM-p.ChainageM) > 1e-6 || hit.Part != p.Part {
				t.Fatalf("vine %d is not where the turned row has it: %+v, %+v", p.Number, p, hit)
			}
		}
		twice := once.Reversed()
		for i, p := range twice.Places {
			o := laid.Places[i]
			if p.Number != o.Number || p.Part != o.Part || p.Point != o.Point ||
				math.Abs(p.ChainageM-o.ChainageM) > 1e-9 || math.Abs(math.Remainder(p.AzimuthDeg-o.AzimuthDeg, 360)) > 1e-9 {
				t.Fatalf("vine %d: %+v became %+v", o.Number, o, p)
			}
		}
		first, last := laid.Row.Ends()
		f2, l2 := twice.Row.Ends()
		if first != f2 || last != l2 {
			t.Fatal("ends moved")
		}
	})
}

// The parts of a cut row may come in any order and direction: the same row.
func TestNewRow_PartsInAnyOrder(t *testing.T) {
	f := frame.New(orb.Point{5, 45})
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 7).Draw(t, "parts")
		var parts orb.MultiLineString
		y := 0.0
		for range n {
			l := rapid.Float64Range(5, 60).Draw(t, "part")
			parts = append(parts, orb.LineString{f.LonLat(frame.XY{X: y * y / 4000, Y: y}), f.LonLat(frame.XY{X: (y + l) * (y + l) / 4000, Y: y + l})})
			y += l + rapid.Float64Range(1, 4).Draw(t, "road")
		}
		south, _ := layout.ParseEnd("S")
		want, err := layout.NewRow(f, parts, south)
		if err != nil {
			t.Fatal(err)
		}
		if len(want.Parts) != n {
			t.Fatalf("%d parts became %d", n, len(want.Parts))
		}
		mixed := rapid.Permutation(parts).Draw(t, "order")
		for i := range mixed {
			if rapid.Bool().Draw(t, "turn") {
				mixed[i] = reversed(mixed[i])
			}
		}
		got, err := layout.NewRow(f, mixed, south)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want.Parts {
			for k := range want.Parts[i] {
				if frame.Dist(want.Parts[i][k], got.Parts[i][k]) > 1e-6 {
					t.Fatalf("part %d: %v, wanted %v", i, got.Parts[i], want.Parts[i])
				}
			}
		}
		asDrawn, err := layout.NewRow(f, mixed, layout.AsDrawn)
		if err != nil {
			t.Fatal(err)
		}
		first := f.Line(mixed[0])
		for _, p := range asDrawn.Parts {
			if frame.Dist(p[0], first[0]) < 1e-6 && frame.Dist(p[len(p)-1], first[len(first)-1]) < 1e-6 {
				return
			}
		}
		t.Fatal("the first part is not walked as drawn")
	})
}

// Whatever comes in, an answer or an error comes out: no panic, no NaN, no end
// missed.
func FuzzPlaces(f *testing.F) {
	f.Add(11.37, 45.21, 11.3701, 45.2102, 11.3702, 45.2104, 1.1, 0.0, 0.0, uint8(0))
	f.Add(180.0, -16.8, -179.9999, -16.8, 179.9999, -16.8, 0.5, 0.2, 0.1, uint8(5))
	f.Add(0.0, 90.0, 90.0, 90.0, 180.0, 89.9999, 1e-9, 0.0, 0.0, uint8(1))
	f.Add(11.37, 45.21, 11.37, 45.21, 11.37, 45.21, 1e300, 1e300, 0.0, uint8(2))
	f.Add(math.NaN(), math.Inf(1), 1e308, -1e308, 5e-324, 0.0, math.NaN(), -1.0, 0.0, uint8(3))
	words := []string{"", "N", "E", "SW", "first"}
	f.Fuzz(func(t *testing.T, x1, y1, x2, y2, x3, y3, spacing, start, brk float64, mode uint8) {
		a, b, c := orb.Point{x1, y1}, orb.Point{x2, y2}, orb.Point{x3, y3}
		fr := frame.New(a)
		if g, err := frame.ForGeometry(orb.MultiPoint{a, b, c}); err == nil {
			fr = g
		}
		g := orb.Geometry(orb.LineString{a, b, c, c, a})
		if mode&1 == 1 {
			g = orb.MultiLineString{{a, b}, {c, b}, {b, b}, {c}}
		}
		e, err := layout.ParseEnd(words[int(mode/2)%len(words)])
		if err != nil {
			t.Fatal(err)
		}
		laid, err := layout.Places(fr, g, e, layout.Spacing{VineM: spacing, StartM: start, EndM: start, BreakM: brk})
		if err != nil {
			return
		}
		if n := len(laid.Places); n < 2 || n > layout.MostPlaces {
			t.Fatalf("%d places", n)
		}
		for i, p := range laid.Places {
			if p.Number != i+1 || frame.CheckLonLat(p.Point) != nil ||
				math.IsNaN(p.ChainageM+p.At.X+p.At.Y+p.AzimuthDeg) || math.IsInf(p.ChainageM, 0) {
				t.Fatalf("place %d: %+v", i, p)
			}
			if i > 0 && p.ChainageM < laid.Places[i-1].ChainageM-1e-9 {
				t.Fatalf("chainage falls at %d", p.Number)
			}
		}
		laid.Reversed()
	})
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
