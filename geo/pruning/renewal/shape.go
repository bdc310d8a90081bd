package renewal

import "math"

// point is a place on the drawing, in mm: x to the right of the trunk, y up from
// the ground.
type point struct{ x, y float64 }

func (p point) plus(q point) point              { return point{p.x + q.x, p.y + q.y} }
func (p point) minus(q point) point             { return point{p.x - q.x, p.y - q.y} }
func (p point) times(f float64) point           { return point{f * p.x, f * p.y} }
func (p point) length() float64                 { return math.Hypot(p.x, p.y) }
func (p point) left() point                     { return point{-p.y, p.x} }
func (p point) toward(q point, f float64) point { return p.plus(q.minus(p).times(f)) }

func (p point) unit() point {
	if l := p.length(); l > 0 {
		return p.times(1 / l)
	}
	return point{0, 1}
}

// heading is the direction at an angle from upright, to the right above 0.
func heading(degrees float64) point {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return point{sin, cos}
}

// bend samples a cubic Bézier curve.
func bend(a, b, c, d point) []point {
	const steps = 16
	out := make([]point, 0, steps+1)
	for k := range steps + 1 {
		t := float64(k) / steps
		ab, bc, cd := a.toward(b, t), b.toward(c, t), c.toward(d, t)
		out = append(out, ab.toward(bc, t).toward(bc.toward(cd, t), t))
	}
	return out
}

// line is a run of points.
type line []point

func (l line) length() (sum float64) {
	for k := 1; k < len(l); k++ {
		sum += l[k].minus(l[k-1]).length()
	}
	return sum
}

// at gives the place and the direction at a share of the length.
func (l line) at(share float64) (place, direction point) {
	left := share * l.length()
	for k := 1; k < len(l); k++ {
		step := l[k].minus(l[k-1])
		if d := step.length(); left <= d || k == len(l)-1 {
			if d == 0 {
				return l[k], point{0, 1}
			}
			return l[k-1].plus(step.times(left / d)), step.unit()
		}
		left -= step.length()
	}
	return l[0], point{0, 1}
}

// outline gives the two edges of wood that tapers from one width to another, as
// one closed run of points.
func (l line) outline(from, to float64) []point {
	n := len(l)
	out := make([]point, 2*n)
	for k := range l {
		d := l[min(k+1, n-1)].minus(l[max(k-1, 0)]).unit().left()
		w := (from + (to-from)*float64(k)/float64(n-1)) / 2
		out[k], out[2*n-1-k] = l[k].plus(d.times(w)), l[k].minus(d.times(w))
	}
	return out
}
