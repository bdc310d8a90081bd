package geojson

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// rawFeature gathers the members of a feature, or of the top-level object,
// while they come in whatever order.
type rawFeature struct {
	line          int
	kind          string
	hasType       bool
	id            Value
	hasID         bool
	geometry      parsed
	hasGeometry   bool
	props         []Property
	hasProperties bool
	bare          members // coordinates or geometries that stand outside a geometry
	collection    bool    // "features" was met
	problem       *format.Problem
}

// reset makes the raw feature empty, keeping its buffers.
func (r *rawFeature) reset() {
	*r = rawFeature{props: r.props[:0]}
	r.bare.out.least = 1 << 30
}

func (r *rawFeature) blame(p *format.Problem) {
	if r.problem == nil {
		r.problem = p
	}
}

// feature reads one item of "features".
func (d *Decoder) feature() (*Feature, error) {
	s, r := d.s, &d.raw
	r.reset()
	d.arena = d.arena[:0]
	c := s.next()
	r.line = s.line
	if c != '{' {
		kind, text, err := s.value(nil, true, 1)
		if err != nil {
			return nil, err
		}
		return nil, bad(&format.Problem{Feature: s.feature, Line: r.line, What: "not a feature",
			Found: describe(kind, text), Wanted: `an object with "type": "Feature"`})
	}
	s.pos++
	for i := 0; ; i++ {
		more, err := s.more(i, '}')
		if err != nil {
			return nil, err
		}
		if !more {
			break
		}
		name, err := d.name()
		if err != nil {
			return nil, err
		}
		if err := d.featureMember(r, name); err != nil {
			return nil, err
		}
	}
	return d.finish(r)
}

func describe(kind Kind, text []byte) string {
	if kind == Null {
		return "null"
	}
	return Value{Kind: kind, text: text}.Describe()
}

func bad(p ...*format.Problem) error { return &BadFeature{Problems: p} }

// featureMember reads the value of one member of a feature, or of the
// top-level object.
func (d *Decoder) featureMember(r *rawFeature, name []byte) error {
	switch string(name) {
	case "type":
		return d.typeMember(&r.kind, &r.hasType, &r.problem)
	case "geometry":
		if r.hasGeometry {
			r.blame(twice(d.s, "geometry"))
		}
		r.hasGeometry = true
		var err error
		r.geometry, err = d.geometry(1)
		return err
	case "properties":
		if r.hasProperties {
			r.blame(twice(d.s, "properties"))
		}
		r.hasProperties = true
		return d.properties(r)
	case "id":
		return d.idMember(r)
	case "crs":
		return d.crsMember()
	case "coordinates", "geometries":
		return d.geometryMember(&r.bare, name, 1)
	}
	_, _, err := d.s.value(nil, false, 1)
	return err
}

// idMember reads the id of a feature.
func (d *Decoder) idMember(r *rawFeature) error {
	if r.hasID {
		r.blame(twice(d.s, "id"))
	}
	r.hasID = true
	line := d.s.line
	v, err := d.property()
	if err != nil {
		return err
	}
	r.id = v
	if v.Kind == Bool || v.Kind == JSON {
		r.blame(&format.Problem{Feature: d.s.feature, Line: line, Field: "id", What: "an id is a text or a number (RFC 7946 section 3.2)",
			Found: describe(v.Kind, d.arena[v.start:v.end]), Wanted: "a text or a number"})
	}
	return nil
}

// property reads a value into the arena.
func (d *Decoder) property() (Value, error) {
	v := Value{start: len(d.arena)}
	var err error
	v.Kind, d.arena, err = d.s.value(d.arena, true, 1)
	v.end = len(d.arena)
	return v, err
}

// properties reads the value of "properties".
func (d *Decoder) properties(r *rawFeature) error {
	s := d.s
	if s.next() != '{' {
		line := s.line
		v, err := d.property()
		if err == nil && v.Kind != Null {
			r.blame(&format.Problem{Feature: s.feature, Line: line, Field: "properties", What: "not properties",
				Found: describe(v.Kind, d.arena[v.start:v.end]), Wanted: "an object, or null"})
		}
		return err
	}
	s.pos++
	for i := 0; ; i++ {
		more, err := s.more(i, '}')
		if err != nil || !more {
			return err
		}
		raw, err := d.name()
		if err != nil {
			return err
		}
		name, line := d.propertyName(r, raw), s.line
		v, err := d.property()
		if err != nil {
			return withField(err, name)
		}
		d.addProperty(r, name, v, line)
	}
}

// propertyName gives the name as a string; mostly it is the one that stood in
// this place in the feature before.
func (d *Decoder) propertyName(r *rawFeature, raw []byte) string {
	if i := len(r.props); i < cap(r.props) {
		if before := r.props[:i+1][i].Name; before == string(raw) {
			return before
		}
	}
	return d.intern(raw)
}

// withField names the property in a problem of its value.
func withField(err error, name string) error {
	if p, ok := err.(*format.Problem); ok && p.Field == "" {
		p.Field = "property " + name
	}
	return err
}

// addProperty takes up a property, checking its text and that its name is new.
func (d *Decoder) addProperty(r *rawFeature, name string, v Value, line int) {
	text := d.arena[v.start:v.end]
	if v.Kind == Text || v.Kind == JSON {
		if what := badText(text); what != "" {
			r.blame(&format.Problem{Feature: d.s.feature, Line: line, Field: "property " + name, What: what,
				Found: format.Quote(strings.ToValidUTF8(string(text), "�")), Wanted: "UTF-8: save the file again in that encoding"})
		}
	}
	for i := range r.props {
		if r.props[i].Name != name {
			continue
		}
		old := r.props[i].Value
		if old.Kind == v.Kind && string(d.arena[old.start:old.end]) == string(text) {
			d.note("property "+name, "the same name twice with the same value; one taken")
			return
		}
		r.blame(&format.Problem{Feature: d.s.feature, Line: line, Field: "property " + name, What: "the same name twice with different values",
			Found: describe(old.Kind, d.arena[old.start:old.end]) + " and " + describe(v.Kind, text), Wanted: "each name once"})
		return
	}
	if len(r.props) >= maxProperties {
		r.blame(&format.Problem{Feature: d.s.feature, Line: line, Field: "properties", What: "too many properties", Wanted: fmt.Sprintf("at most %d", maxProperties)})
		return
	}
	r.props = append(r.props, Property{Name: name, Value: v})
}

// maxProperties is the most properties of one feature.
const maxProperties = 1000

// badText says why a text cannot be kept, "" if it can.
func badText(text []byte) string {
	ascii := true
	for _, c := range text {
		if c >= 0x80 {
			ascii = false
		} else if c == 0 {
			return "a text with a NUL character"
		}
	}
	if !ascii && !utf8.Valid(text) {
		return "a text that is not UTF-8 (Latin-1 or Windows-1252, perhaps)"
	}
	return ""
}

// finish makes a feature of what was read, and checks it.
func (d *Decoder) finish(r *rawFeature) (*Feature, error) {
	s := d.s
	problem := r.problem
	if problem == nil {
		problem = d.shapeOfFeature(r)
	}
	f := &d.out
	*f = Feature{Index: s.feature, Line: r.line, CopyOf: format.None, Properties: r.props}
	for i := range f.Properties {
		p := &f.Properties[i].Value
		p.text = d.arena[p.start:p.end]
	}
	if r.hasID && problem == nil {
		f.ID = r.id
		f.ID.text = d.arena[r.id.start:r.id.end]
	}
	if problem == nil {
		problem = r.geometry.problem
	}
	if problem == nil {
		f.Geometry, problem = d.place(&r.geometry)
		f.Numbers = r.geometry.most
	}
	if problem == nil && f.ID.Kind != Null {
		problem = d.checkID(f)
	}
	if problem != nil {
		if problem.Line == 0 {
			problem.Line = r.line
		}
		return nil, bad(problem)
	}
	return f, nil
}

// shapeOfFeature checks that the object is a Feature as RFC 7946 section 3.2
// has it.
func (d *Decoder) shapeOfFeature(r *rawFeature) *format.Problem {
	s := d.s
	switch {
	case r.kind != "Feature":
		p := &format.Problem{Feature: s.feature, Line: r.line, Field: "type", What: "not a feature", Found: format.Quote(r.kind), Wanted: `"Feature"`}
		if !r.hasType {
			p.Found = "no member of this name"
		}
		return p
	case r.bare.hasCoords || r.bare.hasParts:
		return &format.Problem{Feature: s.feature, Line: r.line, Field: "coordinates",
			What: "a feature has no coordinates or geometries of its own (RFC 7946 section 7.1)", Wanted: "them inside its geometry"}
	}
	if !r.hasGeometry {
		d.note("geometry", "missing; read as null")
	}
	if !r.hasProperties {
		d.note("properties", "missing; read as null")
	}
	return nil
}

// place brings a geometry to longitude and latitude and checks it.
func (d *Decoder) place(g *parsed) (orb.Geometry, *format.Problem) {
	s := d.s
	if g.geometry == nil {
		if !g.null && g.line > 0 {
			d.note("geometry", "no positions; read as null")
		}
		return nil, nil
	}
	switch {
	case g.most > 3:
		d.note("coordinates", "positions with more than three numbers; all after the first two are left out")
	case g.most == 3:
		d.note("coordinates", "heights are left out")
	}
	c := checker{d: d, feature: s.feature, line: g.line}
	return c.geometry(g.geometry)
}
