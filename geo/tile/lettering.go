package tile

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"

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
	face    font.Face
	reach   int // of the halo, pixels
	letters map[rune]*letter
}

// letter is a letter drawn once, at a whole pixel.
type letter struct {
	body, halo *image.Alpha // placed about the pen; nil for a blank
	advance    fixed.Int26_6
}

func newLettering(scale int) (*lettering, error) {
	f, err := opentype.Parse(gobold.TTF)
	if err != nil {
		return nil, fmt.Errorf("read the font Go Bold: %w", err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: float64(letterSize * scale), DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, fmt.Errorf("size the font Go Bold: %w", err)
	}
	return &lettering{face: face, reach: scale, letters: map[rune]*letter{}}, nil
}

// write puts a text with its middle at x, y, pixels.
func (l *lettering) write(c *canvas, text string, x, y float64) {
	runes := []rune(text)
	if len(runes) > longestCode {
		runes = append(runes[:longestCode-1], '…')
	}
	pens := make([]fixed.Int26_6, len(runes))
	var pen fixed.Int26_6
	for i, r := range runes {
		if i > 0 {
			pen += l.face.Kern(runes[i-1], r)
		}
		pens[i] = pen
		pen += l.letter(r).advance
	}
	left := int(x - float64(pen)/128)
	base := int(y + float64(l.face.Metrics().CapHeight)/128)
	for i, r := range runes {
		c.letterMask(l.letter(r).halo, left+pens[i].Round(), base, c.inks.halo)
	}
	for i, r := range runes {
		c.letterMask(l.letter(r).body, left+pens[i].Round(), base, c.inks.glyph)
	}
}

// letter draws a letter when it is first needed.
func (l *lettering) letter(r rune) *letter {
	if k := l.letters[r]; k != nil {
		return k
	}
	if len(l.letters) > manyLetters {
		clear(l.letters)
	}
	k := &letter{}
	l.letters[r] = k
	area, mask, at, advance, ok := l.face.Glyph(fixed.Point26_6{}, r)
	k.advance = advance
	if !ok || area.Empty() {
		return k
	}
	k.body = image.NewAlpha(area)
	draw.Draw(k.body, area, mask, at, draw.Src)
	k.halo = image.NewAlpha(area.Inset(-l.reach))
	for y := k.halo.Rect.Min.Y; y < k.halo.Rect.Max.Y; y++ {
		for x := k.halo.Rect.Min.X; x < k.halo.Rect.Max.X; x++ {
			k.halo.SetAlpha(x, y, color.Alpha{A: darkest(k.body, x, y, l.reach)})
		}
	}
	return k
}

// manyLetters is how many letters are kept: codes use few.
const manyLetters = 200

// darkest is the most cover within reach of a pixel.
func darkest(m *image.Alpha, x, y, reach int) (a uint8) {
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			a = max(a, m.AlphaAt(x+dx, y+dy).A)
		}
	}
	return a
}

// letterMask covers the pixels of a mask, placed at x, y, with an ink.
func (c *canvas) letterMask(mask *image.Alpha, x, y int, k ink) {
	if mask == nil {
		return
	}
	place := image.Pt(x, y)
	seen := mask.Rect.Add(place).Intersect(c.img.Rect)
	for py := seen.Min.Y; py < seen.Max.Y; py++ {
		for px := seen.Min.X; px < seen.Max.X; px++ {
			if a := mask.AlphaAt(px-x, py-y).A; a != 0 {
				c.touch(c.img.PixOffset(px, py), k, a)
			}
		}
	}
}
