// Package shp reads and writes shapefiles in a zip (ESRI Shapefile Technical
// Description, 1998, with a dBASE III table): what terminals of machines and
// most maps take.
//
// Written files hold longitude and latitude on WGS 84, plain shapes without
// heights, texts in UTF-8, numbers as numbers. Read files are brought to
// longitude and latitude by the coordinate system that their .prj describes;
// without one they are refused until a person states it.
package shp

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// Kind is the kind of shapes of a layer: all are of one.
type Kind int

// The kinds, by their numbers in the file.
const (
	Points      Kind = 1
	Lines       Kind = 3
	Polygons    Kind = 5
	MultiPoints Kind = 8
)

func (k Kind) String() string {
	switch k {
	case Points:
		return "points"
	case Lines:
		return "lines"
	case Polygons:
		return "polygons"
	case MultiPoints:
		return "groups of points"
	}
	return fmt.Sprintf("shapes of type %d", int(k))
}

// Layer is one shapefile: shapes, and columns of as many values.
type Layer struct {
	Name    string // of its files, without suffix
	Kind    Kind
	Shapes  []orb.Geometry // degrees, WGS 84; nil: a record without a place
	Columns []Column
	CRS     frame.CRS // read: what the file was in
}

// Column is one field. One of Numbers and Texts is set.
type Column struct {
	Name     string    // at most 10 ASCII characters in the file
	Title    string    // what it means, "" where Name says it
	Numbers  []float64 // NaN: no value
	Decimals int       // written: places after the point, 0 to 15
	Width    int       // written: characters, of texts bytes; 0: what the values need
	Texts    []string
	Date     bool // read: the texts are days, 2027-02-03
}

// ErrNoCRS says that the coordinate system is missing or cannot be used.
var ErrNoCRS = fmt.Errorf("no coordinate system")

// Bad is what is wrong with the records of a layer: at most as many as are
// worth reading at once.
type Bad struct{ Problems []*format.Problem }

const mostProblems = 50

// Error gives all problems, one in a line.
func (b *Bad) Error() string {
	var lines []string
	for _, p := range b.Problems {
		lines = append(lines, p.Error())
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the problems.
func (b *Bad) Unwrap() (out []error) {
	for _, p := range b.Problems {
		out = append(out, p)
	}
	return out
}

// add takes up a problem, and tells whether it was one too many.
func (b *Bad) add(p *format.Problem) bool {
	b.Problems = append(b.Problems, p)
	return len(b.Problems) >= mostProblems
}

func (b *Bad) err() error {
	if len(b.Problems) == 0 {
		return nil
	}
	return b
}

func problem(file, what, found, wanted string) *format.Problem {
	return &format.Problem{File: file, Feature: format.None, What: what, Found: found, Wanted: wanted}
}
