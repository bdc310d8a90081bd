package server

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"courson/geo/frame"
	"courson/geo/stand"
)

// rounded8 keeps 8 decimals of a degree: 1.1 mm at the equator, below what
// surveys are good for.
func rounded8(v float64) float64 {
	const by = 1e8
	return math.Round(v*by) / by
}

// ogcBox is a rectangle in degrees; its edges belong to it.
type ogcBox orb.Bound

// nearWorld is the distance in units of the Web Mercator square (at most 9.3 mm
// each) within which a vine's exact position decides.
const nearWorld = 4

// ogcPlace gives where the vines of a ground stand, in degrees.
type ogcPlace struct {
	ground *stand.Ground
	frame  frame.Frame
	exact  bool // by the block's metric frame
}

func newOGCPlace(g *stand.Ground) *ogcPlace {
	return &ogcPlace{g, frame.New(orb.Point(g.Origin)), len(g.X) == g.Len() && len(g.Y) == g.Len()}
}

// point is the position of vine i as it is written.
func (p *ogcPlace) point(i int) orb.Point {
	var at orb.Point
	if p.exact {
		at = p.frame.Inverse(float64(p.ground.X[i]), float64(p.ground.Y[i]))
	} else {
		at[0], at[1] = stand.Degrees(p.ground.WX[i], p.ground.WY[i])
	}
	return orb.Point{rounded8(at[0]), rounded8(at[1])}
}

// within tells whether vine i stands in one of the boxes.
func (p *ogcPlace) within(i int, boxes []ogcBox) bool {
	x, y := int64(p.ground.WX[i]), int64(p.ground.WY[i])
	for _, b := range boxes {
		x0, y1 := stand.World(b.Min[0], b.Min[1])
		x1, y0 := stand.World(b.Max[0], b.Max[1])
		// inside is how far within the box the vine stands; below 0 outside.
		inside := min(x-int64(x0), int64(x1)-x, y-int64(y0), int64(y1)-y)
		if inside > nearWorld || inside >= -nearWorld && orb.Bound(b).Contains(p.point(i)) {
			return true
		}
	}
	return false
}

// lineWithin tells whether any piece of the lines meets one of the boxes.
func lineWithin(lines orb.MultiLineString, boxes []ogcBox) bool {
	for _, l := range lines {
		for _, b := range boxes {
			if b.meetsLine(l) {
				return true
			}
		}
	}
	return false
}

// areaWithin tells whether the polygons and one of the boxes have a point in
// common.
func areaWithin(mp orb.MultiPolygon, boxes []ogcBox) bool {
	for _, pg := range mp {
		for _, b := range boxes {
			if b.meetsArea(pg) {
				return true
			}
		}
	}
	return false
}

func (b ogcBox) meetsArea(pg orb.Polygon) bool {
	for _, ring := range pg {
		if b.meetsLine(orb.LineString(ring)) {
			return true
		}
	}
	// No border in the box: it lies wholly inside or wholly outside.
	return len(pg) > 0 && planar.PolygonContains(pg, b.Min)
}

func (b ogcBox) meetsLine(l orb.LineString) bool {
	if len(l) == 1 {
		return orb.Bound(b).Contains(l[0])
	}
	for i := 1; i < len(l); i++ {
		if b.meetsSegment(l[i-1], l[i]) {
			return true
		}
	}
	return false
}

// meetsSegment cuts the segment with the box's four sides (Liang and Barsky, A
// new concept and method for line clipping, ACM Transactions on Graphics 3(1),
// 1984, 1-22).
func (b ogcBox) meetsSegment(p, q orb.Point) bool {
	from, to := 0.0, 1.0
	for axis := range 2 {
		d := q[axis] - p[axis]
		low, high := b.Min[axis]-p[axis], b.Max[axis]-p[axis]
		if d == 0 {
			if low > 0 || high < 0 {
				return false
			}
			continue
		}
		t0, t1 := low/d, high/d
		if d < 0 {
			t0, t1 = t1, t0
		}
		if from, to = max(from, t0), min(to, t1); from > to {
			return false
		}
	}
	return true
}

func appendPosition(dst []byte, p orb.Point) []byte {
	dst = append(dst, '[')
	dst = strconv.AppendFloat(dst, rounded8(p[0]), 'f', -1, 64)
	dst = append(dst, ',')
	dst = strconv.AppendFloat(dst, rounded8(p[1]), 'f', -1, 64)
	return append(dst, ']')
}

// appendList writes a JSON array.
func appendList[T any](dst []byte, list []T, one func([]byte, T) []byte) []byte {
	dst = append(dst, '[')
	for i, v := range list {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = one(dst, v)
	}
	return append(dst, ']')
}

func appendLine(dst []byte, l orb.LineString) []byte { return appendList(dst, l, appendPosition) }

func appendPolygon(dst []byte, pg orb.Polygon) []byte {
	return appendList(dst, pg, func(dst []byte, r orb.Ring) []byte { return appendList(dst, r, appendPosition) })
}

// appendShape writes a geometry object of RFC 7946, null for an empty one.
func appendShape(dst []byte, kind string, coordinates func([]byte) []byte) []byte {
	dst = append(dst, `{"type":"`...)
	dst = append(dst, kind...)
	dst = append(dst, `","coordinates":`...)
	dst = coordinates(dst)
	return append(dst, '}')
}

// appendLines writes rows as they are: a line, or several where a road cuts the row.
func appendLines(dst []byte, lines orb.MultiLineString) []byte {
	switch len(lines) {
	case 0:
		return append(dst, "null"...)
	case 1:
		return appendShape(dst, "LineString", func(dst []byte) []byte { return appendLine(dst, lines[0]) })
	}
	return appendShape(dst, "MultiLineString", func(dst []byte) []byte { return appendList(dst, lines, appendLine) })
}

// appendAreas writes polygons always as a MultiPolygon, so that a client sees one
// kind of geometry in the whole collection.
func appendAreas(dst []byte, mp orb.MultiPolygon) []byte {
	if len(mp) == 0 {
		return append(dst, "null"...)
	}
	return appendShape(dst, "MultiPolygon", func(dst []byte) []byte { return appendList(dst, mp, appendPolygon) })
}
