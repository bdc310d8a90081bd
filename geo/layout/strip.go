package layout

import (
	"math"

	"courson/geo/frame"
)

// strip is the narrowest band along a row's chord that holds the whole row: how
// far a place is from it at least costs no walk along the row.
type strip struct {
	at     frame.XY // on the chord
	nx, ny float64  // across the chord, of length 1
	half   float64  // of the band's width, m; +Inf where the row has no chord
}

// stripOf gives the band of a row.
func stripOf(r Row) strip {
	s := strip{half: math.Inf(1)}
	if len(r.Parts) == 0 {
		return s
	}
	a, b := r.Ends()
	length := frame.Dist(a, b)
	if length == 0 {
		return s
	}
	s.at, s.nx, s.ny, s.half = a, (b.Y-a.Y)/length, (a.X-b.X)/length, 0
	for _, l := range r.Parts {
		for _, p := range l {
			s.half = max(s.half, math.Abs(s.across(p)))
		}
	}
	return s
}

func (s *strip) across(p frame.XY) float64 { return s.nx*(p.X-s.at.X) + s.ny*(p.Y-s.at.Y) }

// least is what the distance of a place from the row cannot be below, m.
func (s *strip) least(p frame.XY) float64 { return math.Abs(s.across(p)) - s.half }

// search finds the rows nearest to points, each time beginning where the last
// point was: surveyors walk along rows.
type search struct {
	rows   []Known
	strips []strip
	last   int
}

func newSearch(rows []Known) *search {
	s := &search{rows: rows, strips: make([]strip, len(rows))}
	for i := range rows {
		s.strips[i] = stripOf(rows[i].Row)
	}
	return s
}

// near is the nearest row so far and the nearest other one; of equals the first.
type near struct {
	row, next int
	hit       Hit
	nextDist  float64
}

// nearest gives the stated row (stated is one more than its index), else the
// nearest one, and the nearest of the others; -1 where there is none.
func (s *search) nearest(fix Fix) near {
	n := near{row: -1, next: -1, hit: Hit{Hit: frame.Hit{Dist: math.Inf(1)}}, nextDist: math.Inf(1)}
	first := s.last
	if fix.Row > 0 {
		first = fix.Row - 1
	}
	if first >= len(s.rows) {
		return n
	}
	var f frame.Frame
	var p frame.XY
	placed := false
	look := func(i int) {
		if r := s.rows[i].Row.Frame; !placed || r != f {
			f, placed = r, true
			p = f.XY(fix.Point)
		}
		if n.next >= 0 && i != fix.Row-1 && s.strips[i].least(p) > n.nextDist {
			return
		}
		n.take(i, s.rows[i].Row.Nearest(p), fix.Row > 0)
	}
	look(first)
	for i := 1; i < len(s.rows); i++ { // outwards from there
		if k := first + i; k < len(s.rows) {
			look(k)
		}
		if k := first - i; k >= 0 {
			look(k)
		}
	}
	s.last = n.row
	return n
}

// take lets one row be compared; the first one stays where it is stated.
func (n *near) take(i int, hit Hit, stated bool) {
	closer := func(d float64, k int) bool { return hit.Dist < d || hit.Dist == d && i < k }
	switch {
	case n.row < 0:
		n.row, n.hit = i, hit
	case !stated && closer(n.hit.Dist, n.row):
		n.next, n.nextDist = n.row, n.hit.Dist
		n.row, n.hit = i, hit
	case n.next < 0 || closer(n.nextDist, n.next):
		n.next, n.nextDist = i, hit.Dist
	}
}
