package raster

import (
	"math"

	"github.com/paulmach/orb"
)

// Value gives the value of the pixel in which a place in degrees (WGS 84) lies,
// NaN where it has none or the place is outside the image.
func (rd *Reader) Value(s Source, p orb.Point) (float64, error) {
	t, err := rd.r.locator()
	if err != nil {
		return 0, err
	}
	return rd.pixel(s, t.lonLat(p))
}

// ValueXY is Value for a place in the coordinates of the image itself. A place on
// the border of pixels belongs to the pixel with the higher column and line.
func (rd *Reader) ValueXY(s Source, x, y float64) (float64, error) {
	if rd.r.lieErr != nil {
		return 0, rd.r.lieErr
	}
	c, l := rd.r.lie.Pixel(x, y)
	return rd.pixel(s, spot{c, l})
}

func (rd *Reader) pixel(s Source, p spot) (float64, error) {
	if err := s.check(rd.r); err != nil {
		return 0, err
	}
	if !(p.x >= 0 && p.y >= 0 && p.x < float64(rd.r.Width) && p.y < float64(rd.r.Height)) {
		return math.NaN(), nil
	}
	var v [1]float64
	err := rd.ReadSource(s, Window{int(p.x), int(p.y), 1, 1}, v[:])
	return v[0], err
}
