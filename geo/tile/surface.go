package tile

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strconv"
)

// SurfaceLimits is how many limits the classes of an image have: one less than
// classes.
const SurfaceLimits = 7

// surfaceInks go from dark to light in even steps of lightness, for eyes that do
// not tell colours apart too: eight samples of the colour map viridis (van der
// Walt S., Smith N., 2015, CC0), the same on either ground.
var surfaceInks = [SurfaceLimits + 1]string{"#440154", "#46327e", "#365c8d", "#277f8e", "#1fa187", "#4ac16d", "#a0da39", "#fde725"}

// SurfaceLegend gives the classes of an image: below the first limit, from one
// limit to the next, and from the last up.
func SurfaceLegend(title, unit string, limits [SurfaceLimits]float64) Legend {
	l := Legend{Title: title, Unit: unit}
	for k, ink := range surfaceInks {
		c := Class{Key: "class_" + strconv.Itoa(k+1), Label: strconv.Itoa(k + 1), Code: uint8(k + 1), Light: ink, Dark: ink, Symbol: SymbolDisc, Line: "solid"}
		if k > 0 {
			from := limits[k-1]
			c.From = &from
		}
		if k < len(limits) {
			to := limits[k]
			c.To = &to
		}
		l.Classes = append(l.Classes, c)
	}
	return l
}

// EvenLimits gives limits in even steps for values of which most lie between two
// numbers: each step is 1, 2 or 5 times a power of ten, so that limits are numbers
// that people read.
func EvenLimits(low, high float64) (out [SurfaceLimits]float64) {
	step := max((high-low)/(SurfaceLimits-1), math.Abs(low)*1e-6, math.Abs(high)*1e-6, 1e-9)
	power := math.Pow(10, math.Floor(math.Log10(step)))
	for _, f := range [...]float64{1, 2, 5, 10} {
		if f*power >= step*(1-1e-9) {
			step = f * power
			break
		}
	}
	first := math.Round((low+high)/2/step) - (SurfaceLimits-1)/2
	for k := range out {
		out[k], _ = strconv.ParseFloat(strconv.FormatFloat((first+float64(k))*step, 'g', 12, 64), 64) // 0.3, not 0.30000000000000004
	}
	return out
}

// SurfaceClass gives the position of the class of a value, from 0.
func SurfaceClass(limits [SurfaceLimits]float64, v float64) int {
	k := 0
	for k < len(limits) && v >= limits[k] {
		k++
	}
	return k
}

// Surface draws values, side x side from the north-west corner, line by line, in
// the colours of their classes; NaN stays clear. A picture with nothing on it is
// nil.
func Surface(side int, values []float64, limits [SurfaceLimits]float64) ([]byte, error) {
	if side < 1 || len(values) != side*side {
		return nil, fmt.Errorf("%w: %d values for a side of %d", ErrPicture, len(values), side)
	}
	palette := color.Palette{color.NRGBA{}}
	for _, hex := range surfaceInks {
		c, err := parseColour(hex)
		if err != nil {
			return nil, err
		}
		palette = append(palette, c)
	}
	img, drawn := image.NewPaletted(image.Rect(0, 0, side, side), palette), false
	for i, v := range values {
		if v == v {
			img.Pix[i], drawn = uint8(1+SurfaceClass(limits, v)), true
		}
	}
	if !drawn {
		return nil, nil
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	err := enc.Encode(&out, img)
	return out.Bytes(), err
}

// Pixels gives the longitudes of the middles of the columns of a picture of a tile,
// side pixels wide, and the latitudes of those of its lines, degrees.
func (t Tile) Pixels(side int) (lons, lats []float64) {
	n := math.Exp2(float64(t.Z)) * float64(side)
	for i := range side {
		x, y := (float64(t.X)*float64(side)+float64(i)+0.5)/n, (float64(t.Y)*float64(side)+float64(i)+0.5)/n
		lons = append(lons, x*360-180)
		lats = append(lats, math.Atan(math.Sinh(math.Pi*(1-2*y)))*180/math.Pi)
	}
	return lons, lats
}
