package work

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"courson/geo/format"
	"courson/geo/format/geojson"
	"courson/geo/format/kml"
	"courson/geo/format/nmea"
	"courson/geo/format/shp"
	"courson/geo/format/xlsx"
	"courson/store/foreign"
)

// FileForm is how a file is written.
type FileForm string

// The forms.
const (
	FormGeoJSON    FileForm = "GeoJSON"
	FormTable      FileForm = "table"
	FormShapefile  FileForm = "shapefile"
	FormGeoPackage FileForm = "GeoPackage"
	FormKML        FileForm = "KML"
	FormGPX        FileForm = "GPX"
	FormWorkbook   FileForm = "workbook"
	FormNMEA       FileForm = "NMEA"
	FormImage      FileForm = "GeoTIFF"
)

// FileForms lists all forms.
func FileForms() []FileForm {
	return []FileForm{FormGeoJSON, FormTable, FormShapefile, FormGeoPackage, FormKML, FormGPX, FormWorkbook, FormNMEA, FormImage}
}

// ParseFileForm reads the word for a form, in whatever case; "auto" and "" mean that
// the contents decide.
func ParseFileForm(word string) (FileForm, error) {
	if word == "" || strings.EqualFold(word, "auto") {
		return "", nil
	}
	words := make([]string, 0, len(FileForms()))
	for _, f := range FileForms() {
		if strings.EqualFold(word, string(f)) {
			return f, nil
		}
		words = append(words, strings.ToLower(string(f)))
	}
	return "", fmt.Errorf("%q is not a form of file (auto, %s)", word, strings.Join(words, ", "))
}

const headBytes = 2048

// fileForm finds out how a file is written: by its contents, and where text shows
// nothing by its name.
func fileForm(r io.ReadSeeker, name string, l format.Limits) (FileForm, error) {
	head, err := headOf(r)
	switch {
	case err != nil:
		return "", err
	case foreign.IsGeoPackage(head):
		return FormGeoPackage, nil
	case bytes.HasPrefix(head, []byte("PK\x05\x06")): // the end of a list of nothing (APPNOTE 6.3, 4.3.16)
		return "", &format.Problem{Feature: format.None, What: "the zip is empty", Wanted: "a shapefile, a KMZ file or a workbook in it"}
	case kml.IsZip(head):
		return zipForm(r)
	case bytes.HasPrefix(head, []byte{0, 0, 0x27, 0x0a}):
		return FormShapefile, nil
	case bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0")):
		return "", &format.Problem{Feature: format.None, What: "a workbook of the old kind (.xls), or one with a password", Wanted: "it saved as .xlsx or CSV, without a password"}
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")), bytes.HasPrefix(head, []byte("II+\x00")), bytes.HasPrefix(head, []byte("MM\x00+")):
		return FormImage, nil
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return "", err
	}
	b, err := format.Unpack(r, l)
	if err != nil {
		return "", err
	}
	head, _ = b.Peek(headBytes) // an error shows again in reading
	return textForm(head, name)
}

func headOf(r io.ReadSeeker) ([]byte, error) {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	head := make([]byte, 16)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	return head[:n], nil
}

// textForm tells the forms of text apart.
func textForm(head []byte, name string) (FileForm, error) {
	plain := bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n\x1e\x00\xff\xfe")
	plain = bytes.ReplaceAll(plain, []byte{0}, nil) // UTF-16
	named := byName(name)
	switch {
	case bytes.HasPrefix(plain, []byte("{")), bytes.HasPrefix(plain, []byte("[")) && named != FormTable:
		return FormGeoJSON, nil
	case bytes.HasPrefix(plain, []byte("<")):
		return markupForm(plain)
	case nmea.Looks(plain):
		return FormNMEA, nil
	case named != "":
		return named, nil
	}
	return FormTable, nil
}

func byName(name string) FileForm {
	end := path.Ext(strings.TrimSuffix(strings.ToLower(name), ".gz"))
	switch {
	case slices.Contains([]string{".csv", ".tsv", ".txt", ".tab"}, end):
		return FormTable
	case slices.Contains([]string{".geojson", ".json", ".geojsonl", ".ndjson", ".geojsons"}, end):
		return FormGeoJSON
	}
	return ""
}

// markupForm tells the forms of XML apart by their outermost element.
func markupForm(head []byte) (FileForm, error) {
	name := ""
	for rest := head; ; {
		at := bytes.IndexByte(rest, '<')
		if at < 0 || at+1 >= len(rest) {
			break
		}
		rest = rest[at+1:]
		if rest[0] == '?' || rest[0] == '!' {
			continue
		}
		end := bytes.IndexAny(rest, " \t\r\n/>")
		if end < 0 {
			end = len(rest)
		}
		name = string(rest[:end])
		break
	}
	switch local := name[strings.IndexByte(name, ':')+1:]; strings.ToLower(local) {
	case "kml":
		return FormKML, nil
	case "gpx":
		return FormGPX, nil
	}
	return "", &format.Problem{Feature: format.None, What: "XML of a kind that is not known", Found: format.Quote(name), Wanted: "KML or GPX"}
}

// zipForm looks what is in a zip.
func zipForm(r io.ReadSeeker) (FileForm, error) {
	at, size, err := readerAt(r)
	if err != nil {
		return "", err
	}
	z, err := zip.NewReader(at, size)
	if err != nil {
		return "", &format.Problem{Feature: format.None, What: "a zip that is damaged or cut short", Found: err.Error(), Wanted: "the whole file, packed again"}
	}
	has := func(end string) bool {
		return slices.ContainsFunc(z.File, func(f *zip.File) bool {
			return strings.EqualFold(path.Ext(f.Name), end) && !strings.HasPrefix(path.Base(f.Name), ".")
		})
	}
	switch {
	case has(".shp"):
		return FormShapefile, nil
	case xlsx.IsWorkbook(z):
		return FormWorkbook, nil
	case has(".kml"):
		return FormKML, nil
	}
	var names []string
	for _, f := range z.File[:min(5, len(z.File))] {
		names = append(names, f.Name)
	}
	return "", &format.Problem{Feature: format.None, What: "a zip with nothing in it that can be read", Found: format.Quote(strings.Join(names, ", ")), Wanted: "a shapefile, a KMZ file or a workbook; other files unpacked"}
}

// readerAt gives a file for reading in any order, and its size.
func readerAt(r io.ReadSeeker) (io.ReaderAt, int64, error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, 0, err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, 0, err
	}
	at, ok := r.(io.ReaderAt)
	if !ok {
		return nil, 0, errors.New("the file cannot be read in any order")
	}
	return at, size, nil
}

// asksSystem tells whether a problem is settled by stating the coordinate system.
func asksSystem(p *format.Problem) bool {
	return errors.Is(p, shp.ErrNoCRS) || errors.Is(p, foreign.ErrNoCRS) || errors.Is(p, geojson.ErrProjected)
}
