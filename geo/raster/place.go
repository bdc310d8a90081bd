package raster

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"courson/geo/frame"
)

// Affine places pixels in a coordinate system: the corner of pixel (column,
// line) lies at x = X0 + column x XC + line x XL, y = Y0 + column x YC + line x
// YL; whole numbers are corners, halves are middles.
type Affine struct{ X0, XC, XL, Y0, YC, YL float64 }

// Place gives where a place of the image lies.
func (a Affine) Place(column, line float64) (x, y float64) {
	return a.X0 + column*a.XC + line*a.XL, a.Y0 + column*a.YC + line*a.YL
}

// Pixel gives the place of the image, in columns and lines, where x and y lie.
func (a Affine) Pixel(x, y float64) (column, line float64) {
	x, y = x-a.X0, y-a.Y0
	d := a.XC*a.YL - a.XL*a.YC
	return (x*a.YL - y*a.XL) / d, (y*a.XC - x*a.YC) / d
}

func (a Affine) sound() bool {
	d := a.XC*a.YL - a.XL*a.YC
	sum := a.X0 + a.XC + a.XL + a.Y0 + a.YC + a.YL
	return d != 0 && !math.IsNaN(d+sum) && !math.IsInf(d, 0) && !math.IsInf(sum, 0)
}

// ErrNoPlace says that a file does not tell where its pixels lie.
var ErrNoPlace = errors.New("no place")

// ErrNoCRS says that the coordinate system is missing or cannot be used.
var ErrNoCRS = errors.New("no coordinate system")

// readLie reads the place of the pixels (OGC 19-008r4, sections 7.1.2 and
// 7.1.3): a scale and one tie point, or a matrix. Where a pixel's number means its
// middle (PixelIsPoint), the corner is half a pixel before.
func readLie(p *parser, d directory) (Affine, error) {
	var a Affine
	scale, tie, m := p.doubles(d[tagPixelScale]), p.doubles(d[tagTiepoint]), p.doubles(d[tagTransformation])
	switch {
	case len(m) >= 16:
		a = Affine{X0: m[3], XC: m[0], XL: m[1], Y0: m[7], YC: m[4], YL: m[5]}
	case len(scale) >= 2 && len(tie) >= 6:
		if !(scale[0] != 0 && scale[1] > 0) {
			return a, &Fault{What: "the size of a pixel is not above 0", Found: fmt.Sprintf("%v x %v", scale[0], scale[1]), Wanted: "the image written again with its place, for example gdal_translate", Cause: ErrNoPlace}
		}
		a = Affine{XC: scale[0], YL: -scale[1]}
		a.X0, a.Y0 = tie[3]-tie[0]*scale[0], tie[4]+tie[1]*scale[1]
	case len(tie) >= 12:
		return a, &Fault{What: "the image has control points but is not straightened", Found: fmt.Sprintf("%d points", len(tie)/6), Wanted: "an image straightened to a map, for example gdalwarp -t_srs EPSG:n", Cause: ErrNoPlace}
	default:
		return a, &Fault{What: "the image does not say where it lies", Wanted: "a GeoTIFF with pixel scale and tie point or a matrix (a world file beside it is not read): gdal_translate writes it into the image", Cause: ErrNoPlace}
	}
	if k, _ := readKeys(p, d); k.raster == 2 {
		a.X0, a.Y0 = a.Place(-0.5, -0.5)
	}
	if !a.sound() {
		return a, &Fault{What: "the place of the pixels is not a place", Found: fmt.Sprintf("%v", a), Wanted: "finite numbers, and pixels that have an area", Cause: ErrNoPlace}
	}
	return a, nil
}

// keys are the GeoKeys that we read, 0 where they are missing.
type keys struct {
	model, raster, geographic, projected, unit int
}

const userDefined = 32767

// readKeys reads the directory of keys (OGC 19-008r4, section 7.1.1).
func readKeys(p *parser, d directory) (k keys, present bool) {
	v := p.numbers(d[tagGeoKeys])
	if len(v) < 4 {
		return k, false
	}
	for v = v[4:]; len(v) >= 4; v = v[4:] {
		if v[1] != 0 { // its value stands elsewhere: a text or decimals
			continue
		}
		switch n := int(v[3]); v[0] {
		case 1024:
			k.model = n
		case 1025:
			k.raster = n
		case 2048:
			k.geographic = n
		case 3072:
			k.projected = n
		case 3076:
			k.unit = n
		}
	}
	return k, true
}

// readCRS finds the coordinate system.
func readCRS(p *parser, d directory) (frame.CRS, error) {
	k, present := readKeys(p, d)
	code := k.projected
	if k.model == 2 {
		code = k.geographic
	}
	fault := func(what, found string) (frame.CRS, error) {
		return frame.CRS{}, &Fault{What: what, Found: found, Cause: ErrNoCRS,
			Wanted: "the EPSG code stated on import, or the image brought to a known system, for example gdalwarp -t_srs EPSG:4326"}
	}
	switch {
	case !present || k.model == 0 && code == 0 && k.geographic == 0:
		return fault("the image does not name its coordinate system", "")
	case k.model == 3:
		return fault("the image is in coordinates from the centre of the Earth", "")
	case k.model != 1 && k.model != 2:
		return fault("the image does not say whether its coordinates are degrees or lengths", "model type "+strconv.Itoa(k.model))
	case code == 0:
		return fault("the image does not name its coordinate system", "")
	case code == userDefined:
		return fault("the image describes a coordinate system of its own", "user-defined")
	}
	c, err := frame.EPSG(code)
	if err != nil {
		return frame.CRS{}, &Fault{What: err.Error(), Found: "EPSG:" + strconv.Itoa(code), Cause: ErrNoCRS,
			Wanted: "a supported system, for example gdalwarp -t_srs EPSG:4326"}
	}
	if c.Geographic() != (k.model == 2) {
		return fault("degrees and lengths are mixed up in the keys of the image", fmt.Sprintf("model type %d with EPSG:%d", k.model, code))
	}
	units := map[int]float64{9001: 1, 9002: frame.Foot, 9003: frame.USSurveyFoot}
	if u, known := units[k.unit]; known && !c.Geographic() && u != c.UnitM {
		return fault("the unit of the image is not that of its coordinate system", fmt.Sprintf("unit %d with EPSG:%d (%s)", k.unit, code, c.Unit))
	}
	return c, nil
}
