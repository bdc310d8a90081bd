package patch

import "math"

// XY is a place in a block's own metric plane: metres east and north of its
// origin, as the stand's ground has them.
type XY struct{ X, Y float64 }

// Ring is a closed line, its last place the first again. An outer ring runs
// anticlockwise, a hole clockwise, as RFC 7946 wants them.
type Ring []XY

// Polygon is an outer ring followed by its holes. Rings do not cross; they may
// touch in single places.
type Polygon []Ring

// Outline is the ground of a patch: polygons that share no ground. There is more
// than one where ground cells meet only at a corner or not at all, as when a
// vine between two weak ones is sound.
type Outline []Polygon

// AreaM2 is the ground inside, holes left out, in m².
func (o Outline) AreaM2() float64 {
	var sum float64
	for _, p := range o {
		for _, r := range p {
			sum += r.area()
		}
	}
	return sum
}

// area is above 0 for rings that run anticlockwise.
func (r Ring) area() float64 {
	var twice float64
	for i := 1; i < len(r); i++ {
		// From the first place, so that large coordinates cost no digits.
		a, b := r[i-1].minus(r[0]), r[i].minus(r[0])
		twice += a.X*b.Y - a.Y*b.X
	}
	return twice / 2
}

// Holds tells whether a place lies inside the outline; on its very edge it may
// say either.
func (o Outline) Holds(p XY) bool {
	inside := false
	for _, polygon := range o {
		for _, r := range polygon {
			for i := 1; i < len(r); i++ {
				a, b := r[i-1], r[i]
				if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
					inside = !inside
				}
			}
		}
	}
	return inside
}

func (p XY) minus(q XY) XY          { return XY{p.X - q.X, p.Y - q.Y} }
func (p XY) plus(q XY) XY           { return XY{p.X + q.X, p.Y + q.Y} }
func (p XY) times(f float64) XY     { return XY{p.X * f, p.Y * f} }
func (p XY) length() float64        { return math.Hypot(p.X, p.Y) }
func (p XY) left() XY               { return XY{-p.Y, p.X} } // turned a quarter to the left
func (p XY) cross(q XY) float64     { return p.X*q.Y - p.Y*q.X }
func (p XY) dot(q XY) float64       { return p.X*q.X + p.Y*q.Y }
func between(a, b XY, t float64) XY { return a.plus(b.minus(a).times(t)) }
