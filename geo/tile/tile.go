// Package tile says what of a vineyard is drawn at which zoom, and draws it: as
// Mapbox Vector Tiles 2.1 and as PNG pictures.
//
// Far out a block is one shape with its totals. From zoom 13 the rows appear as
// lines, cut into pieces so that a weak stretch of a row shows; from zoom 16
// every vine is a point. What a piece of row says about its vines (the worst
// common condition, the mean vigour class, how far pruning has got) is summed
// when a block changes, not when a tile is asked for.
//
// Tiles are the squares of the Web Mercator map (EPSG:3857), numbered z/x/y
// from the north-west corner. Positions come from the stand as 32-bit
// fractions of that map, so that a tile coordinate is a shift and a
// subtraction.
package tile

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// MaxZoom is the deepest zoom that tiles are made for. A tile unit there is
// 2.3 mm at the equator, a quarter of the step in which positions are held.
const MaxZoom = 22

// Extent is the number of units along the side of a vector tile.
const Extent = 4096

const extentBits = 12

// MaxLatitude is where the square map ends north and south, degrees:
// atan(sinh π).
const MaxLatitude = 85.0511287798066

// mercatorHalf is half the side of the map in EPSG:3857 metres, π × 6,378,137.
const mercatorHalf = math.Pi * 6378137

// ErrTile says that a zoom, column or row does not name a tile.
var ErrTile = errors.New("not a tile")

// Tile is one square of the map: zoom, column from 180° W, row from the north.
type Tile struct {
	Z    uint8
	X, Y uint32
}

// New checks zoom and range.
func New(z, x, y int) (Tile, error) {
	if z < 0 || z > MaxZoom {
		return Tile{}, fmt.Errorf("%w: zoom %d is not within 0 to %d", ErrTile, z, MaxZoom)
	}
	if n := 1 << z; x < 0 || y < 0 || x >= n || y >= n {
		return Tile{}, fmt.Errorf("%w: %d/%d/%d is outside 0 to %d", ErrTile, z, x, y, n-1)
	}
	return Tile{uint8(z), uint32(x), uint32(y)}, nil
}

// Parse reads the three parts of a tile address, as in 17, 66123, 47210. Only
// plain digits are accepted.
func Parse(z, x, y string) (Tile, error) {
	var n [3]int
	for i, s := range []string{z, x, y} {
		v, err := strconv.Atoi(s)
		if err != nil || strings.Trim(s, "0123456789") != "" {
			return Tile{}, fmt.Errorf("%w: %q is not a whole number", ErrTile, s)
		}
		n[i] = v
	}
	return New(n[0], n[1], n[2])
}

// String writes the address as z/x/y.
func (t Tile) String() string { return fmt.Sprintf("%d/%d/%d", t.Z, t.X, t.Y) }

// Valid tells whether zoom, column and row name a tile.
func (t Tile) Valid() bool {
	return t.Z <= MaxZoom && uint64(t.X) < 1<<t.Z && uint64(t.Y) < 1<<t.Z
}

// Bounds gives west, south, east and north in degrees (WGS 84).
func (t Tile) Bounds() orb.Bound {
	n := math.Exp2(float64(t.Z))
	lon := func(x float64) float64 { return x/n*360 - 180 }
	lat := func(y float64) float64 { return math.Atan(math.Sinh(math.Pi*(1-2*y/n))) * 180 / math.Pi }
	x, y := float64(t.X), float64(t.Y)
	return orb.Bound{Min: orb.Point{lon(x), lat(y + 1)}, Max: orb.Point{lon(x + 1), lat(y)}}
}

// Envelope gives the tile's square in EPSG:3857 metres.
func (t Tile) Envelope() orb.Bound {
	size := 2 * mercatorHalf / math.Exp2(float64(t.Z))
	west := func(x uint32) float64 { return -mercatorHalf + float64(x)*size }
	north := func(y uint32) float64 { return mercatorHalf - float64(y)*size }
	return orb.Bound{Min: orb.Point{west(t.X), north(t.Y + 1)}, Max: orb.Point{west(t.X + 1), north(t.Y)}}
}

// Parent gives the tile one zoom further out; the tile itself at zoom 0.
func (t Tile) Parent() Tile {
	if t.Z == 0 {
		return t
	}
	return Tile{t.Z - 1, t.X / 2, t.Y / 2}
}

// Children gives the four tiles one zoom further in, from the north-west by
// rows. At the deepest zoom there are none.
func (t Tile) Children() []Tile {
	if t.Z >= MaxZoom {
		return nil
	}
	z, x, y := t.Z+1, t.X*2, t.Y*2
	return []Tile{{z, x, y}, {z, x + 1, y}, {z, x, y + 1}, {z, x + 1, y + 1}}
}

// At gives the tile of a zoom in which a position lies. Longitudes are wrapped
// into 180° W to 180° E (180° itself is in the last column); latitudes beyond the
// map are taken to its edge. A position that is no number is refused.
func At(lon, lat float64, z uint8) (Tile, error) {
	x, y, err := ToWorld(lon, lat)
	if err != nil {
		return Tile{}, err
	}
	if z > MaxZoom {
		return Tile{}, fmt.Errorf("%w: zoom %d is not within 0 to %d", ErrTile, z, MaxZoom)
	}
	shift := 32 - uint(z)
	return Tile{z, uint32(uint64(x) >> shift), uint32(uint64(y) >> shift)}, nil
}

// quadkey writes the tile as one digit of base 4 per zoom.
func (t Tile) quadkey() string {
	key := make([]byte, t.Z)
	for i := range key {
		bit := uint(int(t.Z) - 1 - i)
		key[i] = '0' + byte(t.X>>bit&1) + byte(t.Y>>bit&1)<<1
	}
	return string(key)
}
