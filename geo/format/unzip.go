package format

import (
	"archive/zip"
	"fmt"
	"io"
	"path"
	"strings"
)

// Member is one file of a zip, unpacked.
type Member struct {
	Name string // with its folders, parted by /
	Data []byte
}

const (
	mostMembers  = 10000
	zipBytes     = 512 << 20
	zipRatio     = 200
	zipFreeBytes = 32 << 20
)

// Unzip unpacks the files of a zip that are wanted, in the order in which they
// stand there. Hidden files and what some systems add beside each file are left
// alone. Without limits: 512 MB in all, and 200 times the packed size.
func Unzip(r io.ReaderAt, size int64, l Limits, want func(name string) bool) ([]Member, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, &Problem{Feature: None, What: "not a zip file, or one cut short", Found: err.Error(), Wanted: "the whole file, packed again"}
	}
	if len(z.File) > mostMembers {
		return nil, &Problem{Feature: None, What: "too many files in the zip", Found: fmt.Sprint(len(z.File)), Wanted: fmt.Sprintf("at most %d", mostMembers), Cause: ErrTooLarge}
	}
	left, ratio := l.MaxBytes, uint64(max(l.MaxRatio, 0))
	if left <= 0 {
		left = zipBytes
	}
	if ratio == 0 {
		ratio = zipRatio
	}
	var out []Member
	for _, f := range z.File {
		name := strings.ReplaceAll(f.Name, "\\", "/")
		if strings.HasSuffix(name, "/") || strings.HasPrefix(path.Base(name), ".") || strings.Contains("/"+strings.ToUpper(name), "/__MACOSX/") || !want(name) {
			continue
		}
		if f.UncompressedSize64 > zipFreeBytes && f.UncompressedSize64/ratio > f.CompressedSize64 {
			return nil, &Problem{File: name, Feature: None, What: "the packed file swells beyond reason", Cause: ErrTooLarge,
				Found: fmt.Sprintf("%d MB from %d kB", f.UncompressedSize64>>20, f.CompressedSize64>>10), Wanted: fmt.Sprintf("at most %d times its packed size", ratio)}
		}
		data, err := unpackMember(f, name, left)
		if err != nil {
			return nil, err
		}
		left -= int64(len(data))
		out = append(out, Member{Name: name, Data: data})
	}
	return out, nil
}

func unpackMember(f *zip.File, name string, most int64) ([]byte, error) {
	damaged := func(err error) error {
		return &Problem{File: name, Feature: None, What: "the packed file is damaged or cut short", Found: err.Error(), Wanted: "the whole file, packed again"}
	}
	r, err := f.Open()
	if err != nil {
		return nil, damaged(err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, damaged(err)
	}
	if int64(len(data)) > most {
		return nil, &Problem{Feature: None, What: "the files of the zip are too large", Cause: ErrTooLarge, Wanted: "smaller files, for example one for each block"}
	}
	return data, nil
}
