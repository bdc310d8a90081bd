package shp

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// reader reads one shapefile.
type reader struct {
	f       Files
	layer   *Layer
	crs     frame.CRS
	notices format.Notices
	bad     Bad
}

// Read reads one shapefile. Heights and measures are left out with a notice, as
// are records marked as deleted; a missing table or index is no error. All
// records with a fault come together in one *Bad.
func Read(f Files, o Options) (*Layer, []format.Notice, error) {
	r := &reader{f: f, layer: &Layer{Name: f.Name}}
	if err := r.read(o); err != nil {
		return nil, r.notices.List(), err
	}
	return r.layer, r.notices.List(), nil
}

func (r *reader) read(o Options) error {
	if err := r.system(o.CRS); err != nil {
		return err
	}
	t, err := r.table(o.Encoding)
	if err != nil {
		return err
	}
	if err := r.shapes(); err != nil {
		return err
	}
	if err := r.bad.err(); err != nil {
		return err
	}
	return r.join(t)
}

func (r *reader) note(field, text string, feature int) {
	r.notices.Add(r.f.Name, field, feature, 0, text)
}

// join puts the table beside the shapes.
func (r *reader) join(t *table) error {
	if t == nil {
		r.note("", "the .dbf is missing: shapes without values", format.None)
		return nil
	}
	if t.rows != len(r.layer.Shapes) {
		return problem(r.f.Name+".dbf", "the table and the shapes differ in number", fmt.Sprintf("%d rows, %d shapes", t.rows, len(r.layer.Shapes)), "files that belong together")
	}
	kept := 0
	for i, g := range r.layer.Shapes {
		if t.deleted[i] {
			r.note("", "marked as deleted, left out", i)
			continue
		}
		r.layer.Shapes[kept] = g
		for k := range t.columns {
			t.columns[k].move(kept, i)
		}
		kept++
	}
	r.layer.Shapes = r.layer.Shapes[:kept]
	for k := range t.columns {
		t.columns[k].cut(kept)
	}
	r.layer.Columns = t.columns
	return nil
}

func (c *Column) move(to, from int) {
	if c.Numbers != nil {
		c.Numbers[to] = c.Numbers[from]
	} else {
		c.Texts[to] = c.Texts[from]
	}
}

func (c *Column) cut(n int) {
	if c.Numbers != nil {
		c.Numbers = c.Numbers[:n]
	} else {
		c.Texts = c.Texts[:n]
	}
}

var errCut = errors.New("the file ends in the middle of a shape")

// shapes reads the .shp.
func (r *reader) shapes() error {
	b, name := r.f.SHP, r.f.Name+".shp"
	if len(b) < headLen || binary.BigEndian.Uint32(b) != 9994 {
		return problem(name, "not a shapefile", fmt.Sprintf("%d bytes", len(b)), "a file that begins with the code 9994")
	}
	kind := binary.LittleEndian.Uint32(b[32:])
	switch k := Kind(kind % 10); {
	case kind < 30 && (k == Points || k == Lines || k == Polygons || k == MultiPoints):
		r.layer.Kind = k
	case kind == 0:
		r.layer.Kind = Points
	default:
		return problem(name, "a kind of shapes that is not read", fmt.Sprintf("type %d", kind), "points, lines or polygons")
	}
	offsets, err := r.index()
	if err != nil {
		return err
	}
	at := headLen
	for i := 0; offsets != nil && i < len(offsets) || offsets == nil && at < len(b); i++ {
		if offsets != nil {
			at = offsets[i]
		}
		rec, err := content(b, at)
		if err != nil {
			return &format.Problem{File: name, Feature: i, What: err.Error(), Found: fmt.Sprintf("%d bytes", len(b)), Wanted: "the whole file"}
		}
		at += 8 + len(rec)
		g, err := r.shape(rec, i)
		if err != nil && r.bad.add(&format.Problem{File: name, Feature: i, What: err.Error(), Found: fmt.Sprintf("%d bytes", len(rec)), Wanted: "a whole shape of the kind of the file"}) {
			return nil
		}
		r.layer.Shapes = append(r.layer.Shapes, g)
	}
	return nil
}

// index reads where the records begin, nil where there is no .shx.
func (r *reader) index() ([]int, error) {
	b := r.f.SHX
	if b == nil {
		r.note("", "the .shx is missing: shapes read one after the other", format.None)
		return nil, nil
	}
	if len(b) < headLen || binary.BigEndian.Uint32(b) != 9994 || (len(b)-headLen)%8 != 0 {
		return nil, problem(r.f.Name+".shx", "not an index of shapes", fmt.Sprintf("%d bytes", len(b)), "the .shx that belongs to the .shp, or none")
	}
	out := make([]int, 0, (len(b)-headLen)/8)
	for b = b[headLen:]; len(b) > 0; b = b[8:] {
		out = append(out, 2*int(binary.BigEndian.Uint32(b)))
	}
	return out, nil
}

// content gives the content of the record at an offset.
func content(b []byte, at int) ([]byte, error) {
	if at < headLen || at > len(b)-12 {
		return nil, errCut
	}
	n := 2 * int(binary.BigEndian.Uint32(b[at+4:]))
	if n < 4 || n > len(b)-at-8 {
		return nil, errCut
	}
	return b[at+8:][:n], nil
}

// shape reads one record; nil is a null shape.
func (r *reader) shape(rec []byte, i int) (orb.Geometry, error) {
	kind := binary.LittleEndian.Uint32(rec)
	if kind == 0 {
		r.note("", "no place", i)
		return nil, nil
	}
	if kind > 28 || Kind(kind%10) != r.layer.Kind {
		return nil, fmt.Errorf("a shape of type %d among %s", kind, r.layer.Kind)
	}
	switch kind / 10 {
	case 1:
		r.note("", "heights are left out", i)
	case 2:
		r.note("", "measures are left out", i)
	}
	if r.layer.Kind == Points {
		p, err := r.places(rec[4:], 1)
		if err != nil {
			return nil, err
		}
		return p[0], nil
	}
	parts, err := r.parts(rec)
	if err != nil {
		return nil, err
	}
	switch r.layer.Kind {
	case MultiPoints:
		return orb.MultiPoint(parts[0]), nil
	case Lines:
		if len(parts) == 1 {
			return orb.LineString(parts[0]), nil
		}
		var out orb.MultiLineString
		for _, p := range parts {
			out = append(out, p)
		}
		return out, nil
	}
	return r.polygons(parts, i)
}

// places reads n positions and brings them to longitude and latitude.
func (r *reader) places(b []byte, n int) ([]orb.Point, error) {
	if n < 1 || n > len(b)/16 {
		return nil, errCut
	}
	out := make([]orb.Point, n)
	for i := range out {
		x := math.Float64frombits(binary.LittleEndian.Uint64(b[16*i:]))
		y := math.Float64frombits(binary.LittleEndian.Uint64(b[16*i+8:]))
		p, err := r.crs.ToWGS84(x, y)
		if err != nil {
			return nil, err
		}
		out[i] = p
	}
	return out, nil
}

// parts reads the parts of a line, polygon or group of points. Heights and
// measures, if any, follow them and are not looked at.
func (r *reader) parts(rec []byte) ([][]orb.Point, error) {
	multi := r.layer.Kind == MultiPoints
	head := 44
	if multi {
		head = 40
	}
	if len(rec) < head {
		return nil, errCut
	}
	parts, n := 1, int(binary.LittleEndian.Uint32(rec[head-4:]))
	if !multi {
		parts = int(binary.LittleEndian.Uint32(rec[36:]))
		if parts < 1 || parts > (len(rec)-head)/4 {
			return nil, errCut
		}
	}
	starts := rec[head:]
	points := starts
	if !multi {
		points = starts[4*parts:]
	}
	all, err := r.places(points, n)
	if err != nil || multi {
		return [][]orb.Point{all}, err
	}
	out := make([][]orb.Point, parts)
	for i := range out {
		from, to := int(binary.LittleEndian.Uint32(starts[4*i:])), n
		if i+1 < parts {
			to = int(binary.LittleEndian.Uint32(starts[4*i+4:]))
		}
		if from >= to || to > n || i == 0 && from != 0 {
			return nil, fmt.Errorf("the parts of the shape are in disorder")
		}
		if out[i] = all[from:to]; len(out[i]) < 2 {
			return nil, fmt.Errorf("a part of one place")
		}
	}
	return out, nil
}
