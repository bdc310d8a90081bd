package tile

import (
	"fmt"
	"image/color"
	"math"
)

// A picture holds one byte per pixel: an index into a palette of the theme's
// inks and their mixtures. Edges are softened by looking up what an ink over a
// pixel gives, so no true-colour picture is ever made (a tenth of the time and
// a seventh of the bytes).

// ink is one of the pure colours of a theme; 0 is nothing.
type ink uint8

// coverSteps is how finely the part of a pixel that an ink covers is told.
const coverSteps = 4

// palette is the colours of a theme.
type palette struct {
	inks    []color.NRGBA // 0 is transparent
	colours color.Palette
	vecs    [][4]float64
	// over[i*coverSteps+k-1][p] is the pixel after k/coverSteps of it was
	// covered with ink i; full cover is the ink itself.
	over [][256]uint8
}

// newPalette makes the palette of some inks (transparent not among them). The
// first colours are the inks, so that ink i is also colour i.
func newPalette(inks []color.NRGBA) *palette {
	p := &palette{inks: append([]color.NRGBA{{}}, inks...)}
	for _, c := range p.inks {
		p.add(c)
	}
	for i := range p.inks {
		for j := range i {
			for k := 1; k < coverSteps; k++ {
				p.add(mixColours(p.inks[i], p.inks[j], float64(k)/coverSteps))
			}
		}
	}
	p.over = make([][256]uint8, len(p.inks)*coverSteps)
	for i := range p.inks {
		full := &p.over[i*coverSteps+coverSteps-1]
		for from := range full {
			full[from] = uint8(i)
		}
		for k := 1; k < coverSteps; k++ {
			row := &p.over[i*coverSteps+k-1]
			for from := range p.vecs {
				row[from] = p.nearest(mixVecs(p.vecs[i], p.vecs[from], float64(k)/coverSteps))
			}
		}
	}
	return p
}

// add adds a colour while there is room.
func (p *palette) add(c color.NRGBA) {
	if len(p.colours) < 256 {
		p.colours = append(p.colours, c)
		p.vecs = append(p.vecs, premultiplied(c))
	}
}

// nearest finds the colour closest to a premultiplied one.
func (p *palette) nearest(v [4]float64) uint8 {
	best, at := math.Inf(1), 0
	for i := range p.vecs {
		w := &p.vecs[i]
		r, g, b, a := v[0]-w[0], v[1]-w[1], v[2]-w[2], v[3]-w[3]
		d := r*r + g*g + b*b + a*a
		if d < best {
			best, at = d, i
		}
	}
	return uint8(at)
}

func premultiplied(c color.NRGBA) [4]float64 {
	a := float64(c.A) / 255
	return [4]float64{float64(c.R) * a, float64(c.G) * a, float64(c.B) * a, float64(c.A)}
}

// mixVecs gives part of a and the rest of b.
func mixVecs(a, b [4]float64, part float64) (m [4]float64) {
	for k := range m {
		m[k] = a[k]*part + b[k]*(1-part)
	}
	return m
}

func mixColours(a, b color.NRGBA, part float64) color.NRGBA {
	m := mixVecs(premultiplied(a), premultiplied(b), part)
	if m[3] == 0 {
		return color.NRGBA{}
	}
	un := func(v float64) uint8 { return uint8(math.Round(v * 255 / m[3])) }
	return color.NRGBA{un(m[0]), un(m[1]), un(m[2]), uint8(math.Round(m[3]))}
}

// parseColour reads #rrggbb.
func parseColour(s string) (color.NRGBA, error) {
	var c color.NRGBA
	if _, err := fmt.Sscanf(s, "#%02x%02x%02x", &c.R, &c.G, &c.B); err != nil || len(s) != 7 {
		return c, fmt.Errorf("colour %q is not of the form #rrggbb", s)
	}
	c.A = 255
	return c, nil
}

// themeInks is the inks of a theme: those of its classes and four that every
// theme has.
type themeInks struct {
	*palette
	classes             []Class
	class               []ink // by position in classes
	casing, glyph, halo ink
	ground              ink
	byCode              [256]uint8 // position in classes of a code
}

// inksOf prepares a theme on the light ground.
func inksOf(l Legend) (*themeInks, error) {
	t := &themeInks{classes: l.Classes}
	var inks []color.NRGBA
	seen := map[string]ink{}
	take := func(hex string) (ink, error) {
		if i, ok := seen[hex]; ok {
			return i, nil
		}
		c, err := parseColour(hex)
		if err != nil {
			return 0, err
		}
		inks = append(inks, c)
		seen[hex] = ink(len(inks))
		return seen[hex], nil
	}
	for i, c := range l.Classes {
		k, err := take(c.Light)
		if err != nil {
			return nil, fmt.Errorf("legend %s, class %s: %w", l.Title, c.Key, err)
		}
		t.class = append(t.class, k)
		t.byCode[c.Code] = uint8(i)
	}
	for _, f := range []struct {
		hex string
		to  *ink
	}{{InkLight, &t.casing}, {GlyphInk, &t.glyph}, {GlyphHalo, &t.halo}, {GroundLight, &t.ground}} {
		k, err := take(f.hex)
		if err != nil {
			return nil, err
		}
		*f.to = k
	}
	t.palette = newPalette(inks)
	return t, nil
}
