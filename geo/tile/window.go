package tile

import "math"

// wbox is a rectangle in world units that may pass the antimeridian: corner and
// size.
type wbox struct {
	w, n   uint32
	dx, dy uint32
}

// join gives the box around both, going the shorter way around the world.
func (b wbox) join(c wbox) wbox {
	if d := int32(c.w - b.w); d < 0 {
		b.dx = max(b.dx+uint32(-d), c.dx)
		b.w = c.w
	} else {
		b.dx = max(b.dx, uint32(d)+c.dx)
	}
	s := max(uint64(b.n)+uint64(b.dy), uint64(c.n)+uint64(c.dy))
	b.n = min(b.n, c.n)
	b.dy = uint32(s - uint64(b.n))
	return b
}

// window is a tile with a margin, as whole world units.
type window struct {
	w, n    uint32
	dx      uint64
	n0, s0  int64
	anyEast bool // the whole way around
}

// windowOf gives the tile with a margin of so many units of its extent.
func windowOf(t Tile, margin float64) window {
	side := int64(worldSide) >> t.Z
	m := int64(math.Ceil(float64(side) * margin / Extent))
	west, north := int64(t.X)*side-m, int64(t.Y)*side-m
	return window{
		w: uint32(west), n: uint32(north), dx: uint64(side + 2*m),
		n0: north, s0: north + side + 2*m, anyEast: side+2*m >= worldSide,
	}
}

// meets tells whether the box and the window overlap or touch.
func (v *window) meets(b wbox) bool {
	if int64(b.n) > v.s0 || int64(b.n)+int64(b.dy) < v.n0 {
		return false
	}
	return v.anyEast || uint64(b.w-v.w) <= v.dx || v.w-b.w <= b.dx
}

// holds tells whether the box is wholly within the window.
func (v *window) holds(b wbox) bool {
	if int64(b.n) < v.n0 || int64(b.n)+int64(b.dy) > v.s0 {
		return false
	}
	return v.anyEast || uint64(b.w-v.w)+uint64(b.dx) <= v.dx
}
