package geojson

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// coords holds the positions of one geometry as they are read, before its type
// need be known: all positions one after the other and where lines and
// polygons end. It is used again for every feature.
type coords struct {
	flat      []orb.Point
	lines     []int // ends of arrays of positions, in flat
	polys     []int // ends of arrays of lines, in lines
	height    int   // levels of arrays above the positions: 0 for a Point; noHeight while unknown
	least     int   // fewest and most numbers in a position
	most      int
	empty     bool // an array without anything inside, below the outermost
	problem   *format.Problem
	positions int // limit
}

const noHeight = -1

func (c *coords) reset() {
	c.flat, c.lines, c.polys = c.flat[:0], c.lines[:0], c.polys[:0]
	c.height, c.least, c.most, c.empty, c.problem = noHeight, 1<<30, 0, false, nil
}

// read reads the value of "coordinates".
func (c *coords) read(s *scanner) error {
	c.reset()
	h, err := c.array(s, 0)
	c.height = h
	return err
}

// fault keeps the first thing that is wrong with the coordinates, though they
// are JSON.
func (c *coords) fault(s *scanner, what, found, wanted string) {
	if c.problem == nil {
		c.problem = &format.Problem{Feature: s.feature, Line: s.line, Field: "coordinates", What: what, Found: found, Wanted: wanted}
	}
}

// array reads one array: a position or an array of arrays. It gives its height.
func (c *coords) array(s *scanner, level int) (int, error) {
	if s.next() != '[' {
		return noHeight, c.stray(s, "an array")
	}
	if level > 8 {
		return noHeight, s.fault("coordinates nested too deeply", "at most four levels of arrays")
	}
	s.pos++
	if s.next() == ']' {
		s.pos++
		c.empty = c.empty || level > 0
		return noHeight, nil
	}
	if s.next() != '[' {
		return 0, c.position(s)
	}
	height := noHeight
	for i := 0; ; i++ {
		more, err := s.more(i, ']')
		if err != nil {
			return 0, err
		}
		if !more {
			break
		}
		h, err := c.array(s, level+1)
		if err != nil {
			return 0, err
		}
		if height == noHeight {
			height = h
		} else if h != noHeight && h != height {
			c.fault(s, "positions lie at different levels of arrays", "", "the same nesting throughout")
		}
	}
	c.end(height)
	return height + 1, nil
}

// end notes that an array of arrays of the given height is complete.
func (c *coords) end(height int) {
	switch height {
	case 0:
		c.lines = append(c.lines, len(c.flat))
	case 1:
		c.polys = append(c.polys, len(c.lines))
	}
}

// stray reads a value that should not stand among coordinates.
func (c *coords) stray(s *scanner, wanted string) error {
	at := s.next()
	var found string
	kind, text, err := s.value(s.stray[:0], true, 1)
	s.stray = text
	if err != nil {
		return c.strayWord(s, err)
	}
	switch {
	case kind == Null:
		found = "null"
	case at == '{':
		found = "an object"
	case kind == Text:
		found = "the text " + format.Quote(string(text))
	default:
		found = format.Quote(string(text))
	}
	c.fault(s, "not "+wanted, found, "positions as [longitude, latitude], numbers without quotes")
	return nil
}

// strayWord lets NaN and its like pass as a problem of this feature, so that
// the rest of the file is still looked at.
func (c *coords) strayWord(s *scanner, err error) error {
	p, ok := err.(*format.Problem)
	if !ok || p.What != whatNumber || numberLike(p.Found) {
		return err
	}
	c.fault(s, p.What, p.Found, "a number; leave the geometry null where there is no place")
	return nil
}

func numberLike(found string) bool {
	return !strings.ContainsAny(found, "NnIiu")
}

// position reads the numbers of one position; its opening bracket is consumed.
func (c *coords) position(s *scanner) error {
	var p orb.Point
	n := 0
	for i := 0; ; i++ {
		more, err := s.more(i, ']')
		if err != nil {
			return err
		}
		if !more {
			break
		}
		b := s.next()
		if b != '-' && (b < '0' || b > '9') {
			if err := c.stray(s, "a number"); err != nil {
				return err
			}
			n++
			continue
		}
		v, ok, err := c.number(s)
		if err != nil {
			return err
		}
		if ok && n < 2 {
			p[n] = v
		}
		n++
	}
	if n < 2 {
		c.fault(s, "a position has two numbers", fmt.Sprintf("%d", n), "[longitude, latitude]")
	}
	if len(c.flat) >= c.positions {
		return s.fault("a feature has too many positions", fmt.Sprintf("at most %d", c.positions))
	}
	c.flat = append(c.flat, p)
	c.least, c.most = min(c.least, n), max(c.most, n)
	return nil
}

// number reads one number of a position; ok is false where it was -Infinity or
// the like, which is noted as the feature's problem.
func (c *coords) number(s *scanner) (v float64, ok bool, err error) {
	t, err := s.numberText()
	if err != nil {
		return 0, false, err
	}
	if v, ok = parseNumber(t); ok {
		return v, true, nil
	}
	found := string(t)
	if found == "-" {
		found += s.word()
	}
	return 0, false, c.strayWord(s, s.notNumber(found))
}

// shape builds the geometry of the given type. The positions are copied.
func (c *coords) shape(s *scanner, kind string) (orb.Geometry, *format.Problem) {
	if c.problem != nil {
		return nil, c.problem
	}
	want, known := heightOf(kind)
	switch {
	case !known:
		return nil, c.unknownType(s, kind)
	case len(c.flat) == 0 && !c.empty:
		return nil, nil
	case c.empty:
		c.fault(s, "an empty array where positions are wanted", "[]", "positions, or geometry null for no place")
	case c.height > want:
		c.fault(s, fmt.Sprintf("coordinates of a %s nested too deeply", kind), levels(c.height), levels(want))
	case c.height < want:
		c.fault(s, fmt.Sprintf("coordinates of a %s not nested deeply enough", kind), levels(c.height), levels(want))
	}
	if c.problem != nil {
		return nil, c.problem
	}
	switch kind {
	case "Point":
		return c.flat[0], nil
	case "MultiPoint":
		return orb.MultiPoint(clonePoints(c.flat)), nil
	case "LineString":
		return orb.LineString(clonePoints(c.flat)), nil
	case "MultiLineString":
		mls := orb.MultiLineString{}
		c.eachLine(0, len(c.lines), func(l []orb.Point) { mls = append(mls, orb.LineString(l)) })
		return mls, nil
	case "Polygon":
		return c.polygon(0, len(c.lines)), nil
	}
	mp := orb.MultiPolygon{}
	from := 0
	for _, to := range c.polys {
		mp = append(mp, c.polygon(from, to))
		from = to
	}
	return mp, nil
}

// heightOf gives the levels of arrays above the positions of a type (RFC 7946
// section 3.1).
func heightOf(kind string) (height int, known bool) {
	switch kind {
	case "Point":
		return 0, true
	case "MultiPoint", "LineString":
		return 1, true
	case "MultiLineString", "Polygon":
		return 2, true
	case "MultiPolygon":
		return 3, true
	}
	return 0, false
}

func levels(h int) string {
	if h == 0 {
		return "one position"
	}
	return fmt.Sprintf("positions inside %d level(s) of arrays", h)
}

func (c *coords) polygon(from, to int) orb.Polygon {
	pg := orb.Polygon{}
	c.eachLine(from, to, func(l []orb.Point) { pg = append(pg, orb.Ring(l)) })
	return pg
}

func (c *coords) eachLine(from, to int, f func([]orb.Point)) {
	start := 0
	if from > 0 {
		start = c.lines[from-1]
	}
	for _, end := range c.lines[from:to] {
		f(clonePoints(c.flat[start:end]))
		start = end
	}
}

func clonePoints(p []orb.Point) []orb.Point { return append([]orb.Point(nil), p...) }

func (c *coords) unknownType(s *scanner, kind string) *format.Problem {
	p := &format.Problem{Feature: s.feature, Line: s.line, Field: "geometry type", What: "not a geometry type", Found: format.Quote(kind),
		Wanted: "Point, MultiPoint, LineString, MultiLineString, Polygon, MultiPolygon or GeometryCollection"}
	if kind == "" {
		p.What, p.Found = "the geometry has no type", ""
	}
	for _, known := range []string{"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection"} {
		if strings.EqualFold(known, kind) {
			p.Wanted = fmt.Sprintf("%q, with these capitals (RFC 7946 section 1.4)", known)
		}
	}
	return p
}
