package work

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"courson/geo/format"
	"courson/geo/format/geojson"
	"courson/geo/format/shp"
)

// shapes gives the features of a shapefile.
func shapes(l *shp.Layer) func(context.Context, *format.Notices, func(format.Feature) error) error {
	return func(ctx context.Context, _ *format.Notices, give func(format.Feature) error) error {
		for i, g := range l.Shapes {
			if err := ctx.Err(); err != nil {
				return err
			}
			f := format.Feature{Geometry: g, Fields: make([]format.Field, 0, len(l.Columns))}
			for _, c := range l.Columns {
				x := format.Field{Name: c.Name}
				switch {
				case c.Numbers == nil && c.Texts[i] != "":
					x.Value = c.Texts[i]
				case c.Numbers != nil && !math.IsNaN(c.Numbers[i]):
					x.Value = c.Numbers[i]
				}
				f.Fields = append(f.Fields, x)
			}
			if err := give(f); err != nil {
				return err
			}
		}
		return nil
	}
}

// mostLoose bounds the parts of a shapefile that come one by one, in bytes.
const mostLoose = 1 << 30

// zipped puts the parts of a shapefile together.
func zipped(parts []File) (io.ReadSeeker, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	left := int64(mostLoose)
	for _, p := range parts {
		r, err := p.Open()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Name, err)
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: p.Name, Method: zip.Store})
		if err == nil {
			var n int64
			n, err = io.Copy(w, io.LimitReader(r, left+1))
			left -= n
		}
		closeReader(r)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Name, err)
		}
		if left < 0 {
			return nil, &format.Problem{File: p.Name, Feature: format.None, What: "the shapefile is too large", Cause: format.ErrTooLarge, Found: fmt.Sprintf("more than %d MB", mostLoose>>20), Wanted: "smaller files, for example one for each block"}
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return bytes.NewReader(b.Bytes()), nil
}

// readLayer takes up a layer of another form: its features go through the reader
// of GeoJSON as text, so that one set of rules for shapes and values holds for all
// forms.
func (in *intake) readLayer(ctx context.Context, file int) error {
	r, w := io.Pipe()
	ended := make(chan struct{})
	var notes format.Notices
	go func() {
		defer close(ended)
		w.CloseWithError(writeLayer(ctx, w, &notes, in.job.Files[file].each))
	}()
	err := in.decodeFeatures(r, file, "")
	_ = r.Close() // the writer stops at its next feature
	<-ended
	for _, n := range notes.List() {
		n.File = in.fileName(file)
		in.notices.Merge(n)
	}
	return err
}

func writeLayer(ctx context.Context, to io.Writer, notes *format.Notices, each func(context.Context, *format.Notices, func(format.Feature) error) error) error {
	w := geojson.NewWriter(to)
	err := each(ctx, notes, func(f format.Feature) error {
		w.Begin(0)
		for _, x := range f.Fields {
			writeField(w, x)
		}
		return w.End(f.Geometry)
	})
	if err != nil {
		return err
	}
	return w.Close()
}

func writeField(w *geojson.Writer, x format.Field) {
	switch v := x.Value.(type) {
	case string:
		w.Text(x.Name, v)
	case float64:
		w.Float(x.Name, v)
	case int64:
		w.Int(x.Name, v)
	case bool:
		w.JSON(x.Name, []byte(fmt.Sprint(v)))
	default:
		w.Null(x.Name)
	}
}

// cutNames refuses columns whose names were cut at ten characters and told apart
// by a number, as programs do that write shapefiles: which is which, the file does
// not say.
func (u *unfolding) cutNames(l *shp.Layer) error {
	for _, c := range l.Columns {
		stem, number, cut := strings.Cut(c.Name, "_")
		if len(c.Name) != 10 || !cut || number == "" || strings.Trim(number, "0123456789") != "" || u.said(c.Name) {
			continue
		}
		for _, other := range l.Columns {
			if other.Name != c.Name && len(other.Name) == 10 && strings.HasPrefix(other.Name, stem) && !u.said(other.Name) {
				return &format.Problem{File: l.Name, Feature: format.None, Field: c.Name, What: "names cut at ten characters: nothing says what each of the two columns is", Found: fmt.Sprintf("%q and %q", other.Name, c.Name),
					Wanted: "what each column means, such as pruning_weight_kg, the other one left out; of two seasons, one season in each import", Ask: &format.Question{Option: "column", Choices: []string{other.Name, c.Name}}}
			}
		}
	}
	return nil
}

// said tells whether the job says what a column means.
func (u *unfolding) said(column string) bool {
	_, ok := u.job.Columns[column]
	return ok
}
