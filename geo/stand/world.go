package stand

import "math"

// worldSide is the side of the Web Mercator square in world units, 2³².
const worldSide = 1 << 32

// World turns degrees (WGS 84) into world units: 32-bit fractions of the Web
// Mercator square (EPSG:3857; IOGP Guidance Note 373-07-02, method 1024), x to
// the east from 180° W, y to the south from 85.0511° N. Positions are rounded
// down, by less than 10 mm. Longitudes beyond 180° wrap around, 180° itself is the
// last unit in the east; latitudes beyond the square stop at its edge.
func World(lon, lat float64) (wx, wy uint32) {
	x := (lon/360 + 0.5) * worldSide
	if x < 0 || x > worldSide {
		x -= math.Floor(x/worldSide) * worldSide
	}
	y := (0.5 - math.Atanh(math.Sin(lat*math.Pi/180))/(2*math.Pi)) * worldSide
	return unit(x), unit(y)
}

// unit keeps a number on the map; one that is no number comes to its corner.
func unit(v float64) uint32 {
	if !(v > 0) {
		return 0
	}
	return uint32(min(math.Floor(v), worldSide-1))
}

// Degrees is the way back from World, to the north-west corner of the unit.
func Degrees(wx, wy uint32) (lon, lat float64) {
	lon = float64(wx)/worldSide*360 - 180
	lat = math.Atan(math.Sinh(math.Pi*(1-2*float64(wy)/worldSide))) * 180 / math.Pi
	return lon, lat
}
