package layout_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
)

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
