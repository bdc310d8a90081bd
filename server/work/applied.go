package work

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format/geojson"
	"courson/geo/format/shp"
	"courson/geo/frame"
	"courson/geo/rate"
)

// Readings is what a machine's log holds: places, and a column for each number
// that it wrote down there.
type Readings struct {
	Places []orb.Point
	Fields []ReadingField
	Other  int // features that are not points
	// NoPlace is records of a machine without a usable position.
	NoPlace int
}

// ReadingField is one column of numbers; NaN where there is none.
type ReadingField struct {
	Name   string
	Unit   rate.Unit // where the log itself says it; "" elsewhere
	Values []float64
}

// mostReadings is how many readings a log may have.
const mostReadings = 500_000

// ReadReadings reads a log of points: GeoJSON, or in a zip a shapefile or the folder
// TASKDATA of ISO 11783-10. crs states
// the coordinate system of a file that does not ("EPSG:32632"; "" none). Errors
// wrap ErrRates and say what is wrong with the file.
func ReadReadings(file []byte, crs string) (*Readings, error) {
	var r *Readings
	var err error
	switch {
	case !bytes.HasPrefix(file, []byte("PK")):
		r, err = readingsOfGeoJSON(file, crs)
	case holdsTaskData(file):
		r, err = readingsOfTask(file)
	default:
		r, err = readingsOfShapes(file, crs)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: readings: %w", ErrRates, err)
	}
	if len(r.Places) == 0 {
		return nil, fmt.Errorf("%w: readings: the file has no points; send what the machine logged, one point for each reading", ErrRates)
	}
	r.Fields = slices.DeleteFunc(r.Fields, func(f ReadingField) bool {
		return !slices.ContainsFunc(f.Values, func(v float64) bool { return v == v })
	})
	if len(r.Fields) == 0 {
		return nil, fmt.Errorf("%w: readings: no point has a number among its properties; the rate that was applied is needed", ErrRates)
	}
	return r, nil
}

var errManyReadings = fmt.Errorf("more than %d readings; send one block at a time", mostReadings)

func readingsOfShapes(file []byte, crs string) (*Readings, error) {
	layers, _, err := shp.ReadZip(bytes.NewReader(file), int64(len(file)), shp.Options{CRS: crs})
	if err != nil {
		return nil, err
	}
	r := &Readings{}
	for _, l := range layers {
		if l.Kind != shp.Points {
			r.Other += len(l.Shapes)
			continue
		}
		at := make([]int, 0, len(l.Shapes)) // records with a place
		for i, s := range l.Shapes {
			if p, ok := s.(orb.Point); ok {
				at = append(at, i)
				r.Places = append(r.Places, p)
			}
		}
		for _, c := range l.Columns {
			if c.Numbers == nil {
				continue
			}
			f := r.field(c.Name, len(r.Places)-len(at))
			for _, i := range at {
				f.Values = append(f.Values, c.Numbers[i])
			}
		}
		r.level()
		if len(r.Places) > mostReadings {
			return nil, errManyReadings
		}
	}
	return r, nil
}

func readingsOfGeoJSON(file []byte, crs string) (*Readings, error) {
	d, err := geojson.NewDecoder(bytes.NewReader(file), geojson.Options{CRS: crs})
	if err != nil {
		return nil, err
	}
	r := &Readings{}
	for {
		f, err := d.Next()
		if errors.Is(err, io.EOF) {
			return r, nil
		}
		if err != nil {
			return nil, err
		}
		p, ok := f.Geometry.(orb.Point)
		if !ok {
			r.Other++
			continue
		}
		for _, q := range f.Properties {
			v, ok := q.Float()
			if !ok {
				continue
			}
			if of := r.field(q.Name, len(r.Places)); len(of.Values) == len(r.Places) {
				of.Values = append(of.Values, v)
			}
		}
		r.Places = append(r.Places, p)
		r.level()
		if len(r.Places) > mostReadings {
			return nil, errManyReadings
		}
	}
}

// field finds a column by its name, filled up to n.
func (r *Readings) field(name string, n int) *ReadingField {
	k := slices.IndexFunc(r.Fields, func(f ReadingField) bool { return f.Name == name })
	if k < 0 {
		k = len(r.Fields)
		r.Fields = append(r.Fields, ReadingField{Name: name})
	}
	r.Fields[k].fill(n)
	return &r.Fields[k]
}

func (f *ReadingField) fill(n int) {
	for len(f.Values) < n {
		f.Values = append(f.Values, math.NaN())
	}
}

// level gives every column a value, or none, for every place.
func (r *Readings) level() {
	for k := range r.Fields {
		r.Fields[k].fill(len(r.Places))
	}
}

// CompareApplied compares the rates with what was applied: the numbers of a field
// of the readings, in unit; where that is empty in the log's own, else in that of the rates. Errors wrap
// ErrRates.
func (r *Rated) CompareApplied(log *Readings, field string, unit rate.Unit) (*rate.Work, error) {
	if r.Rates == nil {
		return nil, fmt.Errorf("%w: these zones have no rates to compare with", ErrRates)
	}
	k := slices.IndexFunc(log.Fields, func(f ReadingField) bool { return f.Name == field })
	if k < 0 {
		return nil, fmt.Errorf("%w: value: the readings have no number called %.40q; they have %s", ErrRates, field, strings.Join(log.Names(), ", "))
	}
	if unit == "" {
		unit = log.Fields[k].Unit
	}
	fr := frame.New(orb.Point(r.Stand.Ground.Origin))
	points := make([]rate.Applied, len(log.Places))
	for i, at := range log.Places {
		v := log.Fields[k].Values[i]
		if unit != "" && v == v {
			var err error
			if v, err = rate.Convert(v, unit, r.Rates.Unit, r.Rates.Spacing); err != nil {
				return nil, ratesFault(err)
			}
		}
		x, y := fr.Forward(at)
		points[i] = rate.Applied{XY: rate.XY{X: x, Y: y}, Value: v}
	}
	out, err := r.Zones.Compare(r.Rates, points)
	if err != nil {
		return nil, ratesFault(err)
	}
	if log.Other > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("Left out of the file because they are not points: %d.", log.Other))
	}
	if log.NoPlace > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("Left out of the log because the machine had no position there: %d.", log.NoPlace))
	}
	return out, nil
}

// Names gives the names of the fields.
func (r *Readings) Names() (out []string) {
	for _, f := range r.Fields {
		out = append(out, f.Name)
	}
	return out
}
