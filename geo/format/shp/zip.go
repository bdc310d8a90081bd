package shp

import (
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

// ReadZip reads all shapefiles of a zip, in the order of their names, whatever
// folders and capitals it has. Errors are *format.Problem (also with the cause
// ErrNoCRS or format.ErrTooLarge) or *Bad.
func ReadZip(r io.ReaderAt, size int64, o Options) ([]*Layer, []format.Notice, error) {
	sets, err := gather(r, size, o.Limits)
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

// gather unpacks the parts and puts them together by their names.
func gather(r io.ReaderAt, size int64, l format.Limits) (sets []Files, err error) {
	members, err := format.Unzip(r, size, l, func(name string) bool { return (&Files{}).part(strings.ToLower(path.Ext(name))) != nil })
	if err != nil {
		return nil, err
	}
	byName := map[string]*Files{}
	for _, m := range members {
		base, suffix := path.Base(m.Name), path.Ext(m.Name)
		stem := strings.ToLower(strings.TrimSuffix(m.Name, suffix))
		s := byName[stem]
		if s == nil {
			s = &Files{Name: strings.TrimSuffix(base, suffix)}
			byName[stem] = s
		}
		to := s.part(strings.ToLower(suffix))
		if *to != nil {
			return nil, problem(m.Name, "the same file twice in the zip", "", "one of each")
		}
		*to = m.Data
	}
	for _, s := range byName {
		if s.SHP != nil {
			sets = append(sets, *s)
		}
	}
	slices.SortFunc(sets, func(a, b Files) int { return strings.Compare(a.Name, b.Name) })
	return sets, nil
}
