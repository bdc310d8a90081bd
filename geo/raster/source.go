package raster

import (
	"fmt"
	"math"
)

// Index is what is worked out of the bands, pixel by pixel.
type Index int

// The indices.
const (
	Plain Index = iota // the band itself
	NDVI               // (near infrared - red) / (near infrared + red), -1 to 1
	Ratio              // near infrared / red (Dobrowski et al., Aust. J. Grape Wine Res., 2003)
)

// Source is the quantity that is sampled: a band, or an index of two.
type Source struct {
	Index Index
	Band  Pick // the band itself; near infrared of an index
	Red   Pick // of an index
}

// NDVIOf is the normalised difference vegetation index of two reflectances, NaN
// where it has none.
func NDVIOf(nir, red float64) float64 { return finite((nir - red) / (nir + red)) }

// RatioOf is the ratio index of two reflectances, NaN where it has none.
func RatioOf(nir, red float64) float64 { return finite(nir / red) }

func finite(v float64) float64 {
	if math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

// ReadSource reads a window of a quantity as Read does of a band. The Range of
// its near infrared band holds for that band, not for the index.
func (rd *Reader) ReadSource(s Source, w Window, dst []float64) error {
	if err := rd.Read(s.Band, w, dst); err != nil || s.Index == Plain {
		return err
	}
	of := NDVIOf
	switch s.Index {
	case NDVI:
	case Ratio:
		of = RatioOf
	default:
		return &Fault{What: "there is no such index", Found: fmt.Sprint(int(s.Index))}
	}
	red := make([]float64, len(dst))
	if err := rd.Read(s.Red, w, red); err != nil {
		return err
	}
	for i, nir := range dst {
		dst[i] = of(nir, red[i])
	}
	return nil
}

// check refuses a quantity that the image cannot give.
func (s Source) check(r *Raster) error {
	n, err := r.band(s.Band)
	if err != nil {
		return err
	}
	if s.Index == Plain {
		return nil
	}
	red, err := r.band(s.Red)
	if err != nil {
		return err
	}
	if n == red {
		return &Fault{What: "near infrared and red are one band", Found: fmt.Sprintf("band %d for both", n), Wanted: "the number of each"}
	}
	return nil
}
