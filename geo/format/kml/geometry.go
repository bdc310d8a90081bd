package kml

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

const deepest = 20 // MultiGeometry within each other

// geometry reads an element if it is a geometry. What stands within another
// counts to it. The problem lacks its place.
func (k *reader) geometry(e *format.Element, depth int) (g orb.Geometry, is bool, p *format.Problem) {
	if depth > deepest {
		return nil, true, &format.Problem{What: "geometries stand too deep within each other", Wanted: fmt.Sprintf("at most %d levels", deepest)}
	}
	switch e.Name {
	case "Point":
		ps, p := k.positions(e)
		switch {
		case p != nil:
			return nil, true, p
		case len(ps) == 0:
			return nil, true, nil
		case len(ps) > 1:
			return nil, true, &format.Problem{What: "a point has one position", Found: fmt.Sprintf("%d positions", len(ps)), Wanted: "longitude,latitude without blanks in between"}
		}
		return ps[0], true, nil
	case "LineString", "LinearRing":
		ps, p := k.positions(e)
		if p != nil || len(ps) == 0 {
			return nil, true, p
		}
		return orb.LineString(ps), true, nil
	case "Polygon":
		return k.polygon(e)
	case "MultiGeometry", "MultiTrack":
		return k.several(e, depth)
	case "Track":
		return k.track(e)
	case "Model":
		k.note("a model is left out")
		return nil, true, nil
	}
	return nil, false, nil
}

func (k *reader) polygon(e *format.Element) (orb.Geometry, bool, *format.Problem) {
	var out orb.Polygon
	ring := func(boundary *format.Element) *format.Problem {
		for _, r := range boundary.Inner {
			if r.Name != "LinearRing" {
				continue
			}
			ps, p := k.positions(r)
			if p != nil {
				return p
			}
			if len(ps) > 0 {
				out = append(out, orb.Ring(ps))
			}
		}
		return nil
	}
	if outer := e.Child("outerBoundaryIs"); outer != nil {
		if p := ring(outer); p != nil {
			return nil, true, p
		}
	}
	if len(out) == 0 {
		return nil, true, nil
	}
	if len(out) > 1 {
		return nil, true, &format.Problem{What: "a polygon has one outer ring", Found: fmt.Sprint(len(out)), Wanted: "one; further parts each a polygon of their own"}
	}
	for _, inner := range e.Inner {
		if inner.Name == "innerBoundaryIs" {
			if p := ring(inner); p != nil {
				return nil, true, p
			}
		}
	}
	return out, true, nil
}

// several joins the parts of a MultiGeometry: of one kind to a geometry of many
// parts, of several to a collection.
func (k *reader) several(e *format.Element, depth int) (orb.Geometry, bool, *format.Problem) {
	var all orb.Collection
	for _, c := range e.Inner {
		g, is, p := k.geometry(c, depth+1)
		if p != nil {
			return nil, true, p
		}
		if !is || g == nil {
			continue
		}
		all = append(all, parts(g)...)
	}
	if len(all) == 0 {
		return nil, true, nil
	}
	return format.Join(all), true, nil
}

// parts takes a geometry of many parts apart.
func parts(g orb.Geometry) (out orb.Collection) {
	switch g := g.(type) {
	case orb.MultiPoint:
		for _, x := range g {
			out = append(out, x)
		}
	case orb.MultiLineString:
		for _, x := range g {
			out = append(out, x)
		}
	case orb.MultiPolygon:
		for _, x := range g {
			out = append(out, x)
		}
	case orb.Collection:
		return g
	default:
		return orb.Collection{g}
	}
	return out
}

// track reads the places of a track: longitude, latitude and height parted by
// blanks.
func (k *reader) track(e *format.Element) (orb.Geometry, bool, *format.Problem) {
	var line orb.LineString
	for _, c := range e.Inner {
		if c.Name != "coord" || c.Text == "" {
			continue
		}
		q, p := k.position(strings.Fields(c.Text), c.Text)
		if p != nil {
			return nil, true, p
		}
		line = append(line, q)
	}
	if len(line) == 0 {
		return nil, true, nil
	}
	return line, true, nil
}

// positions reads the element coordinates: tuples of longitude, latitude and
// perhaps a height, the numbers parted by commas, the tuples by blanks.
func (k *reader) positions(e *format.Element) ([]orb.Point, *format.Problem) {
	var out []orb.Point
	for word := range strings.FieldsSeq(e.Words("coordinates")) {
		p, problem := k.position(strings.Split(word, ","), word)
		if problem != nil {
			return nil, problem
		}
		out = append(out, p)
	}
	return out, nil
}

func (k *reader) position(numbers []string, as string) (orb.Point, *format.Problem) {
	wrong := &format.Problem{Field: "coordinates", What: "not a position", Found: format.Quote(as), Wanted: "longitude,latitude or longitude,latitude,height, without blanks in between"}
	if len(numbers) < 2 || len(numbers) > 3 {
		return orb.Point{}, wrong
	}
	var v [3]float64
	for i, n := range numbers {
		var err error
		if v[i], err = strconv.ParseFloat(n, 64); err != nil || math.IsInf(v[i], 0) || math.IsNaN(v[i]) {
			return orb.Point{}, wrong
		}
	}
	if len(numbers) == 3 && v[2] != 0 {
		k.note("heights are left out")
	}
	return orb.Point{v[0], v[1]}, nil
}
