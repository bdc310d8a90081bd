package tile

import (
	"image"
	"image/draw"
	"math"

	"golang.org/x/image/vector"
)

// canvas is one picture being drawn: pixels, and room for softened shapes.
type canvas struct {
	img   *image.Paletted
	side  int
	inks  *themeInks
	ras   *vector.Rasterizer
	cover *image.Alpha
	dirty bool // a shape waits in ras
}

func newCanvas(side int) *canvas {
	return &canvas{
		img:  image.NewPaletted(image.Rect(0, 0, side, side), nil),
		side: side, ras: vector.NewRasterizer(side, side),
		cover: image.NewAlpha(image.Rect(0, 0, side, side)),
	}
}

// begin clears the canvas for a theme.
func (c *canvas) begin(t *themeInks) {
	clear(c.img.Pix)
	c.img.Palette, c.inks = t.colours, t
	c.ras.Reset(c.side, c.side)
	c.dirty = false
}

// blank tells whether nothing was drawn.
func (c *canvas) blank() bool {
	for _, p := range c.img.Pix {
		if p != 0 {
			return false
		}
	}
	return true
}

// stamp puts a sprite at a place in quarter pixels.
func (c *canvas) stamp(set *spriteSet, qx, qy int32) {
	s := &set[int(qy&(subPositions-1))*subPositions+int(qx&(subPositions-1))]
	x0, y0 := int(qx>>subBits)+s.at, int(qy>>subBits)+s.at
	fromX, toX := max(0, -x0), min(s.size, c.side-x0)
	for y := max(0, -y0); y < min(s.size, c.side-y0); y++ {
		if fromX >= toX {
			return
		}
		ops := s.ops[y*s.size+fromX : y*s.size+toX]
		px := c.img.Pix[(y0+y)*c.img.Stride+x0+fromX:]
		px = px[:len(ops)]
		for i, op := range ops {
			switch {
			case op == 0:
			case op < opTable:
				px[i] = uint8(op - 1)
			default:
				px[i] = c.inks.over[op-opTable][px[i]]
			}
		}
	}
}

// stroke adds a straight line to the waiting shape, with square ends. All
// strokes run round the same way, so that they add up where they cross.
func (c *canvas) stroke(a, b [2]float64, width float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	length := math.Hypot(dx, dy)
	if !(length > 0) {
		return
	}
	nx, ny := -dy/length*width/2, dx/length*width/2
	c.ras.MoveTo(float32(a[0]+nx), float32(a[1]+ny))
	c.ras.LineTo(float32(b[0]+nx), float32(b[1]+ny))
	c.ras.LineTo(float32(b[0]-nx), float32(b[1]-ny))
	c.ras.LineTo(float32(a[0]-nx), float32(a[1]-ny))
	c.ras.ClosePath()
	c.dirty = true
}

// ring adds a closed shape to the waiting one.
func (c *canvas) ring(pts [][2]float64) {
	if len(pts) < 3 {
		return
	}
	c.ras.MoveTo(float32(pts[0][0]), float32(pts[0][1]))
	for _, p := range pts[1:] {
		c.ras.LineTo(float32(p[0]), float32(p[1]))
	}
	c.ras.ClosePath()
	c.dirty = true
}

// paint covers the pixels under the waiting shape with an ink.
func (c *canvas) paint(k ink) {
	if !c.dirty {
		return
	}
	c.ras.DrawOp = draw.Src
	c.ras.Draw(c.cover, c.cover.Bounds(), image.Opaque, image.Point{})
	for i, a := range c.cover.Pix {
		if a != 0 {
			c.touch(i, k, a)
		}
	}
	c.ras.Reset(c.side, c.side)
	c.dirty = false
}

// touch covers a part of 255 of one pixel with an ink.
func (c *canvas) touch(i int, k ink, cover uint8) {
	if n := (int(cover)*coverSteps + 127) / 255; n > 0 {
		c.img.Pix[i] = c.inks.over[int(k)*coverSteps+n-1][c.img.Pix[i]]
	}
}
