package tile

import (
	"math"
)

// subPositions is how many places within a pixel, each way, a mark can have.
const subPositions = 4

// subBits is log2 of subPositions.
const subBits = 2

// sprite is a mark drawn once for one place within a pixel. Each pixel is an
// operation: 0 leaves it, 1…256 sets a colour, above that the pixel goes
// through a table of palette.over.
type sprite struct {
	size int // pixels a side
	at   int // pixels from the mark's own pixel to the sprite's corner
	ops  []uint16
}

// opTable is the first operation that goes through a table.
const opTable = 257

// spriteSet is the sprites of one class by place within the pixel.
type spriteSet [subPositions * subPositions]sprite

// mark says what a class looks like at a size.
type mark struct {
	symbol Symbol
	fill   ink
	radius float64 // pixels, casing included
	casing float64 // pixels

	corners [][2]float64 // of a glyph, radii
	sign    [][4]float64 // strokes within it
}

// glyph tells whether a symbol is drawn over others at a readable size.
func (s Symbol) glyph() bool {
	switch s {
	case SymbolCross, SymbolSquare, SymbolUp, SymbolDown, SymbolCheck, SymbolDiamond:
		return true
	}
	return false
}

// newSprites draws a mark for all places within a pixel, from 16 samples a
// pixel.
func newSprites(t *themeInks, m mark) *spriteSet {
	var set spriteSet
	m.corners, m.sign = glyphOutline(m.symbol)
	reach := int(math.Ceil(m.radius*1.3)) + 1
	size := 2*reach + 1
	for sub := range set {
		cx := float64(reach) + float64(sub%subPositions)/subPositions
		cy := float64(reach) + float64(sub/subPositions)/subPositions
		s := sprite{size: size, at: -reach, ops: make([]uint16, size*size)}
		for i := range s.ops {
			s.ops[i] = t.pixel(&m, float64(i%size)-cx, float64(i/size)-cy)
		}
		set[sub] = s
	}
	return &set
}

// pixel works out one pixel of a mark whose corner is at x, y from its centre.
func (t *themeInks) pixel(m *mark, x, y float64) uint16 {
	const side = 4
	if math.Hypot(x+0.5, y+0.5) > m.radius*1.35+1 {
		return 0
	}
	var cover [256]uint8
	total := 0
	first, second := ink(0), ink(0)
	for k := range side * side {
		px := x + (float64(k%side)+0.5)/side
		py := y + (float64(k/side)+0.5)/side
		if i := t.inkAt(m, px, py); i != 0 {
			cover[i]++
			total++
		}
	}
	for i, n := range cover {
		switch {
		case n > cover[first]:
			first, second = ink(i), first
		case n > 0 && n > cover[second]:
			second = ink(i)
		}
	}
	if total*coverSteps*2 < side*side { // less than half a step
		return 0
	}
	if total < side*side*7/8 {
		k := max(1, (total*coverSteps+side*side/2)/(side*side))
		return opTable + uint16(int(first)*coverSteps+k-1)
	}
	colour := uint8(first)
	if n := int(cover[second]); second != 0 && n > 0 {
		if k := (n*coverSteps + total/2) / total; k > 0 {
			colour = t.over[int(second)*coverSteps+k-1][first]
		}
	}
	return 1 + uint16(colour)
}

// inkAt gives the topmost ink of a mark at a place in pixels from its centre.
func (t *themeInks) inkAt(m *mark, x, y float64) ink {
	r := m.radius
	if m.symbol.glyph() {
		return t.glyphAt(m, x/r, y/r)
	}
	d := math.Hypot(x, y)
	if d > r {
		return 0
	}
	if m.symbol == SymbolRing {
		w := max(1.1, r*0.34)
		switch {
		case d > r-w:
			return m.fill
		default:
			return t.ground
		}
	}
	if d > r-m.casing {
		return t.casing
	}
	if t.signAt(m, x/r, y/r) {
		if m.symbol == SymbolHalf {
			return t.ground
		}
		return t.halo
	}
	return m.fill
}

// signAt tells whether the sign within a disc covers a place, in radii. Discs
// below four pixels are too small for a sign, but halves stay halves.
func (t *themeInks) signAt(m *mark, x, y float64) bool {
	if m.symbol == SymbolHalf {
		return y > 0
	}
	if m.radius < 4 {
		return false
	}
	const w = 0.14
	switch m.symbol {
	case SymbolTick:
		return near(x, y, -0.45, 0.05, -0.1, 0.4, w) || near(x, y, -0.1, 0.4, 0.48, -0.36, w)
	case SymbolPlus:
		return near(x, y, -0.5, 0, 0.5, 0, w) || near(x, y, 0, -0.5, 0, 0.5, w)
	case SymbolBar:
		return near(x, y, -0.5, 0, 0.5, 0, w)
	}
	return false
}

// glyphAt gives the ink of a glyph at a place in radii: shape in the class's
// colour, edge in ink, halo around.
func (t *themeInks) glyphAt(m *mark, x, y float64) ink {
	const edge, halo = 0.13, 0.34
	if m.symbol == SymbolCross {
		d := min(away(x, y, -0.75, -0.75, 0.75, 0.75), away(x, y, -0.75, 0.75, 0.75, -0.75))
		return t.layered(d-0.16, d-halo, false, m.fill)
	}
	d := distanceTo(m.corners, x, y)
	if withinRing(m.corners, x, y) {
		d = -d
	}
	for _, s := range m.sign {
		if near(x, y, s[0], s[1], s[2], s[3], edge) && d < 0 {
			return t.glyph
		}
	}
	return t.layered(d-edge, d-halo, d < -edge, t.insideOf(m))
}

// insideOf is the ink within a glyph.
func (t *themeInks) insideOf(m *mark) ink {
	if m.symbol == SymbolCheck {
		return t.halo
	}
	return m.fill
}

// layered picks among inside, edge and halo.
func (t *themeInks) layered(toEdge, toHalo float64, inside bool, fill ink) ink {
	switch {
	case inside:
		return fill
	case toEdge <= 0:
		return t.glyph
	case toHalo <= 0:
		return t.halo
	}
	return 0
}

// glyphOutline gives a glyph's corners and the strokes of its sign, in radii,
// y down.
func glyphOutline(s Symbol) (corners [][2]float64, sign [][4]float64) {
	bang := [][4]float64{{0, -0.5, 0, 0.1}, {0, 0.42, 0, 0.46}}
	switch s {
	case SymbolUp:
		return [][2]float64{{0, -0.9}, {0.9, 0.7}, {-0.9, 0.7}}, nil
	case SymbolDown:
		return [][2]float64{{0, 0.9}, {-0.9, -0.7}, {0.9, -0.7}}, nil
	case SymbolSquare:
		return [][2]float64{{-0.75, -0.75}, {0.75, -0.75}, {0.75, 0.75}, {-0.75, 0.75}}, [][4]float64{{-0.75, 0.75, 0.75, -0.75}}
	}
	return [][2]float64{{0, -1}, {1, 0}, {0, 1}, {-1, 0}}, bang
}

// away is the distance from a place to a stroke.
func away(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	f := max(0, min(1, ((x-ax)*dx+(y-ay)*dy)/(dx*dx+dy*dy)))
	return math.Hypot(x-ax-f*dx, y-ay-f*dy)
}

func near(x, y, ax, ay, bx, by, w float64) bool { return away(x, y, ax, ay, bx, by) <= w }

func distanceTo(ring [][2]float64, x, y float64) float64 {
	d := math.Inf(1)
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		d = min(d, away(x, y, a[0], a[1], b[0], b[1]))
	}
	return d
}

func withinRing(ring [][2]float64, x, y float64) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a[1] > y) != (b[1] > y) && x < a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}
