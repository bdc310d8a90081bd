package tile

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
)

// PictureSide is the side of a picture at scale 1, pixels.
const PictureSide = 256

// ErrPicture says that a picture cannot be drawn as asked.
var ErrPicture = errors.New("picture")

// What shows when depends on how far apart things are on the picture, pixels
// at scale 1 (chosen by us by looking at pictures).
const (
	rowsFrom     = 1.0  // rows become lines from this distance between them
	dotsFrom     = 2.4  // vines become dots from this distance along the row
	leastDot     = 1.6  // radius of the smallest dot with its casing
	mostDot      = 9.0  // and of the largest
	dotShare     = 0.46 // radius as a share of the distance to the neighbour
	glyphsFrom   = 4.5  // glyphs show from this distance along the row
	leastGlyph   = 4.5  // and are never smaller than this radius
	labelsFrom   = 22.0 // a block shows its code from this width
	outlineWidth = 1.25
	leastArea    = 4 // a block of fewer pixels is a dot
	// pictureMargin is how far a mark or a label may reach from its place.
	pictureMargin = 48
)

// PNG draws a theme as a picture of 256 pixels a side, times scale (1 or 2):
// areas far out, then rows as lines, then vines as dots and glyphs, on
// nothing. The colours are those for the light ground. A picture with nothing
// on it is nil.
func (r *Renderer) PNG(t Tile, theme Theme, scale int, blocks []BlockView) ([]byte, error) {
	switch {
	case !t.Valid():
		return nil, fmt.Errorf("%w: %s: %w", ErrPicture, t, ErrTile)
	case !theme.Valid():
		return nil, fmt.Errorf("%w: there is no theme %q", ErrPicture, theme)
	case scale != 1 && scale != 2:
		return nil, fmt.Errorf("%w: scale %d is neither 1 nor 2", ErrPicture, scale)
	}
	looks, err := r.looks.of(theme)
	if err != nil {
		return nil, fmt.Errorf("%w: theme %s: %w", ErrPicture, theme, err)
	}
	pool := &r.easels[scale-1]
	e, _ := pool.Get().(*easel)
	if e == nil {
		if e, err = newEasel(scale); err != nil {
			return nil, fmt.Errorf("%w: %w", ErrPicture, err)
		}
	}
	defer pool.Put(e)
	e.begin(t, theme, looks)
	e.draw(drawable(blocks))
	if e.blank() {
		return nil, nil
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed, BufferPool: &e.buffer}
	if err := enc.Encode(&out, e.img); err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrPicture, t, err)
	}
	return out.Bytes(), nil
}

// easel is the room that drawing one picture takes.
type easel struct {
	*canvas
	scale  int
	bits   uint // log2 of quarter pixels along the tile
	tile   Tile
	theme  Theme
	looks  *looksOf
	grid   grid
	win    window
	near   nearRings
	lines  [][]rowLine // by class
	pts    [][2]float64
	hand   *lettering
	buffer onePNGBuffer
}

func newEasel(scale int) (*easel, error) {
	hand, err := newLettering(scale)
	if err != nil {
		return nil, err
	}
	bits := uint(8 + scale - 1 + subBits)
	return &easel{canvas: newCanvas(PictureSide * scale), scale: scale, bits: bits, hand: hand}, nil
}

func (e *easel) begin(t Tile, theme Theme, looks *looksOf) {
	e.tile, e.theme, e.looks = t, theme, looks
	e.canvas.begin(looks.themeInks)
	e.grid = gridOf(t, e.bits)
	e.win = windowOf(t, float64(pictureMargin)/PictureSide*Extent)
}

// draw draws all blocks, layer by layer, so that no block covers another's
// marks.
func (e *easel) draw(blocks []BlockView) {
	e.areas(blocks)
	e.rowLines(blocks)
	e.edges(blocks)
	e.eachNear(blocks, func(v *BlockView, d distances) { e.marks(v, d, false) })
	e.eachNear(blocks, func(v *BlockView, d distances) { e.marks(v, d, true) })
	for i := range blocks {
		e.blockCode(&blocks[i])
	}
}

// distances are how far apart rows, and vines along the row, are on the
// picture, pixels at scale 1.
type distances struct{ rows, vines float64 }

// distancesOf works out a block's distances from its ground, or from its vines
// where the ground does not say.
func (e *easel) distancesOf(v *BlockView) distances {
	g := v.Index.ground
	perPixel := metresPerWorldUnit(v.Index.box.n) * float64(e.grid.side) / PictureSide
	d := distances{g.RowSpacingM / perPixel, g.VineSpacingM / perPixel}
	if !(d.vines > 0) {
		d.vines = v.Index.typicalStepM() / perPixel
	}
	if !(d.rows > 0) {
		d.rows = 2 * d.vines
	}
	return d
}

// eachNear goes through the blocks with vines near the picture.
func (e *easel) eachNear(blocks []BlockView, draw func(*BlockView, distances)) {
	for i := range blocks {
		v := &blocks[i]
		if v.Index.Len() > 0 && e.win.meets(v.Index.box) {
			draw(v, e.distancesOf(v))
		}
	}
}

// showRows and showDots are what a block shows at these distances; the device
// pixel decides whether rows can be told apart.
func (e *easel) showRows(d distances) bool {
	return d.rows*float64(e.scale) >= rowsFrom && !e.showDots(d)
}
func (e *easel) showDots(d distances) bool { return d.vines >= dotsFrom }

// codeOf is the class code that a piece or a block shows in the theme.
func (e *easel) codeOf(s *pieceSum) uint8 {
	switch e.theme {
	case ThemeCondition:
		return uint8(s.condition)
	case ThemeProgress:
		return uint8(s.progress)
	case ThemeDoubt:
		return s.doubt
	case ThemeChange:
		return s.change
	case ThemePatches:
		return uint8(s.patch)
	case ThemeLoad:
		return s.load
	case ThemeFollowUps:
		return uint8(s.follow)
	case ThemeReplants:
		return uint8(s.replant)
	case ThemeZones:
		return s.zone
	}
	return s.vigour
}

// pixel gives a world position in pixels of the picture.
func (e *easel) pixel(at [2]uint32) [2]float64 {
	d := e.grid.vec(at)
	f := float64(e.side) / float64(e.grid.side)
	return [2]float64{d.x * f, d.y * f}
}

// marks draws a block's vines: dots, or glyphs in a second pass.
func (e *easel) marks(v *BlockView, d distances, glyphs bool) {
	if !e.showDots(d) || glyphs && d.vines < glyphsFrom {
		return
	}
	set := e.looks.at(d, e.scale)
	ix, s := v.Index, v.Stand
	for r, row := range ix.rows {
		if ix.ground.Rows[r].Count == 0 || !e.win.meets(row) {
			continue
		}
		for _, p := range ix.fine[ix.starts[r]:ix.starts[r+1]] {
			if !e.win.meets(p.box) {
				continue
			}
			for i := int(p.first); i < int(p.end); i++ {
				look, over := e.looks.mark(e.theme, s, i)
				if over != glyphs && d.vines >= glyphsFrom {
					continue
				}
				if m := set[look].sprites(e.inks); m != nil {
					x, y := e.grid.offset(ix.ground.WX[i], ix.ground.WY[i])
					e.stamp(m, x, y)
				}
			}
		}
	}
}

// typicalStepM is the middle step of the longest row, metres.
func (ix *Index) typicalStepM() float64 {
	best := -1
	for r, row := range ix.ground.Rows {
		if row.Count > 1 && (best < 0 || row.Count > ix.ground.Rows[best].Count) {
			best = r
		}
	}
	if best < 0 {
		return 0
	}
	row := ix.ground.Rows[best]
	return medianStep(ix.ground, row.First, row.First+row.Count) * metresPerWorldUnit(ix.ground.WY[row.First])
}
