package tile

import (
	"encoding/hex"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const tileData = "../../testdata/tiles/"

// TestStrictReader holds the tests' own reader against tiles of which is known
// whether they keep to the specification: 11 that do, 21 that break one rule
// each, and one written by PostGIS 3.3.2.
func TestStrictReader(t *testing.T) {
	raw, err := os.ReadFile(tileData + "mvt-cases.json")
	require.NoError(t, err)
	var cases map[string]struct {
		Valid bool   `json:"valid"`
		Rule  string `json:"rule"`
		Hex   string `json:"hex"`
	}
	require.NoError(t, json.Unmarshal(raw, &cases))
	count := map[bool]int{}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			b, err := hex.DecodeString(c.Hex)
			require.NoError(t, err)
			_, err = readStrictly(b)
			if c.Valid {
				assert.NoError(t, err, c.Rule)
			} else {
				assert.Error(t, err, c.Rule)
			}
		})
		count[c.Valid]++
	}
	assert.Equal(t, map[bool]int{true: 11, false: 21}, count)

	postgis, err := os.ReadFile(tileData + "postgis-one-vine.mvt")
	require.NoError(t, err)
	_, err = readStrictly(postgis)
	assert.NoError(t, err)
}

// TestGeometryIntegers writes the worked examples of the specification (Mapbox
// Vector Tile Specification 2.1, section 4.3.5).
func TestGeometryIntegers(t *testing.T) {
	var p pen
	p.point(25, 17)
	assert.Equal(t, []byte{9, 50, 34}, p.buf, "point 25, 17")

	p = pen{}
	p.begin(2)
	p.step(5, 7)
	p.step(3, 2)
	assert.Equal(t, []byte{17, 10, 14, 3, 9}, p.buf, "points 5, 7 and 3, 2")

	p = pen{}
	p.line([][2]int32{{2, 2}, {2, 10}, {10, 10}})
	assert.Equal(t, []byte{9, 4, 4, 18, 0, 16, 16, 0}, p.buf, "line")

	p = pen{}
	p.line([][2]int32{{2, 2}, {2, 10}, {10, 10}})
	p.line([][2]int32{{1, 1}, {3, 5}})
	assert.Equal(t, []byte{9, 4, 4, 18, 0, 16, 16, 0, 9, 17, 17, 10, 4, 8}, p.buf, "two lines")

	p = pen{}
	p.ring([][2]int32{{3, 6}, {8, 12}, {20, 34}})
	assert.Equal(t, []byte{9, 6, 12, 18, 10, 12, 24, 44, 15}, p.buf, "polygon")

	for v, want := range map[int32]uint32{0: 0, -1: 1, 1: 2, -2: 3, 2: 4, 25: 50, 17: 34, -9: 17} {
		assert.Equal(t, want, zigzag(v), "zigzag %d", v)
	}
}
