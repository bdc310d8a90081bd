package tile

import "slices"

// sideBySide cuts each ring by itself.
func sideBySide(rings [][]vec, b box) [][][]vec {
	var whole [][]vec
	for i, r := range rings {
		cut := clipRing(r, b)
		if len(cut) < 3 {
			if i == 0 {
				return nil
			}
			continue
		}
		whole = append(whole, cut)
	}
	return [][][]vec{whole}
}

// clipRing cuts a ring to a rectangle, side by side (I. E. Sutherland and
// G. W. Hodgman, Reentrant polygon clipping, Communications of the ACM 17,
// 1974). A ring that leaves the rectangle and comes back stays one ring, joined
// along the border.
func clipRing(ring []vec, b box) []vec {
	src, dst := slices.Clone(ring), make([]vec, 0, len(ring)+4)
	for side := range 4 {
		dst = dst[:0]
		for i, p := range src {
			q := src[(i+1)%len(src)]
			pin, qin := b.inner(p, side), b.inner(q, side)
			if pin {
				dst = append(dst, p)
			}
			if pin != qin {
				dst = append(dst, b.cut(p, q, side))
			}
		}
		src, dst = dst, src
	}
	return src
}

// inner tells whether a point is on the inner side of west, north, east, south.
func (b box) inner(p vec, side int) bool {
	switch side {
	case 0:
		return p.x >= b.w
	case 1:
		return p.y >= b.n
	case 2:
		return p.x <= b.e
	}
	return p.y <= b.s
}

// cut gives where a step meets the line of a side.
func (b box) cut(p, q vec, side int) vec {
	switch side {
	case 0:
		return vec{b.w, p.y + (b.w-p.x)/(q.x-p.x)*(q.y-p.y)}
	case 1:
		return vec{p.x + (b.n-p.y)/(q.y-p.y)*(q.x-p.x), b.n}
	case 2:
		return vec{b.e, p.y + (b.e-p.x)/(q.x-p.x)*(q.y-p.y)}
	}
	return vec{p.x + (b.s-p.y)/(q.y-p.y)*(q.x-p.x), b.s}
}

// clipStep cuts the step from p to q to a rectangle (Y.-D. Liang and
// B. A. Barsky, A new concept and method for line clipping, ACM Transactions on
// Graphics 3, 1984). Ends inside stay as they are.
func clipStep(p, q vec, b box) (vec, vec, bool) {
	t0, t1 := 0.0, 1.0
	d := vec{q.x - p.x, q.y - p.y}
	for _, e := range [4][2]float64{{-d.x, p.x - b.w}, {d.x, b.e - p.x}, {-d.y, p.y - b.n}, {d.y, b.s - p.y}} {
		switch {
		case e[0] == 0 && e[1] < 0:
			return p, q, false
		case e[0] < 0:
			t0 = max(t0, e[1]/e[0])
		case e[0] > 0:
			t1 = min(t1, e[1]/e[0])
		}
	}
	if t0 > t1 {
		return p, q, false
	}
	start, end := p, q
	if t0 > 0 {
		start = vec{p.x + t0*d.x, p.y + t0*d.y}
	}
	if t1 < 1 {
		end = vec{p.x + t1*d.x, p.y + t1*d.y}
	}
	return start, end, true
}
