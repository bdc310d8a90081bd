package layout

import (
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Cell is the ground cell of a vine, the rectangle of ground that belongs to
// it: row spacing across × vine spacing along, in metres, with the vine in the
// middle and its sides along the row's bearing in the frame (Place.AzimuthDeg).
// The ring is closed and runs counter-clockwise, as RFC 7946 wants.
func Cell(f frame.Frame, at frame.XY, azimuthDeg, rowM, vineM float64) orb.Polygon {
	c := CellXY(at, azimuthDeg, rowM, vineM)
	r := make(orb.Ring, 0, 5)
	for _, p := range c {
		r = append(r, f.LonLat(p))
	}
	return orb.Polygon{append(r, r[0])}
}

// CellXY gives the four corners of a ground cell in the frame, counter-clockwise.
func CellXY(at frame.XY, azimuthDeg, rowM, vineM float64) [4]frame.XY {
	s, c := math.Sincos(azimuthDeg * math.Pi / 180)
	corner := func(along, right float64) frame.XY {
		return frame.XY{X: at.X + along*s + right*c, Y: at.Y + along*c - right*s}
	}
	a, r := vineM/2, rowM/2
	return [4]frame.XY{corner(-a, -r), corner(-a, r), corner(a, r), corner(a, -r)}
}

// Occupied works out how many metres of row each position really holds: half
// way to the nearest living vine on either side, so that a gap widens the share
// of its neighbours; 0 where no vine lives.
//
// chainage holds the positions of one row, rising within a part; part tells the
// part of a cut row for each (nil: one part). No share reaches across a road.
// Beyond the first and the last position of a part the ground ends half a
// spacing further on, so that a full row gives every vine its spacing; a run of
// missing vines at the end of a part counts half, as within the row. most caps
// the reach to either side (0: no cap), since a cane fills only so much; without
// it a vine alone in a long gap is given all of it.
//
// dst is used if it is long enough, so that columns can be filled in place.
func Occupied[F ~float32 | ~float64](dst, chainage []F, part []int, living func(i int) bool, spacing, most F) []F {
	n := len(chainage)
	if cap(dst) < n {
		dst = make([]F, n)
	}
	dst = dst[:n]
	for first := 0; first < n; {
		end := first + 1
		for end < n && (part == nil || part[end] == part[first]) {
			end++
		}
		occupiedPart(dst[first:end], chainage[first:end], func(i int) bool { return living(first + i) }, spacing, most)
		first = end
	}
	return dst
}

// occupiedPart is Occupied for one part.
func occupiedPart[F ~float32 | ~float64](dst, chainage []F, living func(i int) bool, spacing, most F) {
	n := len(chainage)
	// The ground ends where a vine one spacing beyond the end would meet it.
	before, last := chainage[0]-spacing, -1
	share := func(gap F) F {
		half := gap / 2
		if most > 0 && half > most {
			return most
		}
		return half
	}
	for i := range n {
		dst[i] = 0
		if !living(i) {
			continue
		}
		reach := share(chainage[i] - before)
		if last >= 0 {
			dst[last] += reach
		}
		dst[i] = reach
		before, last = chainage[i], i
	}
	if last >= 0 {
		dst[last] += share(chainage[n-1] + spacing - before)
	}
}
