package shp

import (
	"archive/zip"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// prjWGS84 is the description of the coordinate system of every written file.
const prjWGS84 = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`

// WriteZip writes a layer as the files of a shapefile: .shp, .shx, .dbf, .prj and
// .cpg, and a key of titles where columns have any. made is the day written into
// the files. All is checked before the first byte; notices tell which texts were
// cut to fit. Errors are *format.Problem or *Bad.
func WriteZip(w io.Writer, l *Layer, made time.Time) ([]format.Notice, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	shp, shx, err := l.shapes()
	if err != nil {
		return nil, err
	}
	var notices format.Notices
	dbf, err := l.table(made, &notices)
	if err != nil {
		return nil, err
	}
	z := zip.NewWriter(w)
	files := []struct {
		suffix string
		b      []byte
	}{{".shp", shp}, {".shx", shx}, {".dbf", dbf}, {".prj", []byte(prjWGS84)}, {".cpg", []byte("UTF-8")}, {"_fields.csv", l.key()}}
	for _, f := range files {
		if f.b == nil {
			continue
		}
		to, err := z.CreateHeader(&zip.FileHeader{Name: l.Name + f.suffix, Method: zip.Deflate, Modified: made})
		if err == nil {
			_, err = to.Write(f.b)
		}
		if err != nil {
			return nil, fmt.Errorf("write %s%s: %w", l.Name, f.suffix, err)
		}
	}
	if err := z.Close(); err != nil {
		return nil, fmt.Errorf("end the zip: %w", err)
	}
	return notices.List(), nil
}

// check refuses layers that no file can hold.
func (l *Layer) check() error {
	switch {
	case l.Name == "" || !safe(l.Name):
		return problem("", "not a name for a file", format.Quote(l.Name), "letters, digits, - and _")
	case l.Kind != Points && l.Kind != Lines && l.Kind != Polygons && l.Kind != MultiPoints:
		return problem(l.Name, "not a kind of shapes", l.Kind.String(), "points, lines or polygons")
	case len(l.Columns) == 0:
		return problem(l.Name, "no columns", "", "at least one: many readers refuse a table without")
	case len(l.Columns) > 255:
		return problem(l.Name, "too many columns", fmt.Sprint(len(l.Columns)), "at most 255")
	}
	seen := map[string]bool{}
	for _, c := range l.Columns {
		switch {
		case !sound(c.Name):
			return &format.Problem{File: l.Name, Feature: format.None, Field: c.Name, What: "not a field name", Found: format.Quote(c.Name), Wanted: "1 to 10 letters, digits and underscores of ASCII, a letter first (Names makes them)"}
		case seen[lower(c.Name)]:
			return &format.Problem{File: l.Name, Feature: format.None, Field: c.Name, What: "two columns of one name", Wanted: "names that differ, capitals or not"}
		case len(c.Numbers) != len(l.Shapes) && len(c.Texts) != len(l.Shapes) || c.Numbers != nil && c.Texts != nil:
			return &format.Problem{File: l.Name, Feature: format.None, Field: c.Name, What: "a column must have one value for each shape", Found: fmt.Sprintf("%d numbers, %d texts", len(c.Numbers), len(c.Texts)), Wanted: fmt.Sprintf("%d of one kind", len(l.Shapes))}
		}
		seen[lower(c.Name)] = true
	}
	return nil
}

func safe(name string) bool {
	for _, r := range name {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_') {
			return false
		}
	}
	return len(name) <= 100
}

func lower(s string) string {
	b := []byte(s)
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			b[i] = c + 32
		}
	}
	return string(b)
}

// box gathers bounds.
type box struct{ x0, y0, x1, y1 float64 }

func newBox() box { return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)} }

func (b *box) add(p orb.Point) {
	b.x0, b.y0, b.x1, b.y1 = min(b.x0, p[0]), min(b.y0, p[1]), max(b.x1, p[0]), max(b.y1, p[1])
}

func (b *box) bytes(to []byte) []byte {
	if b.x0 > b.x1 {
		return append(to, make([]byte, 32)...)
	}
	return doubles(to, b.x0, b.y0, b.x1, b.y1)
}

func doubles(to []byte, v ...float64) []byte {
	for _, x := range v {
		to = binary.LittleEndian.AppendUint64(to, math.Float64bits(x))
	}
	return to
}

const headLen = 100

// shapes makes the .shp and .shx.
func (l *Layer) shapes() (shp, shx []byte, err error) {
	shp, shx = make([]byte, headLen), make([]byte, headLen)
	all, bad := newBox(), &Bad{}
	for i, g := range l.Shapes {
		rec, err := l.record(g, &all)
		if err != nil {
			if bad.add(&format.Problem{File: l.Name, Feature: i, What: err.Error(), Found: describe(g), Wanted: l.Kind.String() + " in degrees"}) {
				break
			}
			continue
		}
		if len(shp) > math.MaxInt32-len(rec) {
			return nil, nil, problem(l.Name, "too large for a shapefile", "more than 2 GB", "fewer shapes in a file")
		}
		shx = binary.BigEndian.AppendUint32(shx, uint32(len(shp)/2))
		shx = binary.BigEndian.AppendUint32(shx, uint32(len(rec)/2))
		shp = binary.BigEndian.AppendUint32(shp, uint32(i+1))
		shp = binary.BigEndian.AppendUint32(shp, uint32(len(rec)/2))
		shp = append(shp, rec...)
	}
	for _, b := range [][]byte{shp, shx} {
		binary.BigEndian.PutUint32(b, 9994)
		binary.BigEndian.PutUint32(b[24:], uint32(len(b)/2))
		binary.LittleEndian.PutUint32(b[28:], 1000)
		binary.LittleEndian.PutUint32(b[32:], uint32(l.Kind))
		copy(b[36:68], all.bytes(nil))
	}
	return shp, shx, bad.err()
}

func describe(g orb.Geometry) string {
	if g == nil {
		return "nothing"
	}
	return "a " + g.GeoJSONType()
}

// record makes the content of one record.
func (l *Layer) record(g orb.Geometry, all *box) ([]byte, error) {
	if g == nil {
		return make([]byte, 4), nil // a null shape
	}
	if err := frame.EachPoint(g, frame.CheckLonLat); err != nil {
		return nil, err
	}
	var parts [][]orb.Point
	switch g := g.(type) {
	case orb.Point:
		if l.Kind == Points {
			all.add(g)
			return doubles(binary.LittleEndian.AppendUint32(nil, uint32(Points)), g[0], g[1]), nil
		}
		if l.Kind == MultiPoints {
			parts = [][]orb.Point{{g}}
		}
	case orb.MultiPoint:
		if l.Kind == MultiPoints {
			parts = [][]orb.Point{g}
		}
	case orb.LineString:
		if l.Kind == Lines {
			parts = [][]orb.Point{g}
		}
	case orb.MultiLineString:
		if l.Kind == Lines {
			for _, ls := range g {
				parts = append(parts, ls)
			}
		}
	case orb.Polygon:
		if l.Kind == Polygons {
			parts = rings(g)
		}
	case orb.MultiPolygon:
		if l.Kind == Polygons {
			for _, pg := range g {
				parts = append(parts, rings(pg)...)
			}
		}
	}
	if parts == nil {
		return nil, fmt.Errorf("the shape does not belong among %s, or is empty", l.Kind)
	}
	return l.partsOf(parts, all)
}

func (l *Layer) partsOf(parts [][]orb.Point, all *box) ([]byte, error) {
	own, n := newBox(), 0
	least := map[Kind]int{Lines: 2, Polygons: 4, MultiPoints: 1}[l.Kind]
	for _, p := range parts {
		if len(p) < least {
			return nil, fmt.Errorf("a part has too few places: %d of at least %d", len(p), least)
		}
		for _, at := range p {
			own.add(at)
			all.add(at)
		}
		n += len(p)
	}
	b := own.bytes(binary.LittleEndian.AppendUint32(nil, uint32(l.Kind)))
	if l.Kind != MultiPoints {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(parts)))
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(n))
	first := 0
	for _, p := range parts {
		if l.Kind != MultiPoints {
			b = binary.LittleEndian.AppendUint32(b, uint32(first))
		}
		first += len(p)
	}
	for _, p := range parts {
		for _, at := range p {
			b = doubles(b, at[0], at[1])
		}
	}
	return b, nil
}

// rings gives the rings of a polygon closed, the outer clockwise, holes the
// other way: the opposite of GeoJSON.
func rings(pg orb.Polygon) (out [][]orb.Point) {
	for i, r := range pg {
		c := append([]orb.Point(nil), r...)
		if len(c) > 0 && c[0] != c[len(c)-1] {
			c = append(c, c[0])
		}
		if a := area(c); i == 0 && a > 0 || i > 0 && a < 0 {
			for k, m := 0, len(c)-1; k < m; k, m = k+1, m-1 {
				c[k], c[m] = c[m], c[k]
			}
		}
		out = append(out, c)
	}
	return out
}

// area is the area of a closed ring in its own units squared, above 0 where it
// runs counter-clockwise.
func area(r []orb.Point) float64 {
	var sum float64
	for i := 1; i < len(r); i++ {
		p, q := r[i-1], r[i]
		sum += (p[0]-r[0][0])*(q[1]-r[0][1]) - (q[0]-r[0][0])*(p[1]-r[0][1])
	}
	return sum / 2
}
