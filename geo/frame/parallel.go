package frame

import "math"

// mitreLimit is how far a corner of a parallel line may reach, as a multiple of
// the distance; at sharper bends the corner is cut. Chosen by us, as is usual.
const mitreLimit = 5

// Parallel gives the line that runs at a distance to the left (negative: to the
// right) of the line, pieces joined at their corners. Bends tighter than the
// distance can make it cross itself. Repeated positions are left out; a line
// without length gives nil.
func (l Line) Parallel(left float64) Line {
	pts := make(Line, 0, len(l))
	for _, p := range l {
		if len(pts) == 0 || Dist(pts[len(pts)-1], p) > touchM {
			pts = append(pts, p)
		}
	}
	if len(pts) < 2 {
		return nil
	}
	out := make(Line, 0, len(pts))
	for i, p := range pts {
		switch i {
		case 0:
			out = append(out, shifted(p, leftOf(pts[0], pts[1]), left))
		case len(pts) - 1:
			out = append(out, shifted(p, leftOf(pts[i-1], p), left))
		default:
			out = append(out, corner(p, leftOf(pts[i-1], p), leftOf(p, pts[i+1]), left)...)
		}
	}
	return out
}

// leftOf is the unit vector to the left of the way from a to b.
func leftOf(a, b XY) XY {
	d := Dist(a, b)
	return XY{-(b.Y - a.Y) / d, (b.X - a.X) / d}
}

func shifted(p, v XY, d float64) XY { return XY{p.X + d*v.X, p.Y + d*v.Y} }

// corner gives the position of a parallel where two pieces meet, two where the
// bend is too sharp for one.
func corner(p, n1, n2 XY, d float64) Line {
	half := (1 + n1.X*n2.X + n1.Y*n2.Y) / 2 // cos² of half the turn
	if math.Sqrt(max(0, half))*mitreLimit < 1 {
		return Line{shifted(p, n1, d), shifted(p, n2, d)}
	}
	m := XY{(n1.X + n2.X) / 2 / half, (n1.Y + n2.Y) / 2 / half}
	return Line{shifted(p, m, d)}
}
