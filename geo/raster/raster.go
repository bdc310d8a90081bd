// Package raster reads GeoTIFF images (OGC 19-008r4, on TIFF 6.0 and its 64-bit
// form) and gives the value of every vine: the mean over the pixels under its
// strip of ground along the row, weighted by the area that each pixel shares
// with it.
//
// A Raster knows the shape, the bands and the lie of an image; nothing of the
// picture itself is held. A Reader reads windows of it through a bounded cache
// of strips or tiles, so that an image of 10,000 x 10,000 pixels never stands in
// memory whole.
//
// Nothing is guessed: an image without a coordinate system, or with one that
// describes itself, gives an error that says what to state; values that look
// like "no value" or like a scaled index are asked about (Questions).
package raster

import (
	"fmt"
	"io"
	"math"

	"courson/geo/frame"
)

// Raster is an opened image. It is not changed after Open and may be used by
// many readers at once.
type Raster struct {
	Width, Height int
	Bands         []Band
	Type          string // of the stored numbers: "uint8", "int16", "float32" …
	DateTime      string // as written in the file, "" where it is not
	Notices       []string

	image    *image
	mask     *image // nil: none
	alpha    int    // band that tells where the image is, from 1; 0: none
	lie      Affine
	lieErr   error
	crs      frame.CRS
	crsErr   error
	declared bool // the file itself names crs
}

// Band is what the file says of one band: value = stored x Scale + Offset.
type Band struct {
	Name      string
	Scale     float64 // 1 where the file says nothing
	Offset    float64
	Scaled    bool // scale or offset stand in the file
	NoData    float64
	HasNoData bool // NoData stands in the file; it may be NaN
}

// Limits bound what a file may claim. Zero fields mean the defaults.
type Limits struct {
	Pixels     int64 // width x height; 2,000 million
	Bands      int   // 500
	ChunkBytes int64 // of one strip or tile once unpacked; 256 MB
	Ratio      int64 // unpacked to packed bytes of one strip or tile; 4,000
	Entries    int64 // bytes of one entry of a directory, such as the list of tiles; 64 MB
}

func (l Limits) withDefaults() Limits {
	set := func(v *int64, d int64) {
		if *v <= 0 {
			*v = d
		}
	}
	set(&l.Pixels, 2_000_000_000)
	set(&l.ChunkBytes, 256<<20)
	set(&l.Ratio, 4000)
	set(&l.Entries, 64<<20)
	if l.Bands <= 0 {
		l.Bands = 500
	}
	return l
}

// Open reads the directory of an image of size bytes with the default limits.
// The error is a *Fault. A missing place or coordinate system is no error yet:
// Affine and CRS tell.
func Open(src io.ReaderAt, size int64) (*Raster, error) { return OpenLimited(src, size, Limits{}) }

// OpenLimited is Open with other limits.
func OpenLimited(src io.ReaderAt, size int64, l Limits) (*Raster, error) {
	l = l.withDefaults()
	p, err := newParser(src, size, l)
	if err != nil {
		return nil, err
	}
	main, mask, err := p.pictures()
	if err != nil {
		return nil, err
	}
	r := &Raster{}
	if r.image, err = p.image(main, l); err != nil {
		return nil, err
	}
	if r.image.bits == 1 {
		return nil, &Fault{What: "one bit a pixel is a mask, not an image", Wanted: "whole or decimal numbers of 8 to 64 bits"}
	}
	r.Width, r.Height, r.Type = r.image.width, r.image.height, r.image.typeName()
	if mask != nil {
		if r.mask, err = p.image(mask, l); err != nil {
			return nil, err
		}
		if r.mask.width != r.Width || r.mask.height != r.Height || r.mask.samples != 1 {
			return nil, &Fault{What: "the mask is of another size than the image", Found: fmt.Sprintf("%d x %d", r.mask.width, r.mask.height), Wanted: fmt.Sprintf("%d x %d, one band", r.Width, r.Height)}
		}
	}
	r.describe(p, main)
	r.lie, r.lieErr = readLie(p, main)
	r.crs, r.crsErr = readCRS(p, main)
	r.declared = r.crsErr == nil
	return r, nil
}

// describe takes up names, scales, no-data and transparency.
func (r *Raster) describe(p *parser, d directory) {
	r.Bands = make([]Band, r.image.samples)
	for i := range r.Bands {
		r.Bands[i].Scale = 1
	}
	r.DateTime = p.text(d[tagDateTime])
	r.readMetadata(p.text(d[tagGDALMetadata]))
	r.readNoData(p.text(d[tagGDALNoData]))
	extra := p.numbers(d[tagExtraSamples])
	for i, e := range extra {
		if e == 1 || e == 2 { // with or without colours multiplied by it
			r.alpha = r.image.samples - len(extra) + i + 1
			r.note("band %d tells where the image is; pixels with 0 there have no value", r.alpha)
		}
	}
	if r.mask != nil {
		r.note("the file has a mask; pixels outside it have no value")
	}
}

func (r *Raster) note(f string, args ...any) {
	r.Notices = append(r.Notices, fmt.Sprintf(f, args...))
}

// Affine gives where pixels lie in the coordinate system of the file.
func (r *Raster) Affine() (Affine, error) { return r.lie, r.lieErr }

// CRS gives the coordinate system that the file names or that WithCRS stated,
// or a *Fault that says what to do.
func (r *Raster) CRS() (frame.CRS, error) { return r.crs, r.crsErr }

// WithCRS gives the raster with the coordinate system that a person states for
// it. It refuses one that the file contradicts.
func (r *Raster) WithCRS(c frame.CRS) (*Raster, error) {
	if r.declared && r.crs.Code != c.Code {
		return nil, &Fault{What: "the file names another coordinate system than was stated",
			Found: fmt.Sprintf("EPSG:%d (%s)", r.crs.Code, r.crs.Name), Wanted: fmt.Sprintf("EPSG:%d, or nothing stated", c.Code)}
	}
	out := *r
	out.crs, out.crsErr = c, nil
	return &out, nil
}

// PixelM gives the length of a pixel's two sides on the ground, m, in the middle
// of the image: along its lines and along its columns.
func (r *Raster) PixelM() (along, down float64, err error) {
	if r.lieErr != nil {
		return 0, 0, r.lieErr
	}
	if r.crsErr != nil {
		return 0, 0, r.crsErr
	}
	c, l := float64(r.Width)/2, float64(r.Height)/2
	at := func(c, l float64) (f frame.XY, e error) {
		x, y := r.lie.Place(c, l)
		p, e := r.crs.ToWGS84(x, y)
		return frame.XY{X: p[0], Y: p[1]}, e
	}
	var ends [4]frame.XY
	for i, d := range [4][2]float64{{-0.5, 0}, {0.5, 0}, {0, -0.5}, {0, 0.5}} {
		if ends[i], err = at(c+d[0], l+d[1]); err != nil {
			return 0, 0, &Fault{What: "the middle of the image is no place in its coordinate system", Found: err.Error(), Wanted: "the coordinate system that the numbers belong to", Cause: err}
		}
	}
	dist := func(a, b frame.XY) float64 {
		return frame.WGS84.Distance([2]float64{a.X, a.Y}, [2]float64{b.X, b.Y})
	}
	return dist(ends[0], ends[1]), dist(ends[2], ends[3]), nil
}

// Fault is what is wrong with an image, and what to do.
type Fault struct {
	What   string
	Found  string // as it stands in the file
	Wanted string // what would be right, or what to do
	Cause  error  // a sentinel, or what lies below; nil mostly
}

// Error gives the whole in one line.
func (f *Fault) Error() string {
	s := "image: " + f.What
	if f.Found != "" {
		s += "; found " + f.Found
	}
	if f.Wanted != "" {
		s += "; wanted " + f.Wanted
	}
	return s
}

// Unwrap gives the cause.
func (f *Fault) Unwrap() error { return f.Cause }

// typeName names the stored numbers.
func (m *image) typeName() string {
	name := map[int]string{kindUint: "uint", kindInt: "int", kindFloat: "float"}[m.kind]
	return fmt.Sprintf("%s%d", name, m.bits)
}

// whole tells whether the stored numbers are whole, and their range.
func (m *image) whole() (least, most float64, ok bool) {
	switch m.kind {
	case kindUint:
		return 0, math.Ldexp(1, m.bits) - 1, true
	case kindInt:
		return -math.Ldexp(1, m.bits-1), math.Ldexp(1, m.bits-1) - 1, true
	}
	return 0, 0, false
}
