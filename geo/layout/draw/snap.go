package draw

import (
	"slices"

	"courson/geo/frame"
)

// How far apart two borders may lie that are meant to be one, and how far over the
// other one is drawn then, so that nothing is left between them; chosen by us.
const (
	snapM    = 0.3
	overlapM = 0.01
)

// drawnTo draws the border of ground to that of other ground beside it where they
// nearly meet. Corners of either that lie near a side of the other count.
func drawnTo(ground, beside frame.MultiPolygon) frame.MultiPolygon {
	out := make(frame.MultiPolygon, len(ground))
	for i, pg := range ground {
		for _, r := range pg {
			out[i] = append(out[i], ringTo(withCorners(r, beside), beside))
		}
	}
	return out
}

// withCorners adds a place to each side of the ring near which a corner of the other
// ground lies.
func withCorners(r frame.Ring, beside frame.MultiPolygon) (out frame.Ring) {
	for i, a := range r {
		out = append(out, a)
		b := r[(i+1)%len(r)]
		var at []frame.XY
		for _, pg := range beside {
			for _, other := range pg {
				for _, corner := range other {
					if p, t := frame.NearestOnSegment(corner, a, b); t > 0 && t < 1 && frame.Dist(p, corner) < snapM {
						at = append(at, p)
					}
				}
			}
		}
		slices.SortFunc(at, func(p, q frame.XY) int {
			if frame.Dist(a, p) < frame.Dist(a, q) {
				return -1
			}
			return 1
		})
		out = append(out, at...)
	}
	return slices.Compact(out)
}

// ringTo draws the places of a ring that lie near the other ground a little over its
// border.
func ringTo(r frame.Ring, beside frame.MultiPolygon) frame.Ring {
	for i, p := range r {
		to, d := nearestBorder(p, beside)
		if d == 0 || d > snapM || beside.Contains(p) {
			continue
		}
		share := (d + overlapM) / d
		r[i] = frame.XY{X: p.X + share*(to.X-p.X), Y: p.Y + share*(to.Y-p.Y)}
	}
	return r
}

// nearestBorder gives the place of any border nearest to p, and how far it is.
func nearestBorder(p frame.XY, mp frame.MultiPolygon) (at frame.XY, d float64) {
	d = snapM + 1
	for _, pg := range mp {
		for _, r := range pg {
			for i, a := range r {
				if q, _ := frame.NearestOnSegment(p, a, r[(i+1)%len(r)]); frame.Dist(p, q) < d {
					at, d = q, frame.Dist(p, q)
				}
			}
		}
	}
	return at, d
}
