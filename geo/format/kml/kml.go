// Package kml writes places as KML 2.3 (OGC 12-007r2), and reads KML and KMZ, the
// same packed with zip: placemarks with their folders and values. How things are drawn, pictures
// and what lies in other files is left alone.
package kml

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"courson/geo/format"
)

// Options of reading.
type Options struct{ Limits format.Limits }

const (
	mostBytes    = 512 << 20
	mostFeatures = 2_000_000
)

// IsZip tells a KMZ file by its beginning.
func IsZip(head []byte) bool { return bytes.HasPrefix(head, []byte("PK\x03\x04")) }

// ReadZip reads every .kml of a KMZ file, in the order of their names: some
// programs keep each layer in a file of its own.
func ReadZip(r io.ReaderAt, size int64, o Options) ([]format.FeatureSet, []format.Notice, error) {
	members, err := format.Unzip(r, size, o.Limits, func(name string) bool { return strings.EqualFold(path.Ext(name), ".kml") })
	if err != nil {
		return nil, nil, err
	}
	if len(members) == 0 {
		return nil, nil, &format.Problem{Feature: format.None, What: "no .kml in the zip", Wanted: "a KMZ file: a zip with at least one .kml in it"}
	}
	slices.SortFunc(members, func(a, b format.Member) int { return strings.Compare(a.Name, b.Name) })
	var layers []format.FeatureSet
	var notices format.Notices
	for _, m := range members {
		more, n, err := Read(bytes.NewReader(m.Data), o)
		for _, x := range n {
			notices.Merge(x)
		}
		if err != nil {
			return nil, notices.List(), inFile(err, m.Name)
		}
		layers = append(layers, more...)
	}
	return layers, notices.List(), nil
}

func inFile(err error, name string) error {
	var p *format.Problem
	if !errors.As(err, &p) {
		return fmt.Errorf("%s: %w", name, err)
	}
	q := *p
	q.Field = strings.TrimSuffix(name+", "+q.Field, ", ")
	return &q
}

// Read reads a KML file. All placemarks are one layer, which has the name of the
// document. The fields of each are folder (the outermost folder it lies in),
// subfolder (those within it, parted by /), name,
// description, and its own data under their names. Errors are *format.Problem, or
// what the reader said.
func Read(r io.Reader, o Options) ([]format.FeatureSet, []format.Notice, error) {
	l := o.Limits
	if l.MaxBytes <= 0 {
		l.MaxBytes = mostBytes
	}
	in, err := format.Unpack(r, l)
	if err != nil {
		return nil, nil, err
	}
	k := &reader{m: format.NewMarkup(in)}
	if err := k.read(); err != nil {
		return nil, k.notices.List(), err
	}
	if len(k.layer.Features) == 0 {
		return nil, k.notices.List(), nil
	}
	return []format.FeatureSet{k.layer}, k.notices.List(), nil
}

// reader walks through one file.
type reader struct {
	m       *format.Markup
	layer   format.FeatureSet
	within  []container
	notices format.Notices
	root    bool
}

// container is a Document or Folder that is open.
type container struct{ kind, name string }

func (k *reader) read() error {
	for {
		name, begins, attr, err := k.m.Next()
		if errors.Is(err, io.EOF) {
			if !k.root {
				return &format.Problem{Feature: format.None, What: "not a KML file", Wanted: "a file that begins with the element kml"}
			}
			return nil
		}
		if err != nil {
			return err
		}
		if !k.root {
			if name != "kml" && name != "Document" && name != "Folder" && name != "Placemark" {
				return &format.Problem{Feature: format.None, What: "not a KML file", Found: format.Quote(name), Wanted: "a file that begins with the element kml"}
			}
			k.root = true
		}
		if !begins {
			if n := len(k.within); n > 0 && k.within[n-1].kind == name {
				k.within = k.within[:n-1]
			}
			continue
		}
		switch name {
		case "kml":
		case "Document", "Folder":
			k.within = append(k.within, container{kind: name})
		default:
			e, err := k.m.Element(name, attr)
			if err != nil {
				return err
			}
			if err := k.take(e); err != nil {
				return err
			}
		}
	}
}

// take takes up an element of a container.
func (k *reader) take(e *format.Element) error {
	switch e.Name {
	case "name":
		if n := len(k.within); n > 0 {
			k.within[n-1].name = e.Text
			if n == 1 && k.layer.Name == "" {
				k.layer.Name = e.Text
			}
		}
	case "Placemark":
		if len(k.layer.Features) >= mostFeatures {
			return &format.Problem{Feature: format.None, What: "too many placemarks", Wanted: fmt.Sprintf("at most %d", mostFeatures), Cause: format.ErrTooLarge}
		}
		return k.placemark(e)
	case "NetworkLink":
		if link := e.Child("Link"); link == nil || strings.Contains(link.Words("href"), "://") {
			k.note("a link to another place was not followed")
		}
	case "GroundOverlay", "PhotoOverlay", "ScreenOverlay":
		k.note("pictures are left out")
	}
	return nil
}

func (k *reader) note(text string) {
	k.notices.Add("", "", len(k.layer.Features), 0, text)
}
