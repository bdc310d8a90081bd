package tile

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// ErrOutline says that a block's outline has a part that cannot be drawn.
var ErrOutline = errors.New("block outline")

// Outline is a block's shape prepared for drawing: rings in world units,
// exteriors clockwise on the screen and holes the other way, each polygon in
// one piece even where it passes the antimeridian. It is never changed.
type Outline struct {
	polygons []polygon
	label    [2]uint32
	area     float64 // square world units
}

// polygon is an exterior ring and its holes. Points are not repeated and the
// last is not the first. The west end of the box lies within the world, its
// east end may lie beyond.
type polygon struct {
	rings [][]vec
	box   box
}

// vec is a point or a step, x to the east and y to the south.
type vec struct{ x, y float64 }

// box is a rectangle: west, north, east, south.
type box struct{ w, n, e, s float64 }

func (b box) overlaps(c box) bool { return b.w <= c.e && c.w <= b.e && b.n <= c.s && c.n <= b.s }
func (b box) within(c box) bool   { return b.w >= c.w && b.e <= c.e && b.n >= c.n && b.s <= c.s }

// PrepareOutline projects a block's polygons (degrees, WGS 84). Rings may run
// either way round and need not be closed. A polygon whose exterior has a
// position that is no longitude and latitude, or that encloses no area, is left
// out, as is such a hole; the error then says which, and the outline holds the
// rest. The outline is never nil.
func PrepareOutline(mp orb.MultiPolygon) (*Outline, error) {
	o := &Outline{}
	var errs []error
	for i, p := range mp {
		poly, err := preparePolygon(p)
		if err != nil {
			errs = append(errs, fmt.Errorf("%w: polygon %d: %w", ErrOutline, i+1, err))
		}
		if len(poly.rings) > 0 {
			o.polygons = append(o.polygons, poly)
		}
	}
	largest := 0.0
	for _, p := range o.polygons {
		a := signedArea(p.rings[0])
		for _, h := range p.rings[1:] {
			a += signedArea(h)
		}
		o.area += a
		if a > largest {
			largest = a
			at := p.inside()
			o.label = [2]uint32{uint32(uint64(int64(at.x)) & (worldSide - 1)), uint32(min(at.y, worldSide-1))}
		}
	}
	return o, errors.Join(errs...)
}

// Empty tells whether there is nothing to draw.
func (o *Outline) Empty() bool { return o == nil || len(o.polygons) == 0 }

// Label gives a position inside the largest polygon, world units.
func (o *Outline) Label() (x, y uint32) { return o.label[0], o.label[1] }

func preparePolygon(p orb.Polygon) (polygon, error) {
	var poly polygon
	var errs []error
	for i, r := range p {
		ring, err := prepareRing(r)
		if err != nil {
			errs = append(errs, fmt.Errorf("ring %d: %w", i+1, err))
			if i == 0 {
				break
			}
			continue
		}
		if i > 0 { // a hole lies on the same side of the antimeridian
			turns := math.Round((poly.rings[0][0].x - ring[0].x) / worldSide)
			for j := range ring {
				ring[j].x += turns * worldSide
			}
		}
		if hole := i > 0; (signedArea(ring) < 0) != hole {
			slices.Reverse(ring)
		}
		poly.rings = append(poly.rings, ring)
	}
	if len(poly.rings) > 0 {
		turns := math.Floor(boxOf(poly.rings[0]).w / worldSide)
		for _, r := range poly.rings {
			for j := range r {
				r[j].x -= turns * worldSide
			}
		}
		poly.box = boxOf(poly.rings[0])
	}
	return poly, errors.Join(errs...)
}

// prepareRing projects one ring; a step of more than half the world is taken
// to pass the antimeridian.
func prepareRing(r orb.Ring) ([]vec, error) {
	ring := make([]vec, 0, len(r))
	for i, pt := range r {
		x, y, err := worldFloat(pt[0], pt[1])
		if err != nil {
			return nil, fmt.Errorf("point %d: %w", i+1, err)
		}
		if n := len(ring); n > 0 {
			x += math.Round((ring[n-1].x-x)/worldSide) * worldSide
			if ring[n-1] == (vec{x, y}) {
				continue
			}
		}
		ring = append(ring, vec{x, y})
	}
	for len(ring) > 1 && ring[0] == ring[len(ring)-1] {
		ring = ring[:len(ring)-1]
	}
	if len(ring) < 3 || signedArea(ring) == 0 {
		return nil, errors.New("encloses no area")
	}
	return ring, nil
}

// signedArea is positive for rings that run clockwise on the screen
// (surveyor's formula, y to the south). It is taken from the first point, so
// that small rings far from the origin keep their digits.
func signedArea(ring []vec) float64 {
	var a float64
	o := ring[0]
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a += (p.x-o.x)*(q.y-o.y) - (q.x-o.x)*(p.y-o.y)
	}
	return a / 2
}

func boxOf(ring []vec) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range ring {
		b.w, b.e = min(b.w, p.x), max(b.e, p.x)
		b.n, b.s = min(b.n, p.y), max(b.s, p.y)
	}
	return b
}

// inside gives a point well within the polygon: of the middles of the stretches
// that are inside, on some lines across it from west to east, the one farthest
// from any ring.
func (p *polygon) inside() vec {
	const lines = 15
	best, at := -1.0, p.rings[0][0]
	for i := 1; i <= lines; i++ {
		y := p.box.n + (p.box.s-p.box.n)*float64(i)/(lines+1)
		crossings := p.crossings(y)
		for j := 0; j+1 < len(crossings); j += 2 {
			c := vec{(crossings[j] + crossings[j+1]) / 2, y}
			if d := p.clearance(c); d > best {
				best, at = d, c
			}
		}
	}
	return at
}

// clearance is the distance from a point to the nearest ring.
func (p *polygon) clearance(c vec) float64 {
	d := math.Inf(1)
	for _, r := range p.rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			d = min(d, away(c.x, c.y, a.x, a.y, b.x, b.y))
		}
	}
	return d
}

// crossings gives where a line of constant y meets the rings, west to east.
func (p *polygon) crossings(y float64) []float64 {
	var xs []float64
	for _, r := range p.rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.y <= y) != (b.y <= y) {
				xs = append(xs, a.x+(y-a.y)/(b.y-a.y)*(b.x-a.x))
			}
		}
	}
	slices.Sort(xs)
	return xs
}
