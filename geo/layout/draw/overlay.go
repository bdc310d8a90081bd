package draw

import (
	"fmt"

	"github.com/peterstace/simplefeatures/geom"

	"courson/geo/frame"
)

// Ground that is left over where two borders do not quite meet is none; chosen by us.
const (
	leastPieceM2 = 0.05
	leastHoleM2  = 1.0
)

// Ground gives the ground on either side of the cut. Rings are wound as RFC 7946
// wants: outer ones anticlockwise. Errors wrap ErrCut where the outline crosses itself.
func (c Cut) Ground(ground frame.MultiPolygon) (left, right frame.MultiPolygon, err error) {
	whole := geometryOf(ground)
	side := geometryOf(frame.MultiPolygon{{c.left}})
	one, err := geom.Intersection(whole, side)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrCut, err)
	}
	other, err := geom.Difference(whole, side)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrCut, err)
	}
	return groundOf(one, 0), groundOf(other, 0), nil
}

// Union gives two blocks' ground as one: common borders go, also where they were drawn
// twice and lie up to snapM apart. Ground farther apart stays apart. An error where an
// outline crosses itself.
func Union(a, b frame.MultiPolygon) (frame.MultiPolygon, error) {
	both, err := geom.Union(geometryOf(a), geometryOf(drawnTo(b, a)))
	if err != nil {
		return nil, fmt.Errorf("the ground of both: %w", err)
	}
	return groundOf(both, leastHoleM2), nil
}

func geometryOf(mp frame.MultiPolygon) geom.Geometry {
	polygons := make([]geom.Polygon, 0, len(mp))
	for _, pg := range mp {
		rings := make([]geom.LineString, 0, len(pg))
		for _, r := range pg {
			if len(r) == 0 {
				continue
			}
			xy := make([]float64, 0, 2*len(r)+2)
			for _, p := range r {
				xy = append(xy, p.X, p.Y)
			}
			if r[0] != r[len(r)-1] {
				xy = append(xy, r[0].X, r[0].Y)
			}
			rings = append(rings, geom.NewLineString(geom.NewSequence(xy, geom.DimXY)))
		}
		polygons = append(polygons, geom.NewPolygon(rings))
	}
	return geom.NewMultiPolygon(polygons).AsGeometry()
}

// groundOf gives the areas of a geometry, without slivers, and without holes smaller
// than that.
func groundOf(g geom.Geometry, holeM2 float64) (out frame.MultiPolygon) {
	switch g.Type() {
	case geom.TypePolygon:
		return polygonOf(nil, g.MustAsPolygon(), holeM2)
	case geom.TypeMultiPolygon:
		mp := g.MustAsMultiPolygon()
		for i := range mp.NumPolygons() {
			out = polygonOf(out, mp.PolygonN(i), holeM2)
		}
	case geom.TypeGeometryCollection: // with lines and points where borders touch
		all := g.MustAsGeometryCollection()
		for i := range all.NumGeometries() {
			out = append(out, groundOf(all.GeometryN(i), holeM2)...)
		}
	}
	return out
}

func polygonOf(out frame.MultiPolygon, pg geom.Polygon, holeM2 float64) frame.MultiPolygon {
	if pg.Area() < leastPieceM2 {
		return out
	}
	pg = pg.ForceCCW()
	rings := frame.Polygon{ringOf(pg.ExteriorRing())}
	for i := range pg.NumInteriorRings() {
		hole := ringOf(pg.InteriorRingN(i))
		if area := (frame.Polygon{hole}).Area(); area >= max(holeM2, leastPieceM2) {
			rings = append(rings, hole)
		}
	}
	return append(out, rings)
}

func ringOf(l geom.LineString) (out frame.Ring) {
	seq := l.Coordinates()
	for i := range seq.Length() {
		p := seq.GetXY(i)
		out = append(out, frame.XY{X: p.X, Y: p.Y})
	}
	return out
}
