package tile

import (
	"fmt"
	"image"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// letterSize is the height of block codes, pixels at scale 1.
const letterSize = 12

// longestCode is how many letters of a block's code are written.
const longestCode = 12

// lettering writes block codes in the Go Bold face with a halo. For one
// picture at a time.
type lettering struct {
	face  font.Face
	scale float64
}

func newLettering(scale float64) (*lettering, error) {
	f, err := opentype.Parse(gobold.TTF)
	if err != nil {
		return nil, fmt.Errorf("read the font Go Bold: %w", err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: letterSize * scale, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, fmt.Errorf("size the font Go Bold: %w", err)
	}
	return &lettering{face: face, scale: scale}, nil
}

// write puts a text with its middle at x, y, pixels.
func (l *lettering) write(c *canvas, text string, x, y float64) {
	if r := []rune(text); len(r) > longestCode {
		text = string(r[:longestCode-1]) + "…"
	}
	width := font.MeasureString(l.face, text)
	m := l.face.Metrics()
	dot := fixed.Point26_6{
		X: fixed.Int26_6(x*64) - width/2,
		Y: fixed.Int26_6(y*64) + (m.CapHeight)/2,
	}
	reach := int(l.scale + 0.5)
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if dx != 0 || dy != 0 {
				l.pass(c, text, dot.Add(fixed.P(dx, dy)), c.inks.halo)
			}
		}
	}
	l.pass(c, text, dot, c.inks.glyph)
}

// pass writes a text once in one ink.
func (l *lettering) pass(c *canvas, text string, dot fixed.Point26_6, k ink) {
	before := rune(-1)
	for _, r := range text {
		if before >= 0 {
			dot.X += l.face.Kern(before, r)
		}
		area, mask, at, advance, ok := l.face.Glyph(dot, r)
		if ok {
			c.letter(area, mask, at, k)
		}
		dot.X += advance
		before = r
	}
}

// letter covers the pixels of one letter.
func (c *canvas) letter(area image.Rectangle, mask image.Image, at image.Point, k ink) {
	alpha, ok := mask.(*image.Alpha)
	if !ok {
		return
	}
	seen := area.Intersect(c.img.Rect)
	for y := seen.Min.Y; y < seen.Max.Y; y++ {
		for x := seen.Min.X; x < seen.Max.X; x++ {
			a := alpha.AlphaAt(at.X+x-area.Min.X, at.Y+y-area.Min.Y).A
			if a != 0 {
				c.touch(c.img.PixOffset(x, y), k, a)
			}
		}
	}
}
