package tile

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/stand"
)

// outlineIn draws an outline into a tile and reads it back strictly: the rings.
func outlineIn(t require.TestingT, mp orb.MultiPolygon, tl Tile) [][][2]int64 {
	o, err := PrepareOutline(mp)
	require.NoError(t, err)
	v, err := NewView(&stand.Stand{Ground: &stand.Ground{Block: 1, Code: "H1"}}, nil, o, "", "")
	require.NoError(t, err)
	read, err := readStrictly(Render(tl, []BlockView{v}, Options{}))
	require.NoError(t, err)
	fs := read.layer(LayerBlocks).features
	if len(fs) == 0 {
		return nil
	}
	return fs[0].parts
}

// canonical turns each ring so that it begins at its least point, leaves out
// points on straight lines, and sorts the rings: rings that are the same set of
// shapes become equal.
func canonical(rings [][][2]int64) [][][2]int64 {
	var out [][][2]int64
	for _, r := range rings {
		var c [][2]int64
		for i, p := range r {
			if sideOf(r[(i+len(r)-1)%len(r)], p, r[(i+1)%len(r)]) != 0 {
				c = append(c, p)
			}
		}
		if len(c) == 0 {
			continue
		}
		least := 0
		for i, p := range c {
			if p[0] < c[least][0] || p[0] == c[least][0] && p[1] < c[least][1] {
				least = i
			}
		}
		out = append(out, append(slices.Clone(c[least:]), c[:least]...))
	}
	slices.SortFunc(out, func(a, b [][2]int64) int {
		return slices.CompareFunc(a, b, func(p, q [2]int64) int { return slices.Compare(p[:], q[:]) })
	})
	return out
}

// ringsOfWKT reads (multi)polygons, exteriors turned to be positive.
func ringsOfWKT(t require.TestingT, text string) [][][2]int64 {
	g, err := wkt.Unmarshal(text)
	require.NoError(t, err, text)
	var mp orb.MultiPolygon
	switch g := g.(type) {
	case orb.Polygon:
		mp = orb.MultiPolygon{g}
	case orb.MultiPolygon:
		mp = g
	default:
		require.Failf(t, "not an area", "%s", text)
	}
	var out [][][2]int64
	for _, p := range mp {
		for i, r := range p {
			var c [][2]int64
			for _, pt := range r[:len(r)-1] {
				c = append(c, [2]int64{int64(pt[0]), int64(pt[1])})
			}
			if (surveyed(c) > 0) != (i == 0) {
				slices.Reverse(c)
			}
			out = append(out, c)
		}
	}
	return out
}

// TestOutline_ASMVTGeom: the rings that ST_AsMVTGeom of PostGIS 3.3.2 gives for
// the same polygons with a margin of 64 units.
func TestOutline_ASMVTGeom(t *testing.T) {
	s := readMaths(t).Shapes
	tl, err := New(s.Tile[0], s.Tile[1], s.Tile[2])
	require.NoError(t, err)
	for _, name := range []string{"block", "block_reversed", "tiny", "covers"} {
		t.Run(name, func(t *testing.T) {
			g, err := wkt.UnmarshalPolygon(strings.TrimPrefix(s.Input[name], "SRID=4326;"))
			require.NoError(t, err)
			got := outlineIn(t, orb.MultiPolygon{g}, tl)
			want := s.Output[name+"|extent=4096|buffer=64|clip=True"]
			require.NotNil(t, want)
			if *want == "" { // NULL: too small
				assert.Empty(t, got)
				return
			}
			assert.Equal(t, canonical(ringsOfWKT(t, *want)), canonical(got))
		})
	}
}

// TestPieceLine_ASMVTGeom: the same for a line.
func TestPieceLine_ASMVTGeom(t *testing.T) {
	s := readMaths(t).Shapes
	tl, err := New(s.Tile[0], s.Tile[1], s.Tile[2])
	require.NoError(t, err)
	g, err := wkt.UnmarshalLineString(strings.TrimPrefix(s.Input["row"], "SRID=4326;"))
	require.NoError(t, err)
	var line [][2]uint32
	for _, p := range g {
		x, y, err := ToWorld(p[0], p[1])
		require.NoError(t, err)
		line = append(line, [2]uint32{x, y})
	}
	want, err := wkt.UnmarshalLineString(*s.Output["row|extent=4096|buffer=64|clip=True"])
	require.NoError(t, err)
	for _, inside := range []bool{true, false} {
		w := &workshop{}
		w.begin(tl)
		w.startShape()
		w.pieceLine(line, inside)
		nums, err := packed(w.pen.buf)
		require.NoError(t, err)
		parts, err := readGeometry(2, nums)
		require.NoError(t, err)
		require.Len(t, parts, 1)
		var got orb.LineString
		for _, p := range parts[0] {
			got = append(got, orb.Point{float64(p[0]), float64(p[1])})
		}
		assert.Equal(t, want, got)
	}
}

// star draws a polygon with a hole around a middle: simple, but as jagged as
// can be. Sizes in world units.
func star(t *rapid.T, middle vec, size float64) [][]vec {
	n := rapid.IntRange(3, 14).Draw(t, "corners")
	hole := rapid.Bool().Draw(t, "hole")
	var out, in []vec
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		r := size * rapid.Float64Range(0.3, 1).Draw(t, "radius")
		out = append(out, vec{middle.x + r*math.Cos(a), middle.y + r*math.Sin(a)})
		// A hole ring of the same corners at a quarter of the way: it stays
		// inside whatever the corners do.
		in = append(in, vec{middle.x + r/4*math.Cos(a), middle.y + r/4*math.Sin(a)})
	}
	if !hole {
		return [][]vec{out}
	}
	slices.Reverse(in)
	return [][]vec{out, in}
}

// asOrb turns rings in world units into a polygon in degrees.
func asOrb(rings [][]vec) orb.Polygon {
	var p orb.Polygon
	for _, r := range rings {
		var ring orb.Ring
		for _, v := range r {
			lon := v.x/worldSide*360 - 180
			lat := math.Atan(math.Sinh(math.Pi*(1-2*v.y/worldSide))) * 180 / math.Pi
			ring = append(ring, orb.Point{lon, lat})
		}
		p = append(p, append(ring, ring[0]))
	}
	return p
}

func areaOf(polygons [][][]vec) (a float64) {
	for _, p := range polygons {
		for _, r := range p {
			a += signedArea(r)
		}
	}
	return a
}

// TestClip_Areas: cut to the four quarters of any cross, the parts of a polygon
// have together the area of the whole, each lies within its quarter, exteriors
// are positive and holes lie inside them. orb/planar measures the areas.
func TestClip_Areas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rings := star(t, vec{0, 0}, 1000)
		x, y := rapid.Float64Range(-1100, 1100).Draw(t, "x"), rapid.Float64Range(-1100, 1100).Draw(t, "y")
		if rapid.Bool().Draw(t, "through a corner") {
			x, y = rings[0][0].x, rings[0][1].y
		}
		const far = 5000
		var sum float64
		for _, b := range []box{{-far, -far, x, y}, {x, -far, far, y}, {-far, y, x, far}, {x, y, far, far}} {
			parts := clipPolygon(rings, b)
			for _, p := range parts {
				// A cut along a side may leave a sliver without area, which
				// falls away when it is rounded to the tile.
				require.Greater(t, planarArea(p[0]), -1e-6, "exterior")
				for _, h := range p[1:] {
					require.Less(t, planarArea(h), 1e-6, "hole")
				}
				for _, r := range p {
					for _, pt := range r {
						require.True(t, pt.x >= b.w-0.01 && pt.x <= b.e+0.01 && pt.y >= b.n-0.01 && pt.y <= b.s+0.01, "%v in %v", pt, b)
					}
				}
			}
			sum += areaOf(parts)
		}
		require.InDelta(t, areaOf([][][]vec{rings}), sum, 20) // of some 10⁶; sides move by 10⁻³
	})
}

// planarArea is positive clockwise on the screen; orb counts anticlockwise with
// y upwards, which is the same.
func planarArea(r []vec) float64 {
	var ring orb.Ring
	for _, p := range r {
		ring = append(ring, orb.Point{p.x, p.y})
	}
	return planar.Area(append(ring, ring[0]))
}

// TestOutline_Valid: whatever the polygon, wherever the tile, what is written
// keeps to the specification, and its area is right to the rounding.
func TestOutline_Valid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := uint8(rapid.IntRange(2, MaxZoom).Draw(t, "z"))
		size := math.Exp(rapid.Float64Range(math.Log(500), math.Log(200_000)).Draw(t, "log size"))
		middle := vec{3.88e9, 2.63e9}
		rings := star(t, middle, size)
		side := float64(uint64(worldSide) >> z)
		dx, dy := rapid.Float64Range(-1, 1).Draw(t, "dx"), rapid.Float64Range(-1, 1).Draw(t, "dy")
		tl := Tile{z, uint32((middle.x + dx*size) / side), uint32((middle.y + dy*size) / side)}
		got := outlineIn(t, orb.MultiPolygon{asOrb(rings)}, tl)

		m := side * marginUnits / Extent
		w, n := float64(tl.X)*side, float64(tl.Y)*side
		want := areaOf(clipPolygon(rings, box{w - m, n - m, w + side + m, n + side + m})) / (side / Extent) / (side / Extent)
		var area, round float64
		for _, r := range got {
			area += float64(surveyed(r)) / 2
			for i, p := range r {
				q := r[(i+1)%len(r)]
				round += math.Hypot(float64(p[0]-q[0]), float64(p[1]-q[1]))
			}
		}
		// Each corner may move by half a unit each way: along the whole length
		// that is 0.71 units, and small rings may fall away.
		require.InDelta(t, want, area, 0.75*round+60)
	})
}

func TestOutline_Label(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rings := star(t, vec{3.88e9, 2.63e9}, 100_000)
		o, err := PrepareOutline(orb.MultiPolygon{asOrb(rings)})
		require.NoError(t, err)
		x, y := o.Label()
		require.True(t, insideRings(rings, vec{float64(x), float64(y)}))
	})
}
