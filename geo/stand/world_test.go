package stand

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Web Mercator coordinates of vineyards as PROJ computed them
// (testdata/geodesy/README.md).
func TestWorld_PROJ(t *testing.T) {
	f, err := os.Open("../../testdata/geodesy/webmercator.csv")
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 10)
	for _, l := range lines[1:] {
		t.Run(l[0], func(t *testing.T) {
			var v [4]float64
			for i := range v {
				v[i], err = strconv.ParseFloat(l[1+i], 64)
				require.NoError(t, err)
			}
			const half = math.Pi * 6378137
			wx, wy := World(v[0], v[1])
			require.InDelta(t, (v[2]+half)/(2*half)*worldSide, float64(wx)+0.5, 0.51)
			require.InDelta(t, (half-v[3])/(2*half)*worldSide, float64(wy)+0.5, 0.51)
		})
	}
}

// Positions in tiles as computed for testdata/tiles (check values of tile maths,
// agreeing with PostGIS): a tile at zoom z is the first z bits of a position.
func TestWorld_Tiles(t *testing.T) {
	text, err := os.ReadFile("../../testdata/tiles/tile-maths.json")
	require.NoError(t, err)
	var maths struct {
		Places []struct {
			Lon, Lat     float64
			Z            uint
			FracX, FracY float64
			Tile         [2]uint32
		} `json:"lonlat_to_tile"`
	}
	require.NoError(t, json.Unmarshal(text, &maths))
	require.NotEmpty(t, maths.Places)
	for _, p := range maths.Places {
		wx, wy := World(p.Lon, p.Lat)
		require.Equal(t, p.Tile, [2]uint32{uint32(uint64(wx) >> (32 - p.Z)), uint32(uint64(wy) >> (32 - p.Z))}, "%v %v at zoom %d", p.Lon, p.Lat, p.Z)
	}
}

func TestWorld_Edges(t *testing.T) {
	for _, c := range []struct {
		name     string
		lon, lat float64
		x, y     uint32
	}{
		{"null island", 0, 0, 1 << 31, 1 << 31},
		{"180 west", -180, 0, 0, 1 << 31},
		{"180 east", 180, 0, math.MaxUint32, 1 << 31},
		{"181 east is 179 west", 181, 0, 1 << 32 / 360, 1 << 31},
		{"once around", 360, 0, 1 << 31, 1 << 31},
		{"north pole", 0, 90, 1 << 31, 0},
		{"south pole", 0, -90, 1 << 31, math.MaxUint32},
		{"no number", math.NaN(), math.NaN(), 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			x, y := World(c.lon, c.lat)
			require.Equal(t, [2]uint32{c.x, c.y}, [2]uint32{x, y})
		})
	}
}

func TestWorld_ThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lon, lat := rapid.Float64Range(-179.99, 179.99).Draw(t, "lon"), rapid.Float64Range(-70, 70).Draw(t, "lat")
		backLon, backLat := Degrees(World(lon, lat))
		const unitDeg = 360.0 / worldSide
		if d := lon - backLon; d < -1e-12 || d > 1.001*unitDeg {
			t.Fatalf("lon %v came back as %v", lon, backLon)
		}
		if d := backLat - lat; d < -1e-12 || d > 1.001*unitDeg {
			t.Fatalf("lat %v came back as %v", lat, backLat)
		}
	})
}
