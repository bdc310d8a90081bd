package geojson

import (
	"github.com/paulmach/orb"

	"courson/geo/format"
)

// parsed is a geometry as it stands in the file.
type parsed struct {
	geometry    orb.Geometry // nil: null, or without positions
	line        int          // where it begins
	null        bool
	least, most int // fewest and most numbers in a position
	problem     *format.Problem
}

// join takes over what a part of a collection says.
func (p *parsed) join(part parsed) {
	if part.problem != nil && p.problem == nil {
		p.problem = part.problem
	}
	if part.most > 0 {
		p.least, p.most = min(p.least, part.least), max(p.most, part.most)
	}
}

// members gathers the members of a geometry object while they come, in
// whatever order.
type members struct {
	kind       string
	hasType    bool
	hasCoords  bool
	hasParts   bool
	collection orb.Collection
	out        parsed
}

// geometry reads the value of "geometry", or an item of "geometries".
func (d *Decoder) geometry(depth int) (parsed, error) {
	s := d.s
	c := s.next()
	line := s.line
	if c != '{' {
		kind, text, err := s.value(s.stray[:0], true, depth)
		s.stray = text
		if err != nil {
			return parsed{}, err
		}
		if kind == Null {
			return parsed{null: true, line: line}, nil
		}
		return parsed{problem: &format.Problem{Feature: s.feature, Line: line, Field: "geometry", What: "not a geometry",
			Found: Value{Kind: kind, text: text}.Describe(), Wanted: "an object with type and coordinates, or null"}}, nil
	}
	if depth > maxNesting {
		return parsed{}, s.fault("geometries nested too deeply", "no collection inside a collection")
	}
	s.pos++
	m := members{out: parsed{line: line, least: 1 << 30}}
	for i := 0; ; i++ {
		more, err := s.more(i, '}')
		if err != nil {
			return parsed{}, err
		}
		if !more {
			break
		}
		name, err := d.name()
		if err != nil {
			return parsed{}, err
		}
		if err := d.geometryMember(&m, name, depth); err != nil {
			return parsed{}, err
		}
	}
	return m.finish(d), nil
}

// maxNesting is how deeply collections may lie in one another.
const maxNesting = 8

// name reads the name of a member and the colon after it. It is good until the
// next text.
func (d *Decoder) name() ([]byte, error) {
	s := d.s
	if s.next() != '"' {
		return nil, s.fault("not JSON", "a name in double quotes")
	}
	var err error
	if d.nameBuf, err = s.text(d.nameBuf[:0]); err != nil {
		return nil, err
	}
	return d.nameBuf, s.expect(':', "a colon after the name")
}

// geometryMember reads one member of a geometry object.
func (d *Decoder) geometryMember(m *members, name []byte, depth int) error {
	switch string(name) {
	case "type":
		return d.typeMember(&m.kind, &m.hasType, &m.out.problem)
	case "coordinates":
		m.repeated(d.s, m.hasCoords, "coordinates")
		m.hasCoords = true
		return d.coords.read(d.s)
	case "geometries":
		m.repeated(d.s, m.hasParts, "geometries")
		m.hasParts = true
		return d.parts(m, depth)
	case "geometry", "properties", "features":
		m.blame(&format.Problem{Feature: d.s.feature, Line: d.s.line, Field: string(name),
			What: "a geometry has no member of this name (RFC 7946 section 7.1)", Wanted: "a Feature around the geometry"})
	}
	_, _, err := d.s.value(nil, false, 1)
	return err
}

// blame keeps the first problem.
func (m *members) blame(p *format.Problem) {
	if m.out.problem == nil {
		m.out.problem = p
	}
}

func (m *members) repeated(s *scanner, before bool, name string) {
	if before {
		m.blame(twice(s, name))
	}
}

func twice(s *scanner, name string) *format.Problem {
	return &format.Problem{Feature: s.feature, Line: s.line, Field: name, What: "the same name twice in one object",
		Wanted: "each name once; which of the two is meant cannot be known"}
}

// typeMember reads the value of "type".
func (d *Decoder) typeMember(kind *string, has *bool, problem **format.Problem) error {
	s := d.s
	if *has && *problem == nil {
		*problem = twice(s, "type")
	}
	*has = true
	k, text, err := s.value(s.stray[:0], true, 1)
	s.stray = text
	if err != nil {
		return err
	}
	if k != Text && *problem == nil {
		*problem = &format.Problem{Feature: s.feature, Line: s.line, Field: "type", What: "not a text",
			Found: Value{Kind: k, text: text}.Describe(), Wanted: "the name of a GeoJSON type"}
	}
	*kind = d.intern(text)
	return nil
}

// parts reads the value of "geometries".
func (d *Decoder) parts(m *members, depth int) error {
	s := d.s
	if err := s.expect('[', "an array of geometries"); err != nil {
		return err
	}
	for i := 0; ; i++ {
		more, err := s.more(i, ']')
		if err != nil {
			return err
		}
		if !more {
			return nil
		}
		part, err := d.geometry(depth + 1)
		if err != nil {
			return err
		}
		m.out.join(part)
		if part.geometry != nil {
			m.collection = append(m.collection, part.geometry)
		}
	}
}

// finish builds the geometry once all members are read.
func (m *members) finish(d *Decoder) parsed {
	s, out := d.s, &m.out
	if out.problem != nil {
		return *out
	}
	switch {
	case m.kind == "GeometryCollection" && !m.hasParts:
		m.blame(&format.Problem{Feature: s.feature, Line: out.line, Field: "geometries", What: "missing in a GeometryCollection", Wanted: "an array of geometries"})
	case m.kind == "GeometryCollection":
		if len(m.collection) > 0 {
			out.geometry = m.collection
		}
	case !m.hasCoords:
		if _, known := heightOf(m.kind); !known {
			m.blame(d.coords.unknownType(s, m.kind))
			break
		}
		m.blame(&format.Problem{Feature: s.feature, Line: out.line, Field: "coordinates", What: "missing in a " + m.kind, Wanted: "an array of positions"})
	default:
		out.geometry, out.problem = d.coords.shape(s, m.kind)
		out.least, out.most = d.coords.least, d.coords.most
	}
	return *out
}
