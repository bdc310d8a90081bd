package layout

import (
	"fmt"
	"math"
	"sort"

	"courson/geo/frame"
)

// Order gives the indices of a block's rows in order from a stated side: the
// first is row 1. The side is a compass word, a place near it (Toward), or
// AsDrawn, which keeps the first row given before the last. Rows lie in order
// across their common bearing, whichever way each is drawn, by their middles.
//
// A side about along the rows rather than across them is ErrSideUnclear.
func Order(rows []Row, from End) ([]int, error) {
	order := make([]int, len(rows))
	for i := range order {
		order[i] = i
	}
	if len(rows) < 2 {
		return order, nil
	}
	mids := make([]frame.XY, len(rows))
	for i, r := range rows {
		mids[i] = r.middle()
	}
	bearing := CommonBearing(rows)
	s, c := math.Sincos((bearing + 90) * math.Pi / 180)
	across := func(p frame.XY) float64 { return p.X*s + p.Y*c }
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, m := range mids {
		lo, hi = min(lo, across(m)), max(hi, across(m))
	}
	sign := 1.0 // rising across means away from the side
	if from == AsDrawn {
		if across(mids[0]) > across(mids[len(mids)-1]) {
			sign = -1
		}
	} else {
		mid := frame.XY{X: (lo + hi) / 2 * s, Y: (lo + hi) / 2 * c}
		second, clear := from.sideOf(rows[0].Frame, mid, frame.XY{X: s, Y: c}, hi-lo)
		if !clear {
			return nil, fmt.Errorf("side %s of rows that bear %.0f°: %w", from, bearing, ErrSideUnclear)
		}
		if second {
			sign = -1
		}
	}
	sort.SliceStable(order, func(a, b int) bool {
		return sign*across(mids[order[a]]) < sign*across(mids[order[b]])
	})
	return order, nil
}

// sideOf tells whether the side named lies along the unit vector (rather than
// against it) from the middle of ground of a width.
func (e End) sideOf(f frame.Frame, mid, along frame.XY, width float64) (ahead, clear bool) {
	if e.place == nil {
		a := frame.XY{}
		return e.prefers(f, a, along)
	}
	if frame.CheckLonLat(*e.place) != nil {
		return false, false
	}
	p := f.XY(*e.place)
	d := (p.X-mid.X)*along.X + (p.Y-mid.Y)*along.Y
	return d > 0, math.Abs(d) >= clearShare*width
}

// Beside tells whether the side named lies to the right of rows that run through a
// place in a frame along the unit vector ahead; right is the unit vector to their
// right. A side along the rows, and AsDrawn, is ErrSideUnclear.
func (e End) Beside(f frame.Frame, mid, ahead, right frame.XY) (bool, error) {
	second, clear := e.sideOf(f, mid, right, 1)
	if !clear {
		return false, fmt.Errorf("side %s of rows that bear %.0f°: %w", e, frame.Azimuth(frame.XY{}, ahead), ErrSideUnclear)
	}
	return second, nil
}

// middle is the place half way along the row's planted ground.
func (r Row) middle() frame.XY {
	half := r.LengthM() / 2
	for i, p := range r.Parts {
		l := p.Length()
		if half <= l || i == len(r.Parts)-1 {
			at, _ := p.At(half)
			return at
		}
		half -= l
	}
	return frame.XY{}
}

// CommonBearing is the bearing of rows taken together, whichever way each is
// drawn, in [0, 180) degrees in the frame: the mean axis, longer rows counting
// more (K. V. Mardia, P. E. Jupp, Directional Statistics, 2000, section 1.1:
// angles doubled). 0 without rows.
func CommonBearing(rows []Row) float64 {
	var s, c float64
	for _, r := range rows {
		a, b := r.Ends()
		l := frame.Dist(a, b)
		ds, dc := math.Sincos(2 * frame.Azimuth(a, b) * math.Pi / 180)
		s, c = s+l*ds, c+l*dc
	}
	az := math.Atan2(s, c) / 2 * 180 / math.Pi
	if az < 0 {
		az += 180
	}
	if az >= 180 {
		az = 0
	}
	return az
}

// Distances gives the distance from the middle of each row to the next row, m:
// the row spacing as drawn. One fewer than rows; rows must be in order.
func Distances(rows []Row) []float64 {
	if len(rows) < 2 {
		return nil
	}
	out := make([]float64, len(rows)-1)
	for i := range out {
		out[i] = rows[i+1].Nearest(rows[i].middle()).Dist
	}
	return out
}
