package geojson

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// checker brings one geometry to longitude and latitude, checks it against RFC
// 7946 section 3.1 and mends what can be mended without a guess.
type checker struct {
	d       *Decoder
	feature int
	line    int
}

func (c checker) fault(field, what, found, wanted string) *format.Problem {
	return &format.Problem{Feature: c.feature, Line: c.line, Field: field, What: what, Found: found, Wanted: wanted}
}

// geometry checks g and gives it, changed in place where it was mended.
func (c checker) geometry(shape orb.Geometry) (orb.Geometry, *format.Problem) {
	switch g := shape.(type) {
	case orb.Point:
		p, problem := c.position(g)
		if p == g {
			return shape, problem // as it came: nothing to allocate
		}
		return p, problem
	case orb.MultiPoint:
		return g, c.positions(g)
	case orb.LineString:
		return g, c.lineString(g, "coordinates")
	case orb.MultiLineString:
		for i, l := range g {
			if p := c.lineString(l, fmt.Sprintf("line %d", i)); p != nil {
				return g, p
			}
		}
		return g, nil
	case orb.Polygon:
		problem := c.polygons(orb.MultiPolygon{g})
		return g, problem
	case orb.MultiPolygon:
		return g, c.polygons(g)
	case orb.Collection:
		for i := range g {
			part, problem := c.geometry(g[i])
			if problem != nil {
				return g, problem
			}
			g[i] = part
		}
		return g, nil
	}
	return shape, c.fault("geometry type", "not a geometry type", fmt.Sprintf("%T", shape), "a GeoJSON geometry")
}

// positions brings positions to longitude and latitude and checks their range.
func (c checker) positions(ps []orb.Point) *format.Problem {
	for i, p := range ps {
		q, problem := c.position(p)
		if problem != nil {
			return problem
		}
		ps[i] = q
	}
	return nil
}

func (c checker) position(p orb.Point) (orb.Point, *format.Problem) {
	crs := c.d.system
	switch {
	case crs == nil && math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90:
		return p, nil
	case crs == nil:
		return p, c.outOfRange(p)
	case !crs.Geographic() && math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90:
		return p, c.fault("coordinates", fmt.Sprintf("looks like degrees, though the coordinate system is EPSG:%d (%s) in units of a %s", crs.Code, crs.Name, crs.Unit),
			pair(p), "the right coordinate system named, EPSG:4326 for longitude and latitude")
	}
	q, err := crs.ToWGS84(p[0], p[1])
	if err != nil {
		return p, c.fault("coordinates", fmt.Sprintf("no place in EPSG:%d (%s)", crs.Code, crs.Name), pair(p), "coordinates in that system, or the right system named")
	}
	return q, nil
}

// outOfRange says what numbers that are no longitude and latitude look like.
func (c checker) outOfRange(p orb.Point) *format.Problem {
	x, y := math.Abs(p[0]), math.Abs(p[1])
	switch {
	case x <= 90 && y <= 180:
		return c.fault("coordinates", fmt.Sprintf("latitude %s is impossible; the pairs look swapped, latitude first", number(p[1])),
			pair(p), fmt.Sprintf("longitude first, as in %s; turn each pair round", pair(orb.Point{p[1], p[0]})))
	case x <= 540 && y <= 90:
		return c.fault("coordinates", fmt.Sprintf("longitude %s is beyond 180", number(p[0])), pair(p),
			"longitudes from -180 to 180; a shape across 180° is cut in two there (RFC 7946 section 3.1.9)")
	case x > 540:
		f := c.fault("coordinates", fmt.Sprintf("%s cannot be a longitude; it looks like projected metres or feet", number(p[0])), pair(p),
			"longitude and latitude in degrees (RFC 7946 section 4), or the coordinate system named, as in EPSG:32632")
		f.Cause = ErrProjected
		return f
	}
	return c.fault("coordinates", fmt.Sprintf("%s cannot be a latitude", number(p[1])), pair(p), "longitude -180 to 180 and latitude -90 to 90, in degrees")
}

func pair(p orb.Point) string { return "[" + number(p[0]) + ", " + number(p[1]) + "]" }

func number(v float64) string { return string(AppendNumber(nil, v)) }

func (c checker) lineString(l orb.LineString, field string) *format.Problem {
	if len(l) < 2 {
		return c.fault(field, "a line has two positions or more", fmt.Sprintf("%d", len(l)), "at least two")
	}
	return c.positions(l)
}

// polygons checks the rings of all polygons of a geometry, closing and turning
// them in place, and that no two of them cross.
func (c checker) polygons(mp orb.MultiPolygon) *format.Problem {
	var all []ring
	for i, pg := range mp {
		if len(pg) == 0 {
			return c.fault("coordinates", "a polygon without rings", "", "at least one ring")
		}
		for j := range pg {
			r := ring{name: fmt.Sprintf("ring %d", j), polygon: i, at: j}
			if len(mp) > 1 {
				r.name = fmt.Sprintf("polygon %d, ring %d", i, j)
			}
			if problem := c.closeRing(pg, &r); problem != nil {
				return problem
			}
			all = append(all, r)
		}
	}
	if at, a, b, crossed := crossing(all); crossed {
		what := "the outline crosses or touches itself"
		if a != b {
			what = fmt.Sprintf("%s crosses %s", all[a].name, all[b].name)
		}
		return c.fault(all[a].name, what, "a crossing at "+pair(round(at)), "an outline without crossings; put its corners in order")
	}
	for i := range all {
		if problem := c.turnRing(mp[all[i].polygon], &all[i]); problem != nil {
			return problem
		}
	}
	return c.holes(all)
}

// round gives a place to 8 places, for messages.
func round(p orb.Point) orb.Point {
	return orb.Point{math.Round(p[0]*1e8) / 1e8, math.Round(p[1]*1e8) / 1e8}
}

// closeRing checks the positions of one ring of a polygon and closes it.
func (c checker) closeRing(pg orb.Polygon, r *ring) *format.Problem {
	ps := pg[r.at]
	if len(ps) < 3 {
		return c.fault(r.name, "a ring has four positions or more, the last repeating the first", fmt.Sprintf("%d", len(ps)), "at least four")
	}
	if problem := c.positions(ps); problem != nil {
		return problem
	}
	if ps[0] != ps[len(ps)-1] {
		ps = append(ps, ps[0])
		pg[r.at] = ps
		c.d.notices.Add("", r.name, c.feature, c.line, "not closed; closed by repeating the first position")
	}
	if r.path = unwrap(ps); len(r.path) < 4 {
		return c.fault(r.name, "a ring without area", fmt.Sprintf("%d different positions", max(1, len(r.path)-1)), "three corners or more, and the first repeated at the end")
	}
	return nil
}

// turnRing turns one ring the way RFC 7946 wants.
func (c checker) turnRing(pg orb.Polygon, r *ring) *format.Problem {
	area := signedArea(r.path)
	switch {
	case area == 0:
		return c.fault(r.name, "a ring without area", "corners on one line", "corners that do not lie on one line")
	case (area > 0) != (r.at == 0):
		pg[r.at].Reverse()
		way := "outer rings run counter-clockwise"
		if r.at > 0 {
			way = "holes run clockwise"
		}
		c.d.notices.Add("", r.name, c.feature, c.line, "turned round: "+way+" (RFC 7946 section 3.1.6)")
	}
	return nil
}

// holes refuses holes outside their outer ring.
func (c checker) holes(all []ring) *format.Problem {
	var outer ring
	for _, r := range all {
		if r.at == 0 {
			outer = r
			continue
		}
		if !r.within(outer) {
			return c.fault(r.name, "a hole outside its outer ring", "", "holes inside the outline; another piece of land is a polygon of its own (MultiPolygon)")
		}
	}
	return nil
}

// unwrap gives the ring with longitudes that go on past 180 where it crosses
// that meridian, beginning as written, without repeated positions.
func unwrap(r []orb.Point) []orb.Point {
	out := make([]orb.Point, 0, len(r))
	for _, p := range r {
		if n := len(out); n > 0 {
			if d := p[0] - out[n-1][0]; d > 180 || d < -180 {
				p[0] -= 360 * math.Round(d/360)
			}
			if p == out[n-1] {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// signedArea is twice the area in square degrees, positive counter-clockwise.
func signedArea(p []orb.Point) float64 {
	var sum float64
	o := p[0]
	for i := 1; i+1 < len(p); i++ {
		sum += (p[i][0]-o[0])*(p[i+1][1]-o[1]) - (p[i+1][0]-o[0])*(p[i][1]-o[1])
	}
	return sum
}
