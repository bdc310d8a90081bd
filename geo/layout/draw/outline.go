package draw

import (
	"math"

	"courson/geo/frame"
)

// FaultKind names what is wrong with an outline.
type FaultKind string

// The faults of an outline.
const (
	TooFew   FaultKind = "few points" // an area has three corners
	Crossing FaultKind = "crossing"   // two of its sides cross, touch or lie on each other
	TooSmall FaultKind = "too small"
	TooLarge FaultKind = "too large"
	Overlap  FaultKind = "overlap" // it takes ground of another block
)

const (
	// LeastAreaM2 is the least ground that a block may have: one vine at a wide
	// planting distance; chosen by us.
	LeastAreaM2 = 6.0
	// MostAreaM2 is the most: 10 km²; chosen by us, to catch a point that was set on
	// the wrong side of the map.
	MostAreaM2 = 1e7
	// shareOverlap is the share of the smaller of two blocks from which common ground
	// is more than two hands drawing along one border; chosen by us.
	shareOverlap = 0.01
)

// Neighbour is the ground of another block, in the frame of the one that is drawn.
type Neighbour struct {
	Code   string
	Ground frame.MultiPolygon
}

// Fault is one thing that is wrong with an outline, or worth a look.
type Fault struct {
	Kind FaultKind
	// Slight tells that the outline may be kept all the same.
	Slight bool
	At     frame.XY // a place to show it; of Crossing where the sides meet
	// SideA and SideB are the sides that cross, counted from 0 by the point at which
	// they begin.
	SideA, SideB int
	Code         string  // of Overlap: the other block
	AreaM2       float64 // of the outline, of Overlap of the common ground
}

// Outline judges the corners of a block drawn by hand, in order, without the first
// one repeated. It gives the area enclosed, m², 0 where the sides cross.
func Outline(corners frame.Ring, others []Neighbour) (areaM2 float64, faults []Fault) {
	ring := distinct(corners)
	if len(ring) < 3 {
		return 0, []Fault{{Kind: TooFew}}
	}
	if c, ok := (frame.Polygon{ring}).Crossing(); ok {
		return 0, []Fault{{Kind: Crossing, At: c.At, SideA: min(c.EdgeA, c.EdgeB), SideB: max(c.EdgeA, c.EdgeB)}}
	}
	area := math.Abs(ring.SignedArea())
	switch {
	case area < LeastAreaM2:
		return area, []Fault{{Kind: TooSmall, At: ring[0], AreaM2: area}}
	case area > MostAreaM2:
		return area, []Fault{{Kind: TooLarge, At: ring[0], AreaM2: area}}
	}
	ground := frame.MultiPolygon{{ring}}
	for _, o := range others {
		common := Common(ground, o.Ground)
		if common < 0.01 { // a hundredth of a square metre is rounding
			continue
		}
		least := min(area, areaOf(o.Ground))
		faults = append(faults, Fault{Kind: Overlap, Slight: common <= shareOverlap*least, At: ring[0], Code: o.Code, AreaM2: common})
	}
	return area, faults
}

// distinct leaves out corners that repeat the one before, and a last one that
// repeats the first.
func distinct(corners frame.Ring) frame.Ring {
	const same = 1e-3 // m: no two corners of a block are a millimetre apart
	var out frame.Ring
	for _, p := range corners {
		if n := len(out); n == 0 || frame.Dist(out[n-1], p) > same {
			out = append(out, p)
		}
	}
	for len(out) > 1 && frame.Dist(out[0], out[len(out)-1]) <= same {
		out = out[:len(out)-1]
	}
	return out
}

// areaOf is the area of several polygons, m².
func areaOf(mp frame.MultiPolygon) float64 {
	var sum float64
	for _, pg := range mp {
		sum += pg.Area()
	}
	return sum
}
