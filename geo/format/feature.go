package format

import "github.com/paulmach/orb"

// FeatureSet is what a file that was read holds under one name: a document, a kind
// of points.
type FeatureSet struct {
	Name     string
	Features []Feature
}

// Feature is one thing of a layer.
type Feature struct {
	Geometry orb.Geometry // longitude, latitude on WGS 84; nil: no place
	Fields   []Field      // in the order in which they stand in the file
}

// Field is one value of a feature: a string, float64, int64, bool, or nil for
// none.
type Field struct {
	Name  string
	Value any
}

// Get gives the value of a field, nil where there is none of that name.
func (f *Feature) Get(name string) any {
	for _, x := range f.Fields {
		if x.Name == name {
			return x.Value
		}
	}
	return nil
}

// Set adds a field. Of two with one name the first keeps its place and value; an
// empty text is not set.
func (f *Feature) Set(name string, value any) {
	if name == "" || value == "" || f.Get(name) != nil {
		return
	}
	f.Fields = append(f.Fields, Field{Name: name, Value: value})
}
