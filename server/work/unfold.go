package work

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/gpx"
	"courson/geo/format/kml"
	"courson/geo/format/nmea"
	"courson/geo/format/shp"
	"courson/geo/format/xlsx"
	"courson/store/foreign"
)

// layer is one layer of a file, read as a file of its own.
type layer struct {
	form     FileForm
	system   string // coordinate system, for people; "" longitude and latitude
	textOnly bool   // the form has no numbers: a text that is one is no slip
	// each gives the features of forms that are neither GeoJSON nor tables.
	each func(ctx context.Context, notes *format.Notices, give func(format.Feature) error) error
	// Of an image: places of vines, for the look, and what is kept as a layer.
	places  []orb.Point
	picture func(season int, now time.Time) (*KeptImage, map[string][]byte, error)
}

// unfolding opens the files of a job and finds the layers in them.
type unfolding struct {
	ctx    context.Context
	st     reader
	job    *ImportJob
	in     *intake
	out    []File
	closes []func() error
}

// unfold begins an intake of a job's files, each layer of a file with several
// being a file of its own. What cannot be read becomes a problem; an error is a
// fault of the disk. done closes what was opened.
func unfold(ctx context.Context, st reader, job *ImportJob, report *Report) (in *intake, done func() error, err error) {
	u := &unfolding{ctx: ctx, st: st, job: job, in: newIntake(job, report)}
	done = func() (err error) {
		for _, c := range u.closes {
			err = errors.Join(err, c())
		}
		return err
	}
	for _, f := range gathered(job.Files) {
		if err := ctx.Err(); err != nil {
			return u.in, done, err
		}
		if err := u.file(f); err != nil {
			return u.in, done, fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	job.Files = u.out
	before := u.in
	in = newIntake(job, report)
	in.notices, in.problems = before.notices, before.problems
	return in, done, nil
}

// file adds the layers of one file.
func (u *unfolding) file(f File) error {
	if f.each != nil {
		u.out = append(u.out, f)
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("open it: %w", err)
	}
	u.closes = append(u.closes, func() error { closeReader(r); return nil })
	f.form = u.job.Form
	if f.form == "" {
		f.form, err = fileForm(r, f.Name, u.job.Limits)
	}
	if err == nil && u.job.As == Raster && f.form != FormImage {
		err = &format.Problem{Feature: format.None, What: "not an image", Found: string(f.form), Wanted: "a GeoTIFF"}
	}
	if err == nil {
		err = u.layers(f, r)
	}
	return u.judge(f.Name, err)
}

// judge makes problems of what is wrong with a file.
func (u *unfolding) judge(name string, err error) error {
	var bad *shp.Bad
	var p *format.Problem
	switch {
	case errors.As(err, &bad):
		for _, p := range bad.Problems {
			u.fail(name, p)
		}
		return nil
	case errors.As(err, &p):
		u.fail(name, p)
		return nil
	}
	return err
}

func (u *unfolding) fail(name string, p *format.Problem) {
	q := *p
	q.File = joined(name, strings.TrimPrefix(q.File, name))
	u.in.fail(&q)
}

func joined(name, part string) string {
	if part == "" {
		return name
	}
	return name + " " + part
}

// layers finds the layers of one file.
func (u *unfolding) layers(f File, r io.ReadSeeker) error {
	if f.form == FormGeoJSON || f.form == FormTable {
		u.out = append(u.out, f)
		return nil
	}
	at, size, err := readerAt(r)
	if err != nil {
		return err
	}
	switch f.form {
	case FormShapefile:
		layers, notices, err := shp.ReadZip(at, size, u.shpOptions())
		return u.shapefile(f.Name, layers, notices, err)
	case FormGeoPackage:
		return u.geopackage(f.Name, at, size)
	case FormWorkbook:
		return u.workbook(f.Name, at, size)
	case FormImage:
		return u.image(f.Name, at, size)
	}
	var layers []format.FeatureSet
	var notices []format.Notice
	head := make([]byte, 4)
	_, _ = at.ReadAt(head, 0) // a short file shows again in reading
	switch {
	case f.form == FormKML && kml.IsZip(head):
		layers, notices, err = kml.ReadZip(at, size, kml.Options{Limits: u.job.Limits})
	case f.form == FormKML:
		layers, notices, err = kml.Read(r, kml.Options{Limits: u.job.Limits})
	case f.form == FormGPX:
		layers, notices, err = gpx.Read(r, gpx.Options{Limits: u.job.Limits})
	default:
		layers, notices, err = nmea.Read(r, nmea.Options{Limits: u.job.Limits})
	}
	return u.plain(f, layers, notices, err)
}

func (u *unfolding) shpOptions() shp.Options {
	return shp.Options{CRS: u.job.CRS, Encoding: string(u.job.Encoding), Limits: u.job.Limits}
}

// notice takes over what a reader says.
func (u *unfolding) notice(name string, list []format.Notice) {
	for _, n := range list {
		n.File = joined(name, n.File)
		u.in.notices.Merge(n)
	}
}

// shapefile adds the shapefiles of a zip.
func (u *unfolding) shapefile(name string, layers []*shp.Layer, notices []format.Notice, err error) error {
	u.notice(name, notices)
	if err != nil {
		return err
	}
	names := make([]string, len(layers))
	for i, l := range layers {
		names[i] = l.Name
	}
	wanted, err := u.choose(names, false, "shapefile")
	if err != nil {
		return err
	}
	for _, i := range wanted {
		l := layers[i]
		if err := u.cutNames(l); err != nil {
			return err
		}
		u.add(File{Name: name, layer: layer{form: FormShapefile, system: l.CRS.Name, each: shapes(l)}}, l.Name, len(layers))
	}
	return nil
}

// add adds a layer under the name of its file and, where it is one of several,
// its own.
func (u *unfolding) add(f File, name string, of int) {
	if of > 1 {
		f.Name = joined(f.Name, name)
	}
	u.out = append(u.out, f)
}

// choose picks the layers that are wanted: those that the job names, else all;
// where they are of different kinds a person must say.
func (u *unfolding) choose(names []string, asks bool, word string) (out []int, err error) {
	for i, n := range names {
		if len(u.job.Layers) == 0 || slices.Contains(u.job.Layers, n) {
			out = append(out, i)
		}
	}
	q := &format.Question{Option: "layers", Choices: names}
	switch {
	case len(names) == 0:
		return nil, &format.Problem{Feature: format.None, What: "nothing in the file that can be taken in", Wanted: "a file with at least one " + word}
	case len(out) == 0:
		return nil, &format.Problem{Feature: format.None, What: fmt.Sprintf("no %s of the names that were said", word), Found: strings.Join(u.job.Layers, ", "), Wanted: "one of " + strings.Join(names, ", "), Ask: q}
	case len(out) > 1 && asks && len(u.job.Layers) == 0:
		return nil, &format.Problem{Feature: format.None, What: fmt.Sprintf("the file holds more than one %s, and nothing says which is meant", word), Found: strings.Join(names, ", "), Wanted: "those named that are to be taken in", Ask: q}
	}
	return out, nil
}

// plain adds the layers of a form that is read whole.
func (u *unfolding) plain(f File, layers []format.FeatureSet, notices []format.Notice, err error) error {
	u.notice(f.Name, notices)
	if err != nil {
		return err
	}
	names := make([]string, len(layers))
	for i, l := range layers {
		names[i] = layerName(f.form, l)
	}
	if f.form == FormGPX {
		for i, l := range layers {
			names[i] = l.Name
		}
	}
	wanted, err := u.choose(names, f.form == FormGPX, map[FileForm]string{FormKML: "placemark", FormGPX: "kind of things", FormNMEA: "position"}[f.form])
	if err != nil {
		return err
	}
	for _, i := range wanted {
		l := layers[i]
		each := func(ctx context.Context, _ *format.Notices, give func(format.Feature) error) error {
			for _, x := range l.Features {
				if err := ctx.Err(); err != nil {
					return err
				}
				if err := give(x); err != nil {
					return err
				}
			}
			return nil
		}
		u.add(File{Name: f.Name, layer: layer{form: f.form, textOnly: f.form != FormNMEA, each: each}}, names[i], len(layers))
	}
	return nil
}

func layerName(form FileForm, l format.FeatureSet) string {
	if l.Name == "" {
		return string(form)
	}
	return l.Name
}

// geopackage adds the tables of a GeoPackage.
func (u *unfolding) geopackage(name string, at io.ReaderAt, size int64) error {
	g, err := foreign.Open(at, size, foreign.Options{CRS: u.job.CRS})
	if err != nil {
		return err
	}
	u.closes = append(u.closes, g.Close)
	tables := g.Tables()
	places := slices.ContainsFunc(tables, func(t foreign.Table) bool { return t.Geometry != "" })
	tables = slices.DeleteFunc(slices.Clone(tables), func(t foreign.Table) bool {
		left := t.Geometry == "" && places && !slices.Contains(u.job.Layers, t.Name)
		if left {
			u.in.notices.Add(name, t.Name, format.None, 0, "a table without places; left out unless it is named")
		}
		return left
	})
	names := make([]string, len(tables))
	for i, t := range tables {
		names[i] = t.Name
	}
	wanted, err := u.choose(names, false, "table of features")
	if err != nil {
		return err
	}
	for _, i := range wanted {
		t := tables[i]
		each := func(ctx context.Context, notes *format.Notices, give func(format.Feature) error) error {
			return g.Each(ctx, t, notes, give)
		}
		if c := t.CRS; t.Geometry != "" && c.Code != wgs84 {
			u.in.notices.Add(name, "coordinate system", format.None, 0, fmt.Sprintf("brought from %s to longitude and latitude%s", c.Name, assumed(c.Datum.Assumed)))
		}
		u.add(File{Name: name, layer: layer{form: FormGeoPackage, system: t.CRS.Name, each: each}}, t.Name, len(tables))
	}
	return nil
}

const wgs84 = 4326

func assumed(what string) string {
	if what == "" {
		return ""
	}
	return "; " + what
}

// workbook adds the sheets of a workbook.
func (u *unfolding) workbook(name string, at io.ReaderAt, size int64) error {
	sheets, notices, err := xlsx.Read(at, size, xlsx.Options{Limits: u.job.Limits})
	u.notice(name, notices)
	if err != nil {
		return err
	}
	names := make([]string, len(sheets))
	for i, s := range sheets {
		names[i] = s.Name
	}
	wanted, err := u.choose(names, true, "sheet")
	if err != nil {
		return err
	}
	for _, i := range wanted {
		text := sheets[i].Text()
		u.add(File{Name: name, Open: func() (io.ReadSeeker, error) { return bytes.NewReader(text), nil }, layer: layer{form: FormWorkbook}}, names[i], len(sheets))
	}
	return nil
}

// gathered puts the loose parts of a shapefile together as one file.
func gathered(files []File) (out []File) {
	stem := func(name string) string { return strings.ToLower(strings.TrimSuffix(name, path.Ext(name))) }
	shapes := map[string]bool{}
	for _, f := range files {
		if strings.EqualFold(path.Ext(f.Name), ".shp") {
			shapes[stem(f.Name)] = true
		}
	}
	parts := map[string][]File{}
	for _, f := range files {
		if ext := strings.ToLower(path.Ext(f.Name)); shapes[stem(f.Name)] && slices.Contains([]string{".shp", ".shx", ".dbf", ".prj", ".cpg"}, ext) {
			parts[stem(f.Name)] = append(parts[stem(f.Name)], f)
		}
	}
	for _, f := range files {
		list, loose := parts[stem(f.Name)]
		switch {
		case !loose || !slices.ContainsFunc(list, func(p File) bool { return p.Name == f.Name }):
			out = append(out, f)
		case strings.EqualFold(path.Ext(f.Name), ".shp"):
			out = append(out, File{Name: f.Name, Open: func() (io.ReadSeeker, error) { return zipped(list) }})
		}
	}
	return out
}
