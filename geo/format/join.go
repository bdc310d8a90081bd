package format

import "github.com/paulmach/orb"

// Join makes one geometry of parts: the part itself where there is one, nil where
// there is none, and a geometry of many points, lines or polygons where all are of
// one kind; else they stay a collection.
func Join(all orb.Collection) orb.Geometry {
	if len(all) == 0 {
		return nil
	}
	if len(all) == 1 {
		return all[0]
	}
	var points orb.MultiPoint
	var lines orb.MultiLineString
	var polygons orb.MultiPolygon
	for _, g := range all {
		switch g := g.(type) {
		case orb.Point:
			points = append(points, g)
		case orb.LineString:
			lines = append(lines, g)
		case orb.Polygon:
			polygons = append(polygons, g)
		}
	}
	switch len(all) {
	case len(points):
		return points
	case len(lines):
		return lines
	case len(polygons):
		return polygons
	}
	return all
}
