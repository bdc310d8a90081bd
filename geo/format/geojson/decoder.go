// Package geojson reads and writes GeoJSON (RFC 7946, IETF, 2016) as a stream:
// one feature at a time, in bounded memory, however long the file.
//
// The reader is strict about what would put a vine in the wrong place and says
// for every refusal which feature, line and member it means, what stands there
// and what is wanted. It mends only what can be mended without a guess (an
// unclosed ring, a ring wound the other way, a ring that repeats a position),
// and says so in a notice. Beside a FeatureCollection it reads a single Feature
// or geometry, one feature a line, the text sequences of RFC 8142, and any of
// them packed with gzip.
package geojson

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// Options bound what the reader takes. Zero fields mean the defaults.
type Options struct {
	MaxBytes     int64  // of the unpacked file; 4 GB
	MaxRatio     int    // unpacked to packed bytes of a gzip file; 100
	MaxDepth     int    // nesting of properties and foreign members; 64
	MaxPositions int    // of one feature; 2,000,000
	CRS          string // coordinate system of the file as the user states it, such as "EPSG:32632"; "" the file's own, else longitude and latitude
}

func (o Options) withDefaults() Options {
	if o.MaxDepth <= 0 {
		o.MaxDepth = 64
	}
	if o.MaxPositions <= 0 {
		o.MaxPositions = 2_000_000
	}
	return o
}

// Feature is one feature of the file. Its properties and id are good until the
// next call of Next; its geometry may be kept.
type Feature struct {
	Index      int          // from 0
	Line       int          // where it begins, from 1
	ID         Value        // Text or Number; Null where it has none
	Geometry   orb.Geometry // longitude, latitude (WGS 84); rings closed and wound as RFC 7946 wants; nil: no place
	Properties []Property   // in the order written
	Numbers    int          // most numbers in one position: 3 with heights
	CopyOf     int          // an earlier feature that this one repeats in every part, or format.None
}

// Get gives a property by its name.
func (f *Feature) Get(name string) (Value, bool) {
	for _, p := range f.Properties {
		if p.Name == name {
			return p.Value, true
		}
	}
	return Value{}, false
}

// BadFeature says that one feature cannot be taken as it is; the features after
// it can still be read.
type BadFeature struct{ Problems []*format.Problem }

// Error gives the first problem.
func (b *BadFeature) Error() string { return b.Problems[0].Error() }

// Unwrap gives all problems.
func (b *BadFeature) Unwrap() []error {
	out := make([]error, len(b.Problems))
	for i, p := range b.Problems {
		out[i] = p
	}
	return out
}

// Decoder reads one stream.
type Decoder struct {
	s       *scanner
	o       Options
	coords  coords
	names   map[string]string
	nameBuf []byte
	arena   []byte // texts of the feature being read
	out     Feature
	raw     rawFeature // of the feature, or top-level object, being read
	top     rawFeature // the top-level object while its features are read
	spare   rawFeature // buffers of raw while top has its place
	topItem int
	ids     map[uint64]seenID
	system  *frame.CRS // nil: longitude and latitude
	stated  bool       // system was stated by the user
	notices format.Notices

	state state
	item  int // of the member or feature being read
	seq   int // top-level values begun
	count int // features begun
	err   error
}

type state uint8

const (
	between  state = iota // before or after a top-level value
	inObject              // among the members of the top-level object
	inArray               // among the features of the collection
)

// NewDecoder begins to read r. It is an error when the stream cannot be read,
// is in an encoding other than UTF-8, or when a stated coordinate system is not
// known.
func NewDecoder(r io.Reader, o Options) (*Decoder, error) {
	o = o.withDefaults()
	in, err := open(r, o)
	if err != nil {
		return nil, err
	}
	d := &Decoder{s: newScanner(in, o.MaxDepth), o: o, names: map[string]string{}}
	d.coords.positions = o.MaxPositions
	if o.CRS != "" {
		if err := d.stateCRS(o.CRS); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// open unpacks the stream, skips a byte order mark and refuses UTF-16.
func open(r io.Reader, o Options) (io.Reader, error) {
	b, err := format.Unpack(r, format.Limits{MaxBytes: o.MaxBytes, MaxRatio: o.MaxRatio})
	if err != nil {
		return nil, err
	}
	head, _ := b.Peek(3) // what is wrong with the stream shows again in reading
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		_, err = b.Discard(3)
		return b, err
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff}) || len(head) >= 2 && (head[0] == 0) != (head[1] == 0):
		return nil, &format.Problem{Feature: format.None, What: "the file is written in UTF-16", Wanted: "UTF-8 (RFC 8259 section 8.1): save it again in that encoding"}
	}
	return b, nil
}

// Notices gives what was mended or passed over so far.
func (d *Decoder) Notices() []format.Notice { return d.notices.List() }

func (d *Decoder) note(field, text string) {
	d.notices.Add("", field, d.s.feature, d.s.line, text)
}

// Next gives the next feature, io.EOF after the last. A *BadFeature is about
// one feature only: call Next again to go on. Every other error is final.
func (d *Decoder) Next() (*Feature, error) {
	if d.err != nil {
		return nil, d.err
	}
	f, err := d.step()
	if err != nil && !isBadFeature(err) {
		d.err = err
	}
	return f, err
}

func isBadFeature(err error) bool {
	var bad *BadFeature
	return errors.As(err, &bad)
}

// step reads on until a feature is complete.
func (d *Decoder) step() (*Feature, error) {
	for {
		var f *Feature
		var done bool
		var err error
		switch d.state {
		case between:
			err = d.begin()
		case inObject:
			f, done, err = d.member()
		case inArray:
			f, done, err = d.arrayItem()
		}
		if done || err != nil {
			return f, err
		}
	}
}

// recordSeparator begins every text of an RFC 8142 sequence.
const recordSeparator = 0x1e

// begin steps to the next top-level value.
func (d *Decoder) begin() error {
	s := d.s
	s.feature = format.None
	c := s.next()
	for c == recordSeparator {
		s.pos++
		c = s.next()
	}
	switch {
	case c == 0 && s.atEnd():
		return d.end()
	case c == '[':
		return s.fault("an array is not GeoJSON", `one object, such as {"type": "FeatureCollection", "features": […]}`)
	case c != '{':
		return s.fault("not JSON", `GeoJSON, which begins with {`)
	}
	s.pos++
	d.seq++
	if d.seq == 2 {
		d.notices.Merge(format.Notice{Count: 1, Text: "several JSON texts in one file, as in one feature a line; RFC 7946 has one FeatureCollection"})
	}
	d.state, d.item = inObject, 0
	d.raw.reset()
	d.arena = d.arena[:0]
	d.raw.line = s.line
	return nil
}

func (d *Decoder) end() error {
	if !errors.Is(d.s.readErr, io.EOF) {
		return d.s.streamFault()
	}
	if d.seq == 0 {
		return &format.Problem{Feature: format.None, What: "the file is empty", Wanted: "GeoJSON"}
	}
	return io.EOF
}

// member reads one member of the top-level object, or its end.
func (d *Decoder) member() (*Feature, bool, error) {
	s := d.s
	more, err := s.more(d.item, '}')
	if err != nil {
		return nil, false, err
	}
	d.item++
	if !more {
		d.state = between
		if d.raw.collection {
			return nil, false, d.endCollection()
		}
		f, err := d.topFeature()
		return f, true, err
	}
	name, err := d.name()
	if err != nil {
		return nil, false, err
	}
	if string(name) == "features" {
		return nil, false, d.beginFeatures()
	}
	return nil, false, d.featureMember(&d.raw, name)
}

func (d *Decoder) beginFeatures() error {
	if d.raw.collection {
		return twice(d.s, "features")
	}
	if d.raw.hasType && d.raw.kind != "FeatureCollection" {
		return d.wrongTop()
	}
	if err := d.s.expect('[', "an array of features"); err != nil {
		return err
	}
	d.raw.collection = true
	d.top, d.raw = d.raw, d.spare
	d.topItem, d.item = d.item, 0
	d.state = inArray
	return nil
}

// arrayItem reads one feature of the collection, or the end of the array.
func (d *Decoder) arrayItem() (*Feature, bool, error) {
	s := d.s
	s.feature = d.count
	more, err := s.more(d.item, ']')
	if err != nil {
		return nil, false, err
	}
	d.item++
	if !more {
		s.feature = format.None
		d.spare, d.raw = d.raw, d.top
		d.item, d.state = d.topItem, inObject
		return nil, false, nil
	}
	d.count++
	f, err := d.feature()
	return f, true, err
}

// endCollection checks the collection's own members once all are read.
func (d *Decoder) endCollection() error {
	if d.raw.kind != "FeatureCollection" {
		return d.wrongTop()
	}
	if d.raw.bare.hasCoords || d.raw.bare.hasParts || d.raw.hasGeometry || d.raw.hasProperties {
		return &format.Problem{Feature: format.None, Line: d.raw.line,
			What: "a FeatureCollection has no coordinates, geometries, geometry or properties of its own (RFC 7946 section 7.1)", Wanted: "them inside its features"}
	}
	if d.raw.problem != nil {
		return d.raw.problem
	}
	return nil
}

// wrongTop says that the file is some other JSON.
func (d *Decoder) wrongTop() error {
	p := &format.Problem{Feature: format.None, Line: d.raw.line, Field: "type", What: "not GeoJSON", Found: format.Quote(d.raw.kind),
		Wanted: "FeatureCollection, Feature or a geometry type"}
	switch {
	case d.raw.kind == "Topology":
		p.What = "TopoJSON, not GeoJSON"
		p.Wanted = "the file converted to GeoJSON (RFC 7946)"
	case !d.raw.hasType:
		p.Found = "no member of this name"
		p.Wanted = `"FeatureCollection", "Feature" or a geometry type; another dialect of JSON must be converted to GeoJSON (RFC 7946) first`
	case strings.EqualFold(d.raw.kind, "FeatureCollection"):
		p.Wanted = `"FeatureCollection", with these capitals (RFC 7946 section 1.4)`
	}
	return p
}

// topFeature makes a feature of a top-level Feature or geometry.
func (d *Decoder) topFeature() (*Feature, error) {
	r := &d.raw
	if _, shape := heightOf(r.kind); shape || r.kind == "GeometryCollection" {
		d.s.feature = d.count
		d.count++
		r.bare.kind, r.bare.hasType, r.bare.out.line = r.kind, true, r.line
		r.geometry, r.hasGeometry, r.hasProperties = r.bare.finish(d), true, true
		r.bare = members{}
		r.kind = "Feature"
		d.note("", "a geometry without a feature around it; read as one feature without properties")
		return d.finish(r)
	}
	if r.kind != "Feature" {
		return nil, d.wrongTop()
	}
	d.s.feature = d.count
	d.count++
	return d.finish(r)
}

// intern gives the text as a string, the same string for the same text.
func (d *Decoder) intern(text []byte) string {
	if known, ok := d.names[string(text)]; ok {
		return known
	}
	name := string(text)
	if len(d.names) < 10_000 {
		d.names[name] = name
	}
	return name
}

// ReadAll reads all features of a small file. It stops at the first error.
func ReadAll(r io.Reader, o Options) ([]Feature, []format.Notice, error) {
	d, err := NewDecoder(r, o)
	if err != nil {
		return nil, nil, err
	}
	var out []Feature
	for {
		f, err := d.Next()
		if errors.Is(err, io.EOF) {
			return out, d.Notices(), nil
		}
		if err != nil {
			return nil, d.Notices(), fmt.Errorf("read GeoJSON: %w", err)
		}
		out = append(out, f.clone())
	}
}

// clone copies what the next call of Next would overwrite.
func (f *Feature) clone() Feature {
	c := *f
	c.ID.text = append([]byte(nil), f.ID.text...)
	c.Properties = append([]Property(nil), f.Properties...)
	for i := range c.Properties {
		c.Properties[i].text = append([]byte(nil), c.Properties[i].text...)
	}
	return c
}
