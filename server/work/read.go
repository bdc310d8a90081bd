package work

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb/encoding/wkt"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/format/xlsx"
	"courson/geo/vine"
)

// read takes up one file. What is wrong with its contents becomes problems; an
// error is a fault of the disk or a cancelled context.
func (in *intake) read(ctx context.Context, file int) error {
	f := in.job.Files[file]
	var err error
	if f.each != nil {
		err = in.readLayer(ctx, file)
	} else {
		err = in.readText(ctx, file)
	}
	var p *format.Problem
	if errors.As(err, &p) {
		q := *p
		q.File = f.Name
		in.fail(&q)
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	return nil
}

// readText takes up a file of GeoJSON or a table.
func (in *intake) readText(ctx context.Context, file int) error {
	f := in.job.Files[file]
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("open it: %w", err)
	}
	defer closeReader(r)
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	if _, err = r.Seek(0, io.SeekStart); err != nil {
		return err
	}
	src := &source{ReadSeeker: r, ctx: ctx, size: size, tell: in.tellProgress("read " + f.Name)}
	if f.form == FormTable || f.form == FormWorkbook || f.form == FormImage {
		return in.readTable(src, file)
	}
	return in.readFeatures(src, file, in.job.CRS)
}

func closeReader(r io.ReadSeeker) {
	if c, ok := r.(io.Closer); ok {
		c.Close() // it was only read
	}
}

func (in *intake) tellProgress(stage string) func(done, total int64) {
	return func(done, total int64) {
		if in.job.Progress != nil {
			in.job.Progress(stage, done, total)
		}
	}
}

// source is a file that stops when the context ends and tells how far it is.
type source struct {
	io.ReadSeeker
	ctx  context.Context
	done int64
	size int64
	told int64
	tell func(done, total int64)
}

func (s *source) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := s.ReadSeeker.Read(p)
	s.done += int64(n)
	if s.done-s.told >= 1<<20 || err != nil {
		s.told = s.done
		s.tell(min(s.done, s.size), s.size)
	}
	return n, err
}

func (s *source) Seek(offset int64, whence int) (int64, error) {
	s.done, s.told = 0, 0
	return s.ReadSeeker.Seek(offset, whence)
}

// readFeatures takes up a GeoJSON file.
func (in *intake) readFeatures(r *source, file int, crs string) error {
	mark := in.mark()
	err := in.decodeFeatures(r, file, crs)
	var late *geojson.LateCRSError
	if !errors.As(err, &late) || crs != "" {
		return err
	}
	// The coordinate system is named at the end of the file: read it again with it.
	in.reset(mark)
	in.cols[file] = nil
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return err
	}
	return in.decodeFeatures(r, file, fmt.Sprintf("EPSG:%d", late.EPSG))
}

// intakeMark is how far an intake was before a file.
type intakeMark struct {
	report              Report
	notices             format.Notices
	problems            int
	blocks, rows, vines int
	points              int
}

func (in *intake) mark() intakeMark {
	return intakeMark{report: *in.report, notices: in.notices.Clone(), problems: in.problems, blocks: len(in.blocks), rows: len(in.rows), vines: in.vines.len(), points: len(in.points)}
}

func (in *intake) reset(m intakeMark) {
	*in.report, in.notices, in.problems = m.report, m.notices, m.problems
	in.blocks, in.rows = in.blocks[:m.blocks], in.rows[:m.rows]
	in.vines.cut(m.vines)
	in.points = in.points[:m.points]
}

func (in *intake) decodeFeatures(r io.Reader, file int, crs string) error {
	rep := FileReport{Name: in.fileName(file), Form: string(in.job.Files[file].form)}
	d, err := geojson.NewDecoder(r, geojson.Options{MaxBytes: in.job.Limits.MaxBytes, MaxRatio: in.job.Limits.MaxRatio, CRS: crs})
	if err != nil {
		return err
	}
	it := &itemIn{}
	for {
		f, err := d.Next()
		if err == nil {
			rep.Read++
			if in.job.Files[file].each != nil {
				f.Line = 0 // of the text in between, which nobody sees
			}
			in.takeFeature(f, file, it)
			continue
		}
		var bad *geojson.BadFeature
		switch {
		case errors.Is(err, io.EOF):
			for _, n := range d.Notices() {
				n.File = rep.Name
				if in.job.Files[file].each != nil {
					n.Lines = nil
				}
				in.notices.Merge(n)
			}
			in.report.Files = append(in.report.Files, rep)
			return nil
		case errors.As(err, &bad):
			for _, p := range bad.Problems {
				p.File = rep.Name
				if in.job.Files[file].each != nil {
					p.Line = 0
				}
				in.fail(p)
			}
		default:
			return err
		}
	}
}

func (in *intake) takeFeature(f *geojson.Feature, file int, it *itemIn) {
	it.where = where{file: file, feature: f.Index, line: f.Line}
	it.geometry, it.cells = f.Geometry, it.cells[:0]
	if f.CopyOf != format.None {
		in.notice(it.where, "id", fmt.Sprintf("an exact copy of feature %d; taken once", f.CopyOf))
		return
	}
	if in.met[file] == nil {
		names := make([]string, 0, len(f.Properties))
		for _, p := range f.Properties {
			names = append(names, p.Name)
		}
		in.meet(file, names)
	}
	for i := range f.Properties {
		p := &f.Properties[i]
		c := cell{col: in.column(file, p.Name), kind: p.Kind, text: bytes.TrimSpace(p.Bytes()), value: p}
		if p.Kind == geojson.Text && len(c.text) == 0 {
			c.kind = geojson.Null
		}
		it.cells = append(it.cells, c)
	}
	in.take(it)
}

// readTable takes up a table.
func (in *intake) readTable(r *source, file int) error {
	form := in.job.Files[file].form
	rep := FileReport{Name: in.fileName(file), Form: string(form)}
	o := csv.Options{Limits: in.job.Limits, Decimal: in.job.Decimal, Delimiter: in.job.Delimiter, Encoding: in.job.Encoding}
	if form == FormWorkbook {
		o.Delimiter, o.Encoding = xlsx.Delimiter, csv.UTF8
	}
	s, err := csv.Take(r, o)
	if err != nil {
		return err
	}
	if in.job.Look {
		in.seen[file].table(s)
	}
	for _, n := range s.Notices() {
		n.File = rep.Name
		in.notices.Merge(n)
	}
	t := &tableReader{in: in, s: s, file: file, cols: make([]*colInfo, len(s.Columns))}
	t.prepare()
	rd, err := s.Read(r)
	if err != nil {
		return err
	}
	for {
		rec, err := rd.Next()
		if err == nil {
			rep.Read++
			t.take(rec)
			continue
		}
		var bad *csv.BadLine
		switch {
		case errors.Is(err, io.EOF):
			in.report.Files = append(in.report.Files, rep)
			return nil
		case errors.As(err, &bad):
			bad.Problem.File = rep.Name
			in.fail(bad.Problem)
		default:
			return err
		}
	}
}

// tableReader turns lines into items.
type tableReader struct {
	in   *intake
	s    *csv.Survey
	file int
	cols []*colInfo
	ours bool // an export of ours: texts are guarded
	it   itemIn
}

func (t *tableReader) prepare() {
	fields := map[csv.Field]string{}
	names := make([]string, 0, len(t.s.Columns))
	for _, c := range t.s.Columns {
		names = append(names, c.Name)
	}
	t.in.meet(t.file, names)
	for i, c := range t.s.Columns {
		if c.Name == "" {
			continue
		}
		info := t.in.column(t.file, c.Name)
		nf, df := t.s.Numbers(i), t.s.Dates(i)
		info.nf, info.df = &nf, &df
		t.cols[i] = info
		t.ours = t.ours || info.known && info.field == csv.CoursonID
		if info.known {
			at := where{file: t.file, feature: format.None, line: 1}
			if before, twice := fields[info.field]; twice {
				t.in.problem(at, c.Name, fmt.Sprintf("two columns for one thing: %q and %q", before, c.Name), "", "one of them")
			}
			fields[info.field] = c.Name
		}
	}
	t.askCanes(fields)
}

// askCanes refuses a column of canes that may be counted or prescribed: in a
// sheet of measures a plan's canes come with its nodes or spurs.
func (t *tableReader) askCanes(fields map[csv.Field]string) {
	name, ok := fields[csv.PlanCanes]
	if !ok || fields[csv.PlanNodes] != "" || fields[csv.PlanSpurs] != "" || strings.Contains(strings.ToLower(name), "plan") {
		return
	}
	measured := t.in.job.As == Measures
	for f := range fields {
		if _, is := f.Quantity(); is && f != csv.Measure(vine.VisualScore) {
			measured = true
		}
	}
	if measured && !t.ours {
		t.in.problem(where{file: t.file, feature: format.None, line: 1}, name, "canes may be those counted on the vine or those prescribed", format.Quote(name), "cane_count for canes counted, plan_canes for canes prescribed")
	}
}

// labels are the fields in which blanks around a value are a slip worth a
// notice, since they would keep a label from being found.
func labelField(f csv.Field) bool {
	return f == csv.Block || f == csv.Row || f == csv.Vine || f == csv.Tag
}

func (t *tableReader) take(rec *csv.Record) {
	it := &t.it
	it.where = where{file: t.file, feature: format.None, line: rec.Line}
	it.table, it.geometry, it.cells = true, nil, it.cells[:0]
	for i, col := range t.cols {
		if col == nil {
			continue
		}
		c := cell{col: col, kind: geojson.Text, text: bytes.TrimSpace(rec.Fields[i])}
		if col.known && labelField(col.field) && rec.Padded(i) {
			t.in.notice(it.where, col.name, "blanks around a label were left out")
		}
		if col.known && col.field == csv.Note && rec.Quoted[i] {
			c.text = rec.Fields[i]
		}
		switch string(c.text) {
		case "NA", "N/A", "n/a", "null", "NULL":
			t.in.notice(it.where, col.name, fmt.Sprintf("%s read as no value", c.text))
			c.text = nil
		}
		if t.ours && !col.wkt {
			c.text = []byte(csv.Unguard(string(c.text)))
		}
		if len(c.text) == 0 {
			c.kind = geojson.Null
		}
		if col.wkt && len(c.text) > 0 && !t.shape(&c) {
			return
		}
		it.cells = append(it.cells, c)
	}
	t.in.take(it)
}

// shape reads a geometry written as well-known text (OGC 06-103r4).
func (t *tableReader) shape(c *cell) bool {
	g, err := wkt.Unmarshal(string(c.text))
	if err == nil {
		var read []geojson.Feature
		// The rules for shapes are those of GeoJSON, so its reader checks them.
		text := append(append([]byte(`{"type":"Feature","properties":{},"geometry":`), geojson.AppendGeometry(nil, g)...), '}')
		read, _, err = geojson.ReadAll(bytes.NewReader(text), geojson.Options{CRS: t.in.job.CRS})
		if err == nil {
			t.it.geometry = read[0].Geometry
			return true
		}
	}
	var p *format.Problem
	what, wanted := "not well-known text", "such as LINESTRING (11.37 45.21, 11.38 45.22)"
	if errors.As(err, &p) {
		what, wanted = p.What, p.Wanted
	}
	t.in.bad(&t.it, c, what, wanted)
	return false
}
