package shp

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"courson/geo/format"
)

// Options of reading.
type Options struct {
	CRS      string // system that a person states, for files without a .prj: "EPSG:32632"
	Encoding string // of texts, as a .cpg would name it; "": as the file says
	Limits   format.Limits
}

// Files are the parts of one shapefile. Only SHP must be there.
type Files struct {
	Name                    string
	SHP, SHX, DBF, PRJ, CPG []byte
}

func (f *Files) part(suffix string) *[]byte {
	switch suffix {
	case ".shp":
		return &f.SHP
	case ".shx":
		return &f.SHX
	case ".dbf":
		return &f.DBF
	case ".prj":
		return &f.PRJ
	case ".cpg":
		return &f.CPG
	}
	return nil
}

const mostFiles = 10000

// ReadZip reads all shapefiles of a zip, in the order of their names, whatever
// folders and capitals it has. Errors are *format.Problem (also with the cause
// ErrNoCRS or format.ErrTooLarge) or *Bad.
func ReadZip(r io.ReaderAt, size int64, o Options) ([]*Layer, []format.Notice, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, nil, problem("", "not a zip file", err.Error(), "a zip with .shp, .shx, .dbf and .prj in it")
	}
	if len(z.File) > mostFiles {
		return nil, nil, &format.Problem{Feature: format.None, What: "too many files in the zip", Found: fmt.Sprint(len(z.File)), Wanted: fmt.Sprintf("at most %d", mostFiles), Cause: format.ErrTooLarge}
	}
	sets, err := gather(z, o.Limits)
	if err != nil {
		return nil, nil, err
	}
	var layers []*Layer
	var notices format.Notices
	for _, f := range sets {
		l, n, err := Read(f, o)
		for _, x := range n {
			notices.Merge(x)
		}
		if err != nil {
			return nil, notices.List(), err
		}
		layers = append(layers, l)
	}
	if len(layers) == 0 {
		return nil, nil, problem("", "no shapefile in the zip", "", "a .shp with its .shx, .dbf and .prj")
	}
	return layers, notices.List(), nil
}

// gather unpacks the parts, leaving litter alone.
func gather(z *zip.Reader, l format.Limits) (sets []Files, err error) {
	left, ratio := l.MaxBytes, uint64(max(l.MaxRatio, 0))
	if left <= 0 {
		left = 2 << 30
	}
	if ratio == 0 {
		ratio = 200
	}
	byName := map[string]*Files{}
	for _, f := range z.File {
		name := strings.ReplaceAll(f.Name, "\\", "/")
		base, suffix := path.Base(name), strings.ToLower(path.Ext(name))
		if strings.HasPrefix(base, ".") || strings.Contains("/"+strings.ToUpper(name), "/__MACOSX/") || (&Files{}).part(suffix) == nil {
			continue
		}
		stem := strings.ToLower(strings.TrimSuffix(name, path.Ext(name)))
		s := byName[stem]
		if s == nil {
			s = &Files{Name: strings.TrimSuffix(base, path.Ext(base))}
			byName[stem] = s
		}
		to := s.part(suffix)
		if *to != nil {
			return nil, problem(f.Name, "the same file twice in the zip", "", "one of each")
		}
		if f.UncompressedSize64 > 32<<20 && f.UncompressedSize64/ratio > f.CompressedSize64 {
			return nil, &format.Problem{File: f.Name, Feature: format.None, What: "the packed file swells beyond reason", Cause: format.ErrTooLarge, Found: fmt.Sprintf("%d MB from %d kB", f.UncompressedSize64>>20, f.CompressedSize64>>10), Wanted: fmt.Sprintf("at most %d times its packed size", ratio)}
		}
		if *to, err = unpack(f, left); err != nil {
			return nil, err
		}
		left -= int64(len(*to))
	}
	for _, s := range byName {
		if s.SHP != nil {
			sets = append(sets, *s)
		}
	}
	slices.SortFunc(sets, func(a, b Files) int { return strings.Compare(a.Name, b.Name) })
	return sets, nil
}

func unpack(f *zip.File, most int64) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, problem(f.Name, "the zip cannot be read", err.Error(), "the zip packed again")
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		found := err.Error()
		if errors.Is(err, zip.ErrChecksum) {
			found = "its check sum is wrong"
		}
		return nil, problem(f.Name, "the packed file is damaged or cut short", found, "the zip packed again")
	}
	if int64(len(b)) > most {
		return nil, &format.Problem{File: f.Name, Feature: format.None, What: "the files of the zip are too large", Cause: format.ErrTooLarge, Wanted: "smaller files, for example one for each block"}
	}
	if b == nil {
		b = []byte{}
	}
	return b, nil
}
