package tile

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// mathsFile holds figures from PostGIS 3.3.2 (ST_TileEnvelope, ST_AsMVTGeom).
type mathsFile struct {
	Envelopes []struct {
		Z, X, Y int
		PostGIS [4]float64 `json:"postgis_3857"`
		LonLat  [4]float64 `json:"lonlat"`
		Quadkey string     `json:"quadkey"`
	} `json:"tile_envelopes"`
	Positions []struct {
		Lon, Lat float64
		Z        int
		Tile     [2]uint32
		Unit     [2]float64 `json:"unit_in_tile_4096"`
		Rounded  [2]int64
	} `json:"lonlat_to_tile"`
	Shapes struct {
		Tile   [3]int
		Input  map[string]string
		Output map[string]*string
	} `json:"asmvtgeom"`
}

func readMaths(t testing.TB) mathsFile {
	raw, err := os.ReadFile(tileData + "tile-maths.json")
	require.NoError(t, err)
	var m mathsFile
	require.NoError(t, json.Unmarshal(raw, &m))
	require.NotEmpty(t, m.Envelopes)
	require.NotEmpty(t, m.Positions)
	require.NotEmpty(t, m.Shapes.Output)
	return m
}

func TestTile_Envelope(t *testing.T) {
	for _, c := range readMaths(t).Envelopes {
		tl, err := New(c.Z, c.X, c.Y)
		require.NoError(t, err)
		t.Run(tl.String(), func(t *testing.T) {
			e := tl.Envelope()
			got := [4]float64{e.Min[0], e.Min[1], e.Max[0], e.Max[1]}
			b := tl.Bounds()
			lonlat := [4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
			for i := range got {
				assert.InDelta(t, c.PostGIS[i], got[i], 1e-8, "EPSG:3857, m")
				assert.InDelta(t, c.LonLat[i], lonlat[i], 1e-11, "degrees")
			}
			assert.Equal(t, c.Quadkey, tl.quadkey())
		})
	}
}

func TestGrid_Point(t *testing.T) {
	for _, c := range readMaths(t).Positions {
		if math.Abs(c.Lon) >= 180 || math.Abs(c.Lat) >= MaxLatitude {
			continue // beyond the map; see TestAt_Edges
		}
		wx, wy, err := ToWorld(c.Lon, c.Lat)
		require.NoError(t, err)
		tl, err := At(c.Lon, c.Lat, uint8(c.Z))
		require.NoError(t, err)
		assert.Equal(t, Tile{uint8(c.Z), c.Tile[0], c.Tile[1]}, tl)
		g := gridOf(tl, extentBits)
		x, y, in := g.point(wx, wy, extentBits)
		// World units are whole: 2^(z-20) tile units each, half of which may
		// turn a rounding the other way.
		tol := 0.5 + math.Exp2(float64(c.Z)-20)
		if c.Rounded[0] == Extent || c.Rounded[1] == Extent {
			// Rounded over the edge: it belongs to the next tile, at zoom 0
			// across the antimeridian to the west and back from the south.
			assert.Equal(t, c.Z == 0, in, "%v", c)
			continue
		}
		require.True(t, in, "%v", c)
		assert.InDelta(t, c.Unit[0], x, tol)
		assert.InDelta(t, c.Unit[1], y, tol)
		if c.Z <= 17 {
			assert.Equal(t, c.Rounded, [2]int64{int64(x), int64(y)}, "%v %v z%d", c.Lon, c.Lat, c.Z)
		}
	}
}

func TestAt_Edges(t *testing.T) {
	for _, c := range []struct {
		name     string
		lon, lat float64
		want     Tile
	}{
		{"180° is in the last column", 180, 0, Tile{4, 15, 8}},
		{"beyond 180° goes on from the west", 190, 0, Tile{4, 0, 8}},
		{"west of 180°", -181, 0, Tile{4, 15, 8}},
		{"north pole", 10, 90, Tile{4, 8, 0}},
		{"south pole", 10, -90, Tile{4, 8, 15}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := At(c.lon, c.lat, 4)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
	for _, bad := range [][2]float64{{math.NaN(), 0}, {0, math.NaN()}, {math.Inf(1), 0}, {0, 91}, {541, 0}} {
		_, err := At(bad[0], bad[1], 4)
		assert.Error(t, err, "%v", bad)
	}
	_, err := At(0, 0, MaxZoom+1)
	assert.ErrorIs(t, err, ErrTile)
}

func TestParse(t *testing.T) {
	got, err := Parse("17", "118445", "80388")
	require.NoError(t, err)
	assert.Equal(t, Tile{17, 118445, 80388}, got)
	for _, bad := range [][3]string{
		{"0", "1", "0"}, {"0", "0", "1"}, {"-1", "0", "0"}, {"23", "0", "0"}, {"3", "8", "0"}, {"3", "0", "-1"},
		{"", "0", "0"}, {"1", "0x1", "0"}, {"1", "1.0", "0"}, {"+1", "0", "0"}, {"1", " 0", "0"}, {"22", "99999999999999999999", "0"},
	} {
		_, err := Parse(bad[0], bad[1], bad[2])
		assert.ErrorIs(t, err, ErrTile, "%v", bad)
	}
}

// TestTile_Family compares with orb/maptile and checks that children fill
// their parent.
func TestTile_Family(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.IntRange(0, MaxZoom-1).Draw(t, "z")
		tl := Tile{uint8(z), rapid.Uint32Range(0, 1<<z-1).Draw(t, "x"), rapid.Uint32Range(0, 1<<z-1).Draw(t, "y")}
		theirs := maptile.New(tl.X, tl.Y, maptile.Zoom(z))
		require.Equal(t, theirs.Quadkey(), mustBase4(t, tl.quadkey()))
		b, want := tl.Bounds(), theirs.Bound()
		for i := range 2 {
			require.InDelta(t, want.Min[i], b.Min[i], 1e-9)
			require.InDelta(t, want.Max[i], b.Max[i], 1e-9)
		}
		kids := tl.Children()
		require.Len(t, kids, 4)
		union := kids[0].Bounds()
		for _, k := range kids {
			require.True(t, k.Valid())
			require.Equal(t, tl, k.Parent())
			union = union.Union(k.Bounds())
		}
		require.Equal(t, b, union)
		c := b.Center()
		at, err := At(c[0], c[1], tl.Z)
		require.NoError(t, err)
		require.Equal(t, tl, at)
	})
	assert.Empty(t, Tile{Z: MaxZoom}.Children())
	assert.Equal(t, Tile{}, Tile{}.Parent())
}

func mustBase4(t require.TestingT, s string) uint64 {
	if s == "" {
		return 0
	}
	v, err := strconv.ParseUint(s, 4, 64)
	require.NoError(t, err)
	return v
}

func TestCover(t *testing.T) {
	bound := func(w, s, e, n float64) orb.Bound { return orb.Bound{Min: orb.Point{w, s}, Max: orb.Point{e, n}} }
	for _, c := range []struct {
		name  string
		bound orb.Bound
		z     uint8
		want  []Tile
	}{
		{"one point", bound(145.32, -37.72, 145.32, -37.72), 3, []Tile{{3, 7, 4}}},
		{"all of zoom 0", bound(-180, -85, 180, 85), 0, []Tile{{0, 0, 0}}},
		{"all of zoom 1", bound(-180, -85, 180, 85), 1, []Tile{{1, 0, 0}, {1, 1, 0}, {1, 0, 1}, {1, 1, 1}}},
		{"to 180° but not past it", bound(170, 1, 180, 2), 3, []Tile{{3, 7, 3}}},
		{"west greater than east passes 180°", bound(179, 1, -179, 2), 3, []Tile{{3, 7, 3}, {3, 0, 3}}},
		{"east beyond 180° passes it", bound(179, 1, 181, 2), 3, []Tile{{3, 7, 3}, {3, 0, 3}}},
		{"round into the first column", bound(-10, 1, 349, 2), 1, []Tile{{1, 0, 0}, {1, 1, 0}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Cover(c.bound, c.z)
			require.NoError(t, err)
			var got []Tile
			for tl := range s.All() {
				got = append(got, tl)
				assert.True(t, s.Contains(tl))
			}
			assert.Equal(t, c.want, got)
			assert.Equal(t, len(c.want), s.Len())
		})
	}
	_, err := Cover(bound(0, 0, math.NaN(), 0), 3)
	assert.Error(t, err)
	_, err = Cover(bound(math.NaN(), 0, 0, 0), 3)
	assert.Error(t, err)
}

// TestCover_HoldsItsPoints: every point of a rectangle lies in a tile of its
// span.
func TestCover_HoldsItsPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(-180, 180).Draw(t, "west")
		width := rapid.Float64Range(0, 359).Draw(t, "width")
		s := rapid.Float64Range(-85, 84).Draw(t, "south")
		n := rapid.Float64Range(s, 85).Draw(t, "north")
		z := uint8(rapid.IntRange(0, MaxZoom).Draw(t, "z"))
		span, err := Cover(orb.Bound{Min: orb.Point{w, s}, Max: orb.Point{w + width, n}}, z)
		require.NoError(t, err)
		fx, fy := rapid.Float64Range(0, 1).Draw(t, "fx"), rapid.Float64Range(0, 1).Draw(t, "fy")
		at, err := At(w+fx*width, s+fy*(n-s), z)
		require.NoError(t, err)
		require.True(t, span.Contains(at), "%v in %+v", at, span)
	})
}
