package tile

import (
	"fmt"
	"math"

	"courson/geo/stand"
)

// worldSide is the side of the map in world units, 2³².
const worldSide = 1 << 32

// ToWorld turns degrees into world units as stand.World does: x wraps around, y
// stops at the edge. What is no longitude and latitude is refused.
func ToWorld(lon, lat float64) (x, y uint32, err error) {
	if _, _, err := worldFloat(lon, lat); err != nil {
		return 0, 0, err
	}
	x, y = stand.World(lon, lat)
	return x, y, nil
}

// worldFloat gives world units without rounding or wrapping; y stays within
// the map.
func worldFloat(lon, lat float64) (x, y float64, err error) {
	if !(math.Abs(lon) <= 540) || !(math.Abs(lat) <= 90) {
		return 0, 0, fmt.Errorf("position %v, %v is not a longitude and latitude in degrees", lon, lat)
	}
	lat = max(-MaxLatitude, min(MaxLatitude, lat))
	sin := math.Sin(lat * math.Pi / 180)
	x = (lon/360 + 0.5) * worldSide
	y = (0.5 - math.Atanh(sin)/(2*math.Pi)) * worldSide
	return x, max(0, min(worldSide, y)), nil
}

// FromWorld turns world units into degrees.
func FromWorld(x, y uint32) (lon, lat float64) { return stand.Degrees(x, y) }

// metresPerWorldUnit is the length on the ground of one world unit at a world
// y, on the sphere: good to 0.7 %, for choosing sizes only, never for measuring.
func metresPerWorldUnit(y uint32) float64 {
	return 2 * mercatorHalf / worldSide / math.Cosh(math.Pi*(1-2*float64(y)/worldSide))
}

// grid turns world units into the units of one tile.
type grid struct {
	west, north int64 // the tile's corner, world units
	side        int64 // world units along the tile
	up          uint  // zoom 20 and less: bits to shift right
	down        uint  // zoom 21 and more: bits to shift left
	half        int64 // rounds to the nearest unit
	z           uint
	x, y        uint64
}

// gridOf prepares a tile with 2^bits units along its side.
func gridOf(t Tile, bits uint) grid {
	z := uint(t.Z)
	g := grid{side: worldSide >> z, z: z, x: uint64(t.X), y: uint64(t.Y)}
	g.west, g.north = int64(t.X)<<(32-z), int64(t.Y)<<(32-z)
	if z+bits <= 32 {
		g.up = 32 - z - bits
		g.half = int64(1) << g.up >> 1
	} else {
		g.down = z + bits - 32
	}
	return g
}

// point gives the tile units of a position, and whether this is the tile it
// belongs to. Positions are rounded to the nearest unit first and then shared
// among tiles, so that each lies in exactly one, at 0 to Extent-1; rounded over
// the eastern edge of the world they come back at its western edge.
func (g *grid) point(wx, wy uint32, bits uint) (x, y int32, in bool) {
	ux := (uint64(wx) + uint64(g.half)) >> g.up << g.down
	uy := (uint64(wy) + uint64(g.half)) >> g.up << g.down
	last := uint64(1)<<(g.z+bits) - 1
	ux &= last
	uy = min(uy, last)
	mask := uint64(1)<<bits - 1
	return int32(ux & mask), int32(uy & mask), ux>>bits == g.x && uy>>bits == g.y
}

// offset gives the tile units of a position near the tile, negative to the
// west and north of it. Right for tiles of zoom 2 and more, where the shorter
// way around the world is the one that is meant.
func (g *grid) offset(wx, wy uint32) (x, y int32) {
	dx := int64(int32(wx - uint32(g.west)))
	dy := int64(wy) - g.north
	return int32((dx + g.half) >> g.up << g.down), int32((dy + g.half) >> g.up << g.down)
}

// units rounds a distance from the tile's corner in world units to tile units.
func (g *grid) units(d float64) int32 {
	scale := math.Ldexp(1, int(g.down)-int(g.up))
	return int32(math.Floor(d*scale + 0.5))
}
