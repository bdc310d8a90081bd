package tile

import "image/png"

// eachRing goes through the rings of an outline that meet the picture, in
// pixels, cut to a little more than the picture.
func (e *easel) eachRing(o *Outline, do func([][2]float64)) {
	side := float64(e.grid.side)
	m := side * pictureMargin / PictureSide
	limit := box{-m, -m, side + m, side + m}
	f := float64(e.side) / side
	for i := range o.polygons {
		p := &o.polygons[i]
		for turn := -1.0; turn <= 1; turn++ {
			corner := vec{float64(e.grid.west) + turn*worldSide, float64(e.grid.north)}
			b := box{p.box.w - corner.x, p.box.n - corner.y, p.box.e - corner.x, p.box.s - corner.y}
			if !b.overlaps(limit) {
				continue
			}
			e.near.from(p, corner)
			for _, r := range e.near.rings {
				e.pts = e.pts[:0]
				for _, pt := range clipRing(r, limit) {
					e.pts = append(e.pts, [2]float64{pt.x * f, pt.y * f})
				}
				do(e.pts)
			}
		}
	}
}

// edges draws the outlines of blocks, or, where a block is less than a few
// pixels, a dot that can be found.
func (e *easel) edges(blocks []BlockView) {
	width := outlineWidth * float64(e.scale)
	for i := range blocks {
		if o := blocks[i].Outline; o.touches(e.tile) && e.largest(o) >= leastArea {
			e.eachRing(o, func(pts [][2]float64) {
				for i, a := range pts {
					e.stroke(a, pts[(i+1)%len(pts)], width)
				}
			})
		}
	}
	e.paint(e.inks.casing)
	for i := range blocks {
		v := &blocks[i]
		if o := v.Outline; o.touches(e.tile) && e.largest(o) < leastArea {
			s := v.sums.block.overall()
			x, y := e.grid.offset(o.label[0], o.label[1])
			e.stamp(e.looks.dot(e.codeOf(&s), e.scale), x, y)
		}
	}
}

// largest is the longer side of a block on the picture, pixels at scale 1.
func (e *easel) largest(o *Outline) float64 {
	w, h := e.sizeOf(o)
	return max(w, h)
}

// sizeOf gives width and height of the largest polygon in pixels at scale 1.
func (e *easel) sizeOf(o *Outline) (w, h float64) {
	f := PictureSide / float64(e.grid.side)
	for _, p := range o.polygons {
		w, h = max(w, (p.box.e-p.box.w)*f), max(h, (p.box.s-p.box.n)*f)
	}
	return w, h
}

// blockCode writes a block's code where there is room for it and no single
// vine is shown yet.
func (e *easel) blockCode(v *BlockView) {
	x, y, ok := v.label()
	if !ok {
		return
	}
	if v.Index.Len() > 0 && e.showDots(e.distancesOf(v)) {
		return
	}
	if !v.Outline.Empty() {
		if w, _ := e.sizeOf(v.Outline); w < labelsFrom {
			return
		}
	}
	at := e.pixel([2]uint32{x, y})
	e.hand.write(e.canvas, v.Stand.Ground.Code, at[0], at[1])
}

// onePNGBuffer keeps the encoder's buffer from picture to picture.
type onePNGBuffer struct{ kept *png.EncoderBuffer }

// Get gives the kept buffer.
func (b *onePNGBuffer) Get() *png.EncoderBuffer { return b.kept }

// Put keeps a buffer.
func (b *onePNGBuffer) Put(buf *png.EncoderBuffer) { b.kept = buf }
