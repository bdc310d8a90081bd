package tile

import (
	"math"
	"slices"
)

// blocks writes the outlines of the blocks that meet the tile.
func (w *workshop) blocks(blocks []BlockView) {
	w.blockKeys(LayerBlocks)
	for i := range blocks {
		v := &blocks[i]
		w.startShape()
		w.outline(v.Outline)
		w.endShape()
		if len(w.layer.geom) > 0 {
			w.blockTags(v)
		}
		w.layer.feature(uint64(v.Stand.Ground.Block), polygonShape)
	}
}

// blockLabels writes a point inside each block; it is in one tile of a zoom.
// A block without an outline has its label amid its vines.
func (w *workshop) blockLabels(blocks []BlockView) {
	w.blockKeys(LayerBlockLabels)
	for i := range blocks {
		v := &blocks[i]
		wx, wy, ok := v.label()
		if !ok {
			continue
		}
		x, y, in := w.grid.point(wx, wy, extentBits)
		if !in {
			continue
		}
		w.startShape()
		w.pen.point(x, y)
		w.endShape()
		w.blockTags(v)
		w.layer.feature(uint64(v.Stand.Ground.Block), pointShape)
	}
}

// label gives where the block's code stands, world units.
func (v *BlockView) label() (x, y uint32, ok bool) {
	if !v.Outline.Empty() {
		x, y = v.Outline.Label()
		return x, y, true
	}
	if v.Index.Len() == 0 {
		return 0, 0, false
	}
	b := v.Index.box
	return b.w + b.dx/2, b.n + b.dy/2, true
}

func (w *workshop) blockKeys(layer string) {
	w.layer.reset(layer, "id", "code", "name", "variety", "vines", "gaps", "done", "to_prune", "vigour")
}

func (w *workshop) blockTags(v *BlockView) {
	l, g, sum := &w.layer, v.Stand.Ground, &v.sums.block
	l.tag(0, l.number(uint64(g.Block)))
	l.tag(1, l.text(g.Code))
	if v.Name != "" {
		l.tag(2, l.text(v.Name))
	}
	if v.Variety != "" {
		l.tag(3, l.text(v.Variety))
	}
	l.tag(4, l.number(uint64(sum.vines())))
	l.tag(5, l.number(uint64(sum.gaps())))
	l.tag(6, l.number(uint64(sum.done())))
	l.tag(7, l.number(uint64(sum.toPrune())))
	l.tag(8, l.fraction(math.Round(sum.meanVigour()*10)/10))
}

// outline writes the polygons of a block as they fall into the tile, once or,
// across the antimeridian in the outermost zooms, twice.
func (w *workshop) outline(o *Outline) {
	if o.Empty() {
		return
	}
	limit := w.limits()
	for i := range o.polygons {
		p := &o.polygons[i]
		for turn := -1.0; turn <= 1; turn++ {
			corner := vec{float64(w.grid.west) + turn*worldSide, float64(w.grid.north)}
			b := box{p.box.w - corner.x, p.box.n - corner.y, p.box.e - corner.x, p.box.s - corner.y}
			if b.overlaps(limit) {
				w.polygon(p, corner, limit, b.within(limit))
			}
		}
	}
}

// polygon writes one polygon as it falls into the tile.
func (w *workshop) polygon(p *polygon, corner vec, limit box, inside bool) {
	w.near.from(p, corner)
	if inside {
		w.rings(w.near.rings)
		return
	}
	for _, part := range clipPolygon(w.near.rings, limit) {
		w.rings(part)
	}
}

// nearRings is the rings of a polygon with their positions taken from a
// corner, and the room for them.
type nearRings struct {
	rings [][]vec
	room  []vec
}

func (n *nearRings) from(p *polygon, corner vec) {
	n.rings, n.room = n.rings[:0], n.room[:0]
	for _, r := range p.rings {
		for _, pt := range r {
			n.room = append(n.room, vec{pt.x - corner.x, pt.y - corner.y})
		}
	}
	at := 0
	for _, r := range p.rings {
		end := at + len(r)
		n.rings = append(n.rings, n.room[at:end:end])
		at = end
	}
}

// rings rounds an exterior and its holes to the tile and writes them. What is
// too small to enclose an area at this zoom falls away, an exterior with its
// holes; so does a hole that rounding pushes over another ring.
func (w *workshop) rings(rings [][]vec) {
	var written [][][2]int32
	for i, r := range rings {
		w.pts = w.pts[:0]
		for _, pt := range r {
			w.addPoint(w.grid.units(pt.x), w.grid.units(pt.y))
		}
		ring := cleanRing(w.pts)
		hole := i > 0
		if a := gridArea(ring); a == 0 || (a < 0) != hole {
			if !hole {
				return
			}
			continue
		}
		if len(rings) > 1 {
			if hole && slices.ContainsFunc(written, func(r [][2]int32) bool { return ringsCross(ring, r) }) {
				continue
			}
			written = append(written, slices.Clone(ring))
		}
		w.pen.ring(ring)
	}
}

// ringsCross tells whether a side of one ring runs through a side of another.
func ringsCross(a, b [][2]int32) bool {
	for i, p := range a {
		q := a[(i+1)%len(a)]
		for j, r := range b {
			s := b[(j+1)%len(b)]
			if turn(p, q, r)*turn(p, q, s) < 0 && turn(r, s, p)*turn(r, s, q) < 0 {
				return true
			}
		}
	}
	return false
}

// turn is 1 where c lies to the right of the way from a to b on the screen, -1
// to the left, 0 on it.
func turn(a, b, c [2]int32) int {
	v := int64(b[0]-a[0])*int64(c[1]-a[1]) - int64(b[1]-a[1])*int64(c[0]-a[0])
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// cleanRing takes out repeated points and spikes that go and come back on
// themselves, until there are none.
func cleanRing(ring [][2]int32) [][2]int32 {
	for i := 0; i < len(ring) && len(ring) >= 3; {
		n := len(ring)
		prev, next := (i+n-1)%n, (i+1)%n
		switch {
		case ring[i] == ring[next]:
			ring = slices.Delete(ring, i, i+1)
		case spike(ring[prev], ring[i], ring[next]):
			ring = slices.Delete(ring, i, i+1)
		default:
			i++
			continue
		}
		i = max(0, i-2)
	}
	if len(ring) < 3 {
		return nil
	}
	return ring
}

// spike tells whether the way b to c goes back over the way a to b.
func spike(a, b, c [2]int32) bool {
	ux, uy := int64(b[0]-a[0]), int64(b[1]-a[1])
	vx, vy := int64(c[0]-b[0]), int64(c[1]-b[1])
	return ux*vy == uy*vx && ux*vx+uy*vy < 0
}

// gridArea is twice the signed area of a ring, positive clockwise on the
// screen.
func gridArea(ring [][2]int32) int64 {
	var a int64
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a += int64(p[0])*int64(q[1]) - int64(q[0])*int64(p[1])
	}
	return a
}

// touches tells whether the outline meets a tile and its margin.
func (o *Outline) touches(t Tile) bool {
	if o.Empty() {
		return false
	}
	side := float64(uint64(worldSide) >> t.Z)
	m := side * marginUnits / Extent
	for _, p := range o.polygons {
		for turn := -1.0; turn <= 1; turn++ {
			w, n := float64(t.X)*side+turn*worldSide, float64(t.Y)*side
			if p.box.overlaps(box{w - m, n - m, w + side + m, n + side + m}) {
				return true
			}
		}
	}
	return false
}
