package rate

import (
	"math"

	"courson/geo/rings"
)

// XY is a place in a block's own metric plane: metres east and north of its
// origin, as the stand's ground has them.
type XY struct{ X, Y float64 }

// Ring is a closed line, its last place the first again. An outer ring runs
// anticlockwise, a hole clockwise, as RFC 7946 wants them.
type Ring []XY

// Polygon is an outer ring followed by its holes. Rings do not cross; they may
// touch in single places.
type Polygon []Ring

// Outline is the ground of a zone: polygons that share no ground.
type Outline []Polygon

// AreaM2 is the ground inside, holes left out, in m².
func (o Outline) AreaM2() (sum float64) {
	for _, p := range o {
		for _, r := range p {
			sum += r.area()
		}
	}
	return sum
}

// Points is how many places the rings have, the last of each not counted.
func (o Outline) Points() (n int) {
	for _, p := range o {
		for _, r := range p {
			n += len(r) - 1
		}
	}
	return n
}

// Holds tells whether a place lies inside; on the very edge it may say either.
func (o Outline) Holds(p XY) bool {
	inside := false
	for _, polygon := range o {
		for _, r := range polygon {
			if r.crossings(p) {
				inside = !inside
			}
		}
	}
	return inside
}

// crossings tells whether a ray from p to the east crosses the ring an odd
// number of times.
func (r Ring) crossings(p XY) bool {
	odd := false
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			odd = !odd
		}
	}
	return odd
}

// area is above 0 for rings that run anticlockwise.
func (r Ring) area() (sum float64) {
	for i := 1; i < len(r); i++ {
		ax, ay, bx, by := r[i-1].X-r[0].X, r[i-1].Y-r[0].Y, r[i].X-r[0].X, r[i].Y-r[0].Y
		sum += ax*by - ay*bx
	}
	return sum / 2
}

// spot is a place on a grid of whole millimetres, X along the rows and Y to the
// left of them: there equal places are equal, and no sliver is thinner than a
// step.
type spot = rings.Spot

func mm(metres float64) int64 { return int64(math.Round(metres * 1000)) }

func length(a spot) float64 { return math.Hypot(float64(a.X), float64(a.Y)) }
