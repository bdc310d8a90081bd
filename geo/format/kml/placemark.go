package kml

import (
	"strings"

	"courson/geo/format"
)

// placemark takes up one placemark with its fields.
func (k *reader) placemark(e *format.Element) error {
	var f format.Feature
	index := len(k.layer.Features)
	for _, c := range e.Inner {
		g, is, err := k.geometry(c, 0)
		if err != nil {
			p := *err
			p.Feature, p.Line = index, c.Line
			if p.Field == "" {
				p.Field = c.Name
			}
			return &p
		}
		if is {
			f.Geometry = g
		}
	}
	var folders []string
	for i, c := range k.within {
		if c.name != "" && (c.kind == "Folder" || i > 0) {
			folders = append(folders, c.name)
		}
	}
	k.data(e, &f)
	if n := len(folders); n > 0 {
		f.Set("folder", folders[0])
		if n > 1 {
			f.Set("subfolder", strings.Join(folders[1:], "/"))
		}
	}
	f.Set("name", e.Words("name"))
	f.Set("description", e.Words("description"))
	if when := timeOf(e); when != "" {
		f.Set("time", when)
	}
	k.layer.Features = append(k.layer.Features, f)
	return nil
}

// data takes up the values that the file's writer gave a placemark: untyped pairs
// (Data) and those of a schema (SimpleData).
func (k *reader) data(e *format.Element, f *format.Feature) {
	for _, ext := range e.Inner {
		if ext.Name != "ExtendedData" && ext.Name != "Metadata" {
			continue
		}
		for _, d := range ext.Inner {
			switch d.Name {
			case "Data":
				f.Set(d.Attr["name"], d.Words("value"))
			case "SchemaData":
				for _, s := range d.Inner {
					if s.Name == "SimpleData" {
						f.Set(s.Attr["name"], s.Text)
					}
				}
			}
		}
	}
}

func timeOf(e *format.Element) string {
	if stamp := e.Child("TimeStamp"); stamp != nil {
		return stamp.Words("when")
	}
	if span := e.Child("TimeSpan"); span != nil {
		return span.Words("begin")
	}
	return ""
}
