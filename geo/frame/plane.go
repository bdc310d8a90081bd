package frame

import (
	"math"
	"sort"
)

// Plane geometry, all in metres. Nothing here knows degrees.

// Line is a line in the plane.
type Line []XY

// Ring is a closed line; the last position may repeat the first or not.
type Ring []XY

// Polygon is an outer ring followed by its holes, whatever their direction.
type Polygon []Ring

// MultiPolygon is several polygons.
type MultiPolygon []Polygon

// Dist is the distance between two places, m.
func Dist(a, b XY) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }

// Between is the place a share t (0 to 1) of the way from a to b.
func Between(a, b XY, t float64) XY {
	return XY{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)}
}

// Azimuth is the bearing from a to b in degrees clockwise from the y axis, in
// [0, 360); 0 where both are one place.
func Azimuth(a, b XY) float64 {
	az := atan2Deg(b.X-a.X, b.Y-a.Y)
	if az < 0 {
		az += 360
	}
	return az + 0 // no minus zero
}

// Length is the length of the line, m.
func (l Line) Length() float64 {
	var sum float64
	for i := 1; i < len(l); i++ {
		sum += Dist(l[i-1], l[i])
	}
	return sum
}

// At gives the place at a distance along the line and the bearing of the line
// there (at a corner: of the piece that begins). Distances before the start
// and past the end give the ends. An empty line gives the origin.
func (l Line) At(chainage float64) (at XY, azimuthDeg float64) {
	if len(l) == 0 {
		return XY{}, 0
	}
	at, azimuthDeg = l[0], 0
	var done float64
	for i := 1; i < len(l); i++ {
		d := Dist(l[i-1], l[i])
		if d == 0 {
			continue
		}
		azimuthDeg = Azimuth(l[i-1], l[i])
		if chainage < done+d {
			return Between(l[i-1], l[i], max(0, chainage-done)/d), azimuthDeg
		}
		done, at = done+d, l[i]
	}
	return at, azimuthDeg
}

// Cut is the part of the line between two distances along it. It is nil where
// that is empty.
func (l Line) Cut(from, to float64) Line {
	if len(l) < 2 || !(from < to) {
		return nil
	}
	first, _ := l.At(from)
	out := Line{first}
	var done float64
	for i := 1; i < len(l); i++ {
		done += Dist(l[i-1], l[i])
		if done > from && done < to {
			out = append(out, l[i])
		}
	}
	last, _ := l.At(to)
	if len(out) == 1 && out[0] == last {
		return nil
	}
	return append(out, last)
}

// Reversed is the line drawn the other way.
func (l Line) Reversed() Line {
	out := make(Line, len(l))
	for i, p := range l {
		out[len(l)-1-i] = p
	}
	return out
}

// NearestOnSegment gives the place on the piece a-b nearest to p and its share
// t (0 to 1) of the way.
func NearestOnSegment(p, a, b XY) (at XY, t float64) {
	dx, dy := b.X-a.X, b.Y-a.Y
	l2 := dx*dx + dy*dy
	if l2 == 0 {
		return a, 0
	}
	t = ((p.X-a.X)*dx + (p.Y-a.Y)*dy) / l2
	switch {
	case !(t > 0):
		return a, 0
	case t >= 1:
		return b, 1
	}
	return Between(a, b, t), t
}

// Hit is the place of a line nearest to a point.
type Hit struct {
	At       XY
	Segment  int     // index of the position at which the piece begins
	Chainage float64 // distance along the line, m
	Dist     float64 // distance from the point, m; +Inf on an empty line
	Offset   float64 // Dist, negative where the point lies to the left of the line
	Beyond   float64 // how far the point lies past an end, along the end's direction, m; 0 abreast of the line
}

// Nearest gives the place of the line nearest to p; the first of equals.
func (l Line) Nearest(p XY) Hit {
	best := Hit{Dist: math.Inf(1), Offset: math.Inf(1)}
	if len(l) == 1 {
		d := Dist(l[0], p)
		return Hit{At: l[0], Dist: d, Offset: d}
	}
	var done float64
	for i := 1; i < len(l); i++ {
		at, t := NearestOnSegment(p, l[i-1], l[i])
		step := Dist(l[i-1], l[i])
		if d := Dist(at, p); d < best.Dist {
			best = Hit{At: at, Segment: i - 1, Chainage: done + t*step, Dist: d}
		}
		done += step
	}
	if len(l) < 2 {
		return best
	}
	a, b := l[best.Segment], l[best.Segment+1]
	best.Offset = math.Copysign(best.Dist, (b.Y-a.Y)*(p.X-a.X)-(b.X-a.X)*(p.Y-a.Y))
	if best.Chainage <= 0 || best.Chainage >= done {
		if step := Dist(a, b); step > 0 {
			along := ((p.X-a.X)*(b.X-a.X) + (p.Y-a.Y)*(b.Y-a.Y)) / step
			best.Beyond = max(0, -along, along-step)
		}
	}
	return best
}

// open gives the ring without a repeated last position.
func (r Ring) open() Ring {
	if n := len(r); n > 1 && r[0] == r[n-1] {
		return r[:n-1]
	}
	return r
}

// SignedArea is the area within the ring in m², positive where it runs
// counter-clockwise.
func (r Ring) SignedArea() float64 {
	r = r.open()
	if len(r) < 3 {
		return 0
	}
	o := r[0] // keeps the products small
	var sum float64
	for i := 1; i+1 < len(r); i++ {
		sum += (r[i].X-o.X)*(r[i+1].Y-o.Y) - (r[i+1].X-o.X)*(r[i].Y-o.Y)
	}
	return sum / 2
}

// Area is the area of the outer ring less the holes, m².
func (pg Polygon) Area() float64 {
	var sum float64
	for i, r := range pg {
		if a := math.Abs(r.SignedArea()); i == 0 {
			sum = a
		} else {
			sum -= a
		}
	}
	return sum
}

// Contains tells whether p lies within the ring, by the even-odd rule. A place
// exactly on the border may count either way.
func (r Ring) Contains(p XY) bool {
	in := false
	for i, j := 0, len(r)-1; i < len(r); i, j = i+1, i {
		a, b := r[i], r[j]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < (b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y)+a.X {
			in = !in
		}
	}
	return in
}

// Contains tells whether p lies within the outer ring and in none of the holes.
func (pg Polygon) Contains(p XY) bool {
	if len(pg) == 0 || !pg[0].Contains(p) {
		return false
	}
	for _, hole := range pg[1:] {
		if hole.Contains(p) {
			return false
		}
	}
	return true
}

// Contains tells whether p lies within one of the polygons.
func (mp MultiPolygon) Contains(p XY) bool {
	for _, pg := range mp {
		if pg.Contains(p) {
			return true
		}
	}
	return false
}

// BorderDist is the distance from p to the nearest border of any ring, m; +Inf
// without rings.
func (mp MultiPolygon) BorderDist(p XY) float64 {
	best := math.Inf(1)
	mp.eachEdge(func(a, b XY) {
		at, _ := NearestOnSegment(p, a, b)
		best = min(best, Dist(at, p))
	})
	return best
}

func (mp MultiPolygon) eachEdge(do func(a, b XY)) {
	for _, pg := range mp {
		for _, r := range pg {
			for i, j := 0, len(r)-1; i < len(r); i, j = i+1, i {
				do(r[j], r[i])
			}
		}
	}
}

// Clip gives the parts of the line that lie within the polygons, in order along
// the line. Work is pieces of the line × edges.
func (l Line) Clip(mp MultiPolygon) []Line {
	var out []Line
	var cur Line
	for i := 1; i < len(l); i++ {
		a, b := l[i-1], l[i]
		if a == b {
			continue
		}
		cuts := cutShares(a, b, mp)
		for k := 1; k < len(cuts); k++ {
			if !mp.Contains(Between(a, b, (cuts[k-1]+cuts[k])/2)) {
				if len(cur) > 1 {
					out = append(out, cur)
				}
				cur = nil
				continue
			}
			if len(cur) == 0 {
				cur = Line{Between(a, b, cuts[k-1])}
			}
			if cuts[k] == 1 {
				cur = append(cur, b)
			} else {
				cur = append(cur, Between(a, b, cuts[k]))
			}
		}
	}
	if len(cur) > 1 {
		out = append(out, cur)
	}
	return out
}

// cutShares gives 0, the shares of the way from a to b at which an edge is met,
// and 1, rising and without repeats.
func cutShares(a, b XY, mp MultiPolygon) []float64 {
	ts := []float64{0, 1}
	mp.eachEdge(func(c, d XY) {
		if t, ok := meet(a, b, c, d); ok && t > 0 && t < 1 {
			ts = append(ts, t)
		}
	})
	sort.Float64s(ts)
	out := ts[:1]
	for _, t := range ts[1:] {
		if t > out[len(out)-1] {
			out = append(out, t)
		}
	}
	return out
}

// meet gives the share of the way from a to b at which the line through it is
// met by the piece c-d; not for parallels.
func meet(a, b, c, d XY) (t float64, ok bool) {
	rx, ry, sx, sy := b.X-a.X, b.Y-a.Y, d.X-c.X, d.Y-c.Y
	den := rx*sy - ry*sx
	if den == 0 {
		return 0, false
	}
	t = ((c.X-a.X)*sy - (c.Y-a.Y)*sx) / den
	u := ((c.X-a.X)*ry - (c.Y-a.Y)*rx) / den
	return t, u >= 0 && u <= 1
}
