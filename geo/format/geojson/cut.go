package geojson

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
)

// Cut gives a geometry cut in two at the 180th meridian where it crosses it
// (RFC 7946 section 3.1.9), otherwise the same geometry. A step of more than
// 180° between neighbouring longitudes is taken to cross it; so are longitudes
// beyond ±180.
func Cut(g orb.Geometry) orb.Geometry {
	switch g := g.(type) {
	case orb.LineString:
		if parts := cutLine(g); len(parts) != 1 {
			return parts
		} else {
			return parts[0]
		}
	case orb.MultiLineString:
		var out orb.MultiLineString
		for _, l := range g {
			out = append(out, cutLine(l)...)
		}
		return out
	case orb.Polygon:
		parts := cutPolygon(g)
		if len(parts) == 1 {
			return parts[0]
		}
		return parts
	case orb.MultiPolygon:
		var out orb.MultiPolygon
		for _, pg := range g {
			out = append(out, cutPolygon(pg)...)
		}
		return out
	}
	return g
}

// crosses tells whether unwrapped longitudes leave [-180, 180].
func crosses(path []orb.Point) bool {
	for _, p := range path {
		if p[0] > 180 || p[0] < -180 {
			return true
		}
	}
	return false
}

// cutLine cuts one line into pieces within [-180, 180].
func cutLine(l orb.LineString) orb.MultiLineString {
	path := orb.LineString(unwrap(l))
	if !crosses(path) {
		return orb.MultiLineString{l}
	}
	var out orb.MultiLineString
	eachWorld(path.Bound(), func(world orb.Bound, shift float64) {
		for _, part := range clip.LineString(world, path.Clone()) {
			out = append(out, shifted(part, shift))
		}
	})
	return out
}

// cutPolygon cuts one polygon into pieces within [-180, 180].
func cutPolygon(pg orb.Polygon) orb.MultiPolygon {
	var far bool
	whole := make(orb.Polygon, len(pg))
	for i, r := range pg {
		whole[i] = orb.Ring(unwrap(r))
		if i > 0 && len(whole[i]) > 0 && len(whole[0]) > 0 {
			bringNear(whole[i], whole[0])
		}
		far = far || crosses(whole[i])
	}
	if !far {
		return orb.MultiPolygon{pg}
	}
	var out orb.MultiPolygon
	eachWorld(whole.Bound(), func(world orb.Bound, shift float64) {
		part := clip.Polygon(world, whole.Clone())
		var kept orb.Polygon
		for _, r := range part {
			if len(r) >= 4 && math.Abs(signedArea(r)) > 0 {
				kept = append(kept, shifted(r, shift))
			}
		}
		if len(kept) > 0 {
			out = append(out, kept)
		}
	})
	return out
}

// bringNear moves a hole by whole turns to where its outer ring was unwrapped.
func bringNear(hole, outer orb.Ring) {
	middle := outer.Bound().Center()[0]
	turns := 360 * math.Round((middle-hole.Bound().Center()[0])/360)
	for i := range hole {
		hole[i][0] += turns
	}
}

// eachWorld calls f for every copy of [-180, 180] that the bound touches.
func eachWorld(b orb.Bound, f func(world orb.Bound, shift float64)) {
	from := math.Floor((b.Min[0] + 180) / 360)
	to := math.Ceil((b.Max[0]+180)/360) - 1
	for k := from; k <= to; k++ {
		world := orb.Bound{Min: orb.Point{360*k - 180, -90}, Max: orb.Point{360*k + 180, 90}}
		f(world, -360*k)
	}
}

func shifted[S ~[]orb.Point](ps S, by float64) S {
	for i := range ps {
		ps[i][0] += by
	}
	return ps
}
