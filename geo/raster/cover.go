package raster

import "math"

// spot is a place of the image in columns and lines.
type spot struct{ x, y float64 }

// cover works out which share of each pixel of a window lies inside rings. The
// shares are exact: every edge adds, pixel by pixel, the area to its right, signed
// by its direction, and summing along a line leaves the area inside.
type cover struct {
	w    Window
	a    []float64 // Lines x (Columns+2)
	clip [2][]spot
}

// begin starts a window.
func (c *cover) begin(w Window) {
	n := w.Lines * (w.Columns + 2)
	if cap(c.a) < n {
		c.a = make([]float64, n)
	}
	c.a = c.a[:n]
	clear(c.a)
	c.w = w
}

// ring adds a ring; a ring that runs the other way takes away.
func (c *cover) ring(r []spot, sign float64) {
	r = c.within(r)
	for i := range r {
		p, q := r[i], r[(i+1)%len(r)]
		c.edge(p.x-float64(c.w.Column), p.y-float64(c.w.Line), q.x-float64(c.w.Column), q.y-float64(c.w.Line), sign)
	}
}

// within cuts a ring to the window (Sutherland and Hodgman, Communications of
// the ACM 17, 1974). Where that leaves pieces joined along the border, their
// areas cancel.
func (c *cover) within(r []spot) []spot {
	x0, y0 := float64(c.w.Column), float64(c.w.Line)
	x1, y1 := x0+float64(c.w.Columns), y0+float64(c.w.Lines)
	r = cutAt(c.clip[0][:0], r, func(p spot) float64 { return p.x - x0 }, func(p *spot) { p.x = x0 })
	c.clip[0] = r
	r = cutAt(c.clip[1][:0], r, func(p spot) float64 { return x1 - p.x }, func(p *spot) { p.x = x1 })
	c.clip[1] = r
	r = cutAt(c.clip[0][:0], r, func(p spot) float64 { return p.y - y0 }, func(p *spot) { p.y = y0 })
	c.clip[0] = r
	r = cutAt(c.clip[1][:0], r, func(p spot) float64 { return y1 - p.y }, func(p *spot) { p.y = y1 })
	c.clip[1] = r
	for i, p := range r { // what rounding left outside
		r[i] = spot{min(max(p.x, x0), x1), min(max(p.y, y0), y1)}
	}
	return r
}

func cutAt(out, r []spot, depth func(spot) float64, settle func(*spot)) []spot {
	for i, q := range r {
		p := r[(i+len(r)-1)%len(r)]
		dp, dq := depth(p), depth(q)
		if (dp < 0) != (dq < 0) {
			t := dp / (dp - dq)
			m := spot{p.x + t*(q.x-p.x), p.y + t*(q.y-p.y)}
			settle(&m)
			out = append(out, m)
		}
		if dq >= 0 {
			out = append(out, q)
		}
	}
	return out
}

// edge adds one edge, in places counted from the window's corner.
func (c *cover) edge(x0, y0, x1, y1, sign float64) {
	if y0 == y1 {
		return
	}
	if y0 > y1 {
		x0, y0, x1, y1, sign = x1, y1, x0, y0, -sign
	}
	slope := (x1 - x0) / (y1 - y0)
	left, right := min(x0, x1), max(x0, x1)
	at := func(y float64) float64 { return min(max(x0+(y-y0)*slope, left), right) }
	for line := int(y0); line < c.w.Lines && float64(line) < y1; line++ {
		top, bottom := max(y0, float64(line)), min(y1, float64(line+1))
		c.piece(line, at(top), at(bottom), (bottom-top)*sign)
	}
}

// piece adds the part of an edge within one line of pixels, d high.
func (c *cover) piece(line int, xa, xb, d float64) {
	if xa > xb {
		xa, xb = xb, xa
	}
	a := c.a[line*(c.w.Columns+2):]
	first, last := int(xa), int(xb)
	if first == last {
		m := (xa+xb)/2 - float64(first)
		a[first] += d * (1 - m)
		a[first+1] += d * m
		return
	}
	for k := first; k <= last; k++ {
		l, r := max(xa, float64(k)), min(xb, float64(k+1))
		part := d * (r - l) / (xb - xa)
		m := (l+r)/2 - float64(k)
		a[k] += part * (1 - m)
		a[k+1] += part * m
	}
}

// shares gives the share of every pixel of a line of the window that is
// covered, 0 to 1, in place; rings that overlap count once.
func (c *cover) shares(line int) []float64 {
	a := c.a[line*(c.w.Columns+2):][:c.w.Columns]
	var sum float64
	for k, v := range a {
		sum += v
		a[k] = min(math.Abs(sum), 1)
		if a[k] < 1e-12 { // what rounding leaves
			a[k] = 0
		}
	}
	return a
}

// area is the signed area of a ring in pixels, above 0 where it turns from the
// column axis towards the line axis.
func area(r []spot) float64 {
	if len(r) == 0 {
		return 0
	}
	var sum float64
	o := r[0]
	for i := range r {
		p, q := r[i], r[(i+1)%len(r)]
		sum += (p.x-o.x)*(q.y-o.y) - (q.x-o.x)*(p.y-o.y)
	}
	return sum / 2
}

// farthest is how far from an image a ring may reach, pixels: beyond, places
// cannot be told apart to a thousandth of a pixel.
const farthest = 1e12

// near tells whether all places of rings are numbers that can be reckoned with.
func near(rings ...[]spot) bool {
	for _, r := range rings {
		for _, p := range r {
			if !(math.Abs(p.x) < farthest && math.Abs(p.y) < farthest) {
				return false
			}
		}
	}
	return true
}

// bounds is the window of whole pixels around rings, within an image; ok is
// false where none is touched.
func bounds(width, height int, rings ...[]spot) (w Window, ok bool) {
	if !near(rings...) {
		return w, false
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, r := range rings {
		for _, p := range r {
			x0, x1, y0, y1 = min(x0, p.x), max(x1, p.x), min(y0, p.y), max(y1, p.y)
		}
	}
	x0, y0 = max(math.Floor(x0), 0), max(math.Floor(y0), 0)
	x1, y1 = min(math.Ceil(x1), float64(width)), min(math.Ceil(y1), float64(height))
	if !(x1 > x0 && y1 > y0) {
		return w, false
	}
	return Window{int(x0), int(y0), int(x1 - x0), int(y1 - y0)}, true
}
