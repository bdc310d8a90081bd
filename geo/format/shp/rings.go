package shp

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// polygons sorts rings into polygons: clockwise rings are outlines, the others
// holes of the smallest outline around them. Written out the way of RFC 7946:
// outlines counter-clockwise. Where no ring is clockwise, all are outlines; a
// hole outside every outline is one too: both with a notice.
func (r *reader) polygons(parts [][]orb.Point, feature int) (orb.Geometry, error) {
	var outer []ringOf
	var holes []ringOf
	for _, p := range parts {
		if p[0] != p[len(p)-1] {
			r.note("", "a ring was not closed", feature)
			p = append(slices.Clone(p), p[0])
		}
		if len(p) < 4 {
			return nil, fmt.Errorf("a ring of %d places", len(p))
		}
		g := ringOf{ring: p, area: area(p), box: orb.Ring(p).Bound()}
		switch {
		case g.area == 0:
			return nil, fmt.Errorf("a ring without area")
		case g.area < 0:
			outer = append(outer, g)
		default:
			holes = append(holes, g)
		}
	}
	if len(outer) == 0 {
		r.note("", "rings run counter-clockwise: all taken as outlines", feature)
		outer, holes = holes, nil
	}
	var out orb.MultiPolygon
	for _, o := range outer {
		out = append(out, orb.Polygon{turned(o.ring, true)})
	}
	for _, h := range holes {
		k := around(outer, h)
		if k < 0 {
			r.note("", "a ring that runs like a hole lies in no outline: taken as an outline", feature)
			out = append(out, orb.Polygon{turned(h.ring, true)})
			continue
		}
		out[k] = append(out[k], turned(h.ring, false))
	}
	if len(out) == 1 {
		return out[0], nil
	}
	return out, nil
}

type ringOf struct {
	ring []orb.Point
	area float64
	box  orb.Bound
}

// around gives the smallest outline that holds a hole, -1 for none.
func around(outer []ringOf, h ringOf) int {
	best := -1
	for k, o := range outer {
		if math.Abs(o.area) <= math.Abs(h.area) || !o.box.Contains(h.box.Min) || !o.box.Contains(h.box.Max) {
			continue
		}
		if best >= 0 && math.Abs(outer[best].area) <= math.Abs(o.area) {
			continue
		}
		if inside(o.ring, h.ring) {
			best = k
		}
	}
	return best
}

// inside tells whether ring h lies in ring o: the first of its places that is
// not on o decides.
func inside(o, h []orb.Point) bool {
	for _, p := range h {
		in, on := contains(o, p)
		if !on {
			return in
		}
	}
	return true
}

// contains tells whether a place lies in a closed ring, or on it.
func contains(r []orb.Point, p orb.Point) (in, on bool) {
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		cross := (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])
		if cross == 0 && p[0] >= min(a[0], b[0]) && p[0] <= max(a[0], b[0]) && p[1] >= min(a[1], b[1]) && p[1] <= max(a[1], b[1]) {
			return false, true
		}
		if (a[1] > p[1]) != (b[1] > p[1]) && (cross > 0) == (b[1] > a[1]) {
			in = !in
		}
	}
	return in, false
}

// turned gives a ring running the wanted way.
func turned(r []orb.Point, counterClockwise bool) orb.Ring {
	c := slices.Clone(r)
	if (area(c) > 0) != counterClockwise {
		slices.Reverse(c)
	}
	return orb.Ring(c)
}
