package draw

import (
	"math"
	"slices"

	"courson/geo/frame"
)

// border is a side of a block with the ground that rows leave free before it.
type border struct {
	a, b  frame.XY
	freeM float64
}

// alongDeg is the angle between a side of a block and its rows below which the rows
// run along the side rather than end at it; chosen by us.
const alongDeg = 30

const (
	// SideSlackM is what a row may lie too near to an edge that it runs along, m: the
	// outer rows lie exactly at their distance, and corners are rounded (7 decimals of a
	// degree are 11 mm). Chosen by us, as the slack along rows is.
	SideSlackM = 0.02
	// roundingM is what the computation itself may be off, m.
	roundingM = 1e-7
)

// bordersOf gives every side of a block with its free ground: the headland where
// rows end, the side ground where they run along.
func bordersOf(block frame.MultiPolygon, bearingDeg, headlandM, sideM float64) []border {
	var out []border
	for _, pg := range block {
		for _, r := range pg {
			for i, p := range r {
				q := r[(i+1)%len(r)]
				if p == q {
					continue
				}
				free := headlandM - roundingM
				if angle(frame.Azimuth(p, q), bearingDeg) < alongDeg {
					free = sideM - SideSlackM
				}
				out = append(out, border{p, q, free})
			}
		}
	}
	return out
}

// angle is the angle between two bearings of lines, whichever way they are drawn,
// 0 to 90 degrees.
func angle(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 180)) }

// clearOf gives the parts of a line that lie within the block and everywhere keep
// the free ground before every border, in order along the line. It is exact: the
// ground within a distance of a side is convex, so a straight piece of line meets it
// in one stretch.
func clearOf(l frame.Line, block frame.MultiPolygon, borders []border) []frame.Line {
	var out []frame.Line
	for _, inside := range l.Clip(block) {
		var cur frame.Line
		for i := 1; i < len(inside); i++ {
			a, b := inside[i-1], inside[i]
			for _, s := range free(a, b, borders) {
				from, to := frame.Between(a, b, s[0]), frame.Between(a, b, s[1])
				if s[0] > 0 || len(cur) == 0 {
					out = keep(out, cur)
					cur = frame.Line{from}
				}
				if cur = append(cur, to); s[1] < 1 {
					out = keep(out, cur)
					cur = nil
				}
			}
			if len(cur) > 0 && cur[len(cur)-1] != b {
				out = keep(out, cur)
				cur = nil
			}
		}
		out = keep(out, cur)
	}
	return out
}

func keep(out []frame.Line, l frame.Line) []frame.Line {
	if len(l) > 1 && l.Length() > leastPartM {
		return append(out, l)
	}
	return out
}

// leastPartM is the least length of a part of a row, m: a touch is none.
const leastPartM = 0.01

// free gives the stretches of the way from a to b, as shares of it, that keep their
// distance from all borders.
func free(a, b frame.XY, borders []border) [][2]float64 {
	var taken [][2]float64
	for _, s := range borders {
		if from, to, ok := s.within(a, b); ok {
			taken = append(taken, [2]float64{from, to})
		}
	}
	slices.SortFunc(taken, func(x, y [2]float64) int {
		switch {
		case x[0] < y[0]:
			return -1
		case x[0] > y[0]:
			return 1
		}
		return 0
	})
	var out [][2]float64
	at := 0.0
	for _, t := range taken {
		if t[0] > at {
			out = append(out, [2]float64{at, t[0]})
		}
		at = max(at, t[1])
	}
	if at < 1 {
		out = append(out, [2]float64{at, 1})
	}
	return out
}

// within gives the stretch of the way from a to b, as shares of it, that lies nearer
// to the border than its free ground.
func (s border) within(a, b frame.XY) (from, to float64, ok bool) {
	if !(s.freeM > 0) {
		return 0, 0, false
	}
	from, to = math.Inf(1), math.Inf(-1)
	join := func(f, t float64, met bool) {
		if f, t = max(f, 0), min(t, 1); met && f < t {
			from, to = min(from, f), max(to, t)
		}
	}
	join(disc(a, b, s.a, s.freeM))
	join(disc(a, b, s.b, s.freeM))
	join(band(a, b, s))
	return from, to, from < to
}

// disc gives the shares of the line through a and b between which it lies within a
// distance of a place.
func disc(a, b, c frame.XY, r float64) (from, to float64, ok bool) {
	dx, dy := b.X-a.X, b.Y-a.Y
	l2 := dx*dx + dy*dy
	t := ((c.X-a.X)*dx + (c.Y-a.Y)*dy) / l2
	off := frame.Dist(c, frame.Between(a, b, t))
	if !(l2 > 0) || off >= r {
		return 0, 0, false
	}
	half := math.Sqrt((r - off) * (r + off) / l2)
	return t - half, t + half, true
}

// band gives the shares of the line through a and b between which it lies abreast of
// the border and within its free ground.
func band(a, b frame.XY, s border) (from, to float64, ok bool) {
	length := frame.Dist(s.a, s.b)
	ux, uy := (s.b.X-s.a.X)/length, (s.b.Y-s.a.Y)/length
	along := func(p frame.XY) float64 { return (p.X-s.a.X)*ux + (p.Y-s.a.Y)*uy }
	aside := func(p frame.XY) float64 { return (p.Y-s.a.Y)*ux - (p.X-s.a.X)*uy }
	f1, t1, ok1 := between(along(a), along(b), 0, length)
	f2, t2, ok2 := between(aside(a), aside(b), -s.freeM, s.freeM)
	return max(f1, f2), min(t1, t2), ok1 && ok2
}

// between gives the shares of the way from v to w between which a value that changes
// evenly lies within lo and hi.
func between(v, w, lo, hi float64) (from, to float64, ok bool) {
	if v == w {
		return math.Inf(-1), math.Inf(1), v > lo && v < hi
	}
	from, to = (lo-v)/(w-v), (hi-v)/(w-v)
	return min(from, to), max(from, to), true
}
