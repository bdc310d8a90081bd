package shp

import (
	"archive/zip"
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// Scratch gives room that a writer may use until it is closed, empty and at its
// beginning. What cannot be written before everything is known waits there.
type Scratch func() (io.ReadWriteSeeker, error)

// Extra is a further file of the zip.
type Extra struct {
	Name string
	Body []byte
}

// StreamWriter writes a layer of any size as a shapefile in a zip: .shp, .shx,
// .dbf, .prj, .cpg, NAME_fields.csv, which gives the full name, unit and meaning
// of each field, and README.txt, which says what a shapefile could not hold.
type StreamWriter struct {
	w       io.Writer
	layer   *format.Layer
	shapes  *shapeSpool // nil: a table only
	cells   *cellSpool
	extra   []Extra
	made    time.Time
	notices format.Notices
	rows    int
}

// NewStreamWriter begins a shapefile, or only its table where the layer has no
// shapes. made is the day written into the files.
func NewStreamWriter(w io.Writer, l *format.Layer, scratch Scratch, made time.Time, extra ...Extra) (*StreamWriter, error) {
	if !safe(l.Name) || l.Name == "" {
		return nil, problem("", "not a name for a file", format.Quote(l.Name), "letters, digits, - and _")
	}
	s := &StreamWriter{w: w, layer: l, extra: extra, made: made}
	room, err := scratch()
	if err != nil {
		return nil, fmt.Errorf("room for the table: %w", err)
	}
	s.cells = newCellSpool(room, l, &s.notices)
	if kind, ok := map[format.Shape]Kind{format.PointShape: Points, format.LineShape: Lines, format.AreaShape: Polygons}[l.Shape]; ok {
		if room, err = scratch(); err != nil {
			return nil, fmt.Errorf("room for the shapes: %w", err)
		}
		s.shapes = &shapeSpool{layer: Layer{Name: l.Name, Kind: kind}, room: room, w: bufio.NewWriterSize(room, 1<<16), all: newBox(), size: headLen}
	}
	return s, nil
}

// Write adds a thing; one without a place becomes a record without a shape.
func (s *StreamWriter) Write(cells []format.Cell, g orb.Geometry) error {
	if err := s.layer.Check(cells, g); err != nil {
		return err
	}
	if s.rows == math.MaxInt32 {
		return problem(s.layer.Name, "too many records for a shapefile", "", "fewer blocks in a file")
	}
	if s.shapes != nil {
		if err := s.shapes.add(g, s.rows+1); err != nil {
			return err
		}
	}
	s.rows++
	return s.cells.add(cells)
}

// shapeSpool is the records of a .shp, waiting for its head.
type shapeSpool struct {
	layer Layer
	room  io.ReadWriteSeeker
	w     *bufio.Writer
	all   box
	size  int64
	index []byte // of the .shx
}

func (p *shapeSpool) add(g orb.Geometry, number int) error {
	rec, err := p.layer.record(g, &p.all)
	if err != nil {
		return &format.Problem{File: p.layer.Name, Feature: number - 1, What: err.Error(), Found: describe(g), Wanted: p.layer.Kind.String() + " in degrees"}
	}
	if p.size+int64(8+len(rec)) > math.MaxInt32 {
		return problem(p.layer.Name, "too large for a shapefile", "more than 2 GB", "fewer blocks in a file")
	}
	p.index = binary.BigEndian.AppendUint32(p.index, uint32(p.size/2))
	p.index = binary.BigEndian.AppendUint32(p.index, uint32(len(rec)/2))
	var head [8]byte
	binary.BigEndian.PutUint32(head[:], uint32(number))
	binary.BigEndian.PutUint32(head[4:], uint32(len(rec)/2))
	p.size += int64(8 + len(rec))
	if _, err := p.w.Write(head[:]); err != nil {
		return fmt.Errorf("keep a shape: %w", err)
	}
	if _, err := p.w.Write(rec); err != nil {
		return fmt.Errorf("keep a shape: %w", err)
	}
	return nil
}

// head is that of a .shp or .shx of so many bytes.
func (p *shapeSpool) head(size int64) []byte {
	b := make([]byte, headLen)
	binary.BigEndian.PutUint32(b, 9994)
	binary.BigEndian.PutUint32(b[24:], uint32(size/2))
	binary.LittleEndian.PutUint32(b[28:], 1000)
	binary.LittleEndian.PutUint32(b[32:], uint32(p.layer.Kind))
	copy(b[36:68], p.all.bytes(nil))
	return b
}

// Close writes the zip.
func (s *StreamWriter) Close() error {
	z := zip.NewWriter(s.w)
	add := func(name string, write func(io.Writer) error) error {
		to, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: s.made})
		if err == nil {
			err = write(to)
		}
		if err != nil {
			return fmt.Errorf("write %s: %w", name, err)
		}
		return nil
	}
	whole := func(b []byte) func(io.Writer) error {
		return func(w io.Writer) error { _, err := w.Write(b); return err }
	}
	type part struct {
		name  string
		write func(io.Writer) error
	}
	name := s.layer.Name
	var parts []part
	if p := s.shapes; p != nil {
		parts = append(parts, part{name + ".shp", func(w io.Writer) error { return p.copy(w) }},
			part{name + ".shx", whole(append(p.head(int64(headLen+len(p.index))), p.index...))})
	}
	parts = append(parts, part{name + ".dbf", func(w io.Writer) error { return s.cells.table(w, s.rows, s.made) }})
	if s.shapes != nil {
		parts = append(parts, part{name + ".prj", whole([]byte(prjWGS84))})
	}
	parts = append(parts, part{name + ".cpg", whole([]byte("UTF-8"))}, part{name + "_fields.csv", whole(s.cells.key())})
	for _, e := range s.extra {
		parts = append(parts, part{e.Name, whole(e.Body)})
	}
	// The table comes first: only then is known what did not fit.
	parts = append(parts, part{"README.txt", func(w io.Writer) error { return whole(s.readme())(w) }})
	for _, p := range parts {
		if err := add(p.name, p.write); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("end the zip: %w", err)
	}
	return nil
}

func (p *shapeSpool) copy(w io.Writer) error {
	if _, err := w.Write(p.head(p.size)); err != nil {
		return err
	}
	if err := p.w.Flush(); err != nil {
		return err
	}
	if _, err := p.room.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := io.Copy(w, p.room)
	return err
}

// Notices tells what the shapefile could not hold; whole after Close.
func (s *StreamWriter) Notices() []format.Notice { return s.notices.List() }

// readme is the words that go with the files.
func (s *StreamWriter) readme() []byte {
	text := s.layer.Title + "\r\n" + s.layer.What + "\r\n\r\n" +
		"Longitude and latitude on WGS 84 (EPSG:4326). Texts are in UTF-8.\r\n" +
		"A field name has at most ten characters; " + s.layer.Name + "_fields.csv gives the full names, units and meanings.\r\n" +
		"An empty text and one that is not known look alike in this format.\r\n"
	for _, n := range s.Notices() {
		text += n.String() + "\r\n"
	}
	return []byte(text)
}
