package postgis

import (
	"encoding/binary"
	"encoding/hex"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/ewkb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func encode(t require.TestingT, g any) []byte {
	out, err := encodeGeometry{}.Encode(g, nil)
	require.NoError(t, err)
	return out
}

// TestCodec_AgainstOrb compares with another writer of the same format.
func TestCodec_AgainstOrb(t *testing.T) {
	for name, g := range map[string]orb.Geometry{
		"point":   orb.Point{145.3, -37.7},
		"edges":   orb.Point{-180, 90},
		"line":    orb.MultiLineString{{{1, 2}, {3, 4}, {5, 6}}},
		"cut row": orb.MultiLineString{{{1, 2}, {3, 4}}, {{5, 6}, {7, 8}}},
		"polygon": orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}},
		"hole":    orb.MultiPolygon{{{{0, 0}, {9, 0}, {9, 9}, {0, 0}}, {{1, 1}, {2, 2}, {2, 1}, {1, 1}}}, {{{20, 20}, {21, 20}, {21, 21}, {20, 20}}}},
	} {
		t.Run(name, func(t *testing.T) {
			want, err := ewkb.Marshal(g, srid)
			require.NoError(t, err)
			assert.Equal(t, hex.EncodeToString(want), hex.EncodeToString(encode(t, g)))
			big, err := ewkb.Marshal(g, srid, binary.BigEndian)
			require.NoError(t, err)
			for _, src := range [][]byte{want, big} {
				switch g := g.(type) {
				case orb.Point:
					var got orb.Point
					require.NoError(t, scanGeometry{}.Scan(src, &got))
					assert.Equal(t, g, got)
				case orb.MultiLineString:
					var got orb.MultiLineString
					require.NoError(t, scanGeometry{}.Scan(src, &got))
					assert.Equal(t, g, got)
				case orb.MultiPolygon:
					var got orb.MultiPolygon
					require.NoError(t, scanGeometry{}.Scan(src, &got))
					assert.Equal(t, g, got)
				}
			}
		})
	}
}

func TestCodec_Null(t *testing.T) {
	assert.Nil(t, encode(t, orb.MultiLineString(nil)))
	assert.Nil(t, encode(t, orb.MultiPolygon{}))
	lines := orb.MultiLineString{{{1, 2}}}
	require.NoError(t, scanGeometry{}.Scan(nil, &lines))
	assert.Nil(t, lines)
	var p orb.Point
	require.Error(t, scanGeometry{}.Scan(nil, &p))
}

func TestCodec_Refuses(t *testing.T) {
	point := encode(t, orb.Point{1, 2})
	other := append([]byte(nil), point...)
	other[5] = 0xe7 // SRID 4327
	withZ := append([]byte(nil), point...)
	withZ[4] |= 0x80
	for name, src := range map[string][]byte{
		"nothing": {}, "cut short": point[:20], "another SRID": other, "a height": withZ, "a line": encode(t, orb.MultiLineString{{{1, 2}, {3, 4}}}),
	} {
		var p orb.Point
		assert.Error(t, scanGeometry{}.Scan(src, &p), name)
	}
	// Four thousand million polygons, it says: no memory is set aside for them.
	huge := append(appendHead(nil, wkbMultiPolygon|wkbSRID), 0xff, 0xff, 0xff, 0xff)
	var g orb.MultiPolygon
	require.Error(t, scanGeometry{}.Scan(huge, &g))
}

func TestCodec_RoundTrip(t *testing.T) {
	coord := rapid.Float64Range(-180, 180)
	points := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) orb.Point { return orb.Point{coord.Draw(t, "x"), coord.Draw(t, "y")} }), 0, 20)
	rapid.Check(t, func(t *rapid.T) {
		var want orb.MultiPolygon
		for range rapid.IntRange(1, 4).Draw(t, "polygons") {
			p := orb.Polygon{}
			for range rapid.IntRange(0, 3).Draw(t, "rings") {
				p = append(p, orb.Ring(points.Draw(t, "points")))
			}
			want = append(want, p)
		}
		var got orb.MultiPolygon
		require.NoError(t, scanGeometry{}.Scan(encode(t, want), &got))
		require.Equal(t, want, got)
	})
}

func FuzzGeometry(f *testing.F) {
	f.Add(encode(f, orb.Point{math.Pi, -1}))
	f.Add(encode(f, orb.MultiLineString{{{1, 2}, {3, 4}}}))
	f.Add(encode(f, orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}))
	f.Fuzz(func(t *testing.T, src []byte) {
		var p orb.Point
		var l orb.MultiLineString
		var g orb.MultiPolygon
		scanGeometry{}.Scan(src, &p)
		scanGeometry{}.Scan(src, &l)
		if err := (scanGeometry{}).Scan(src, &g); err == nil && len(g) > 0 && len(src) > 0 && src[0] != 0 {
			var again orb.MultiPolygon
			require.NoError(t, scanGeometry{}.Scan(encode(t, g), &again))
		}
	})
}
