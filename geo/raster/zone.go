package raster

import (
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Zone is what lies under an area: figures over its pixels, each weighted by
// the share of it that the area covers. Mean and the rest are NaN where no pixel
// has a value.
type Zone struct {
	Mean, SD    float64 // SD: of the pixels, divisor n
	Least, Most float64
	Pixels      int     // pixels with a value that are touched
	Weight      float64 // their covered shares added up
	NoData      float64 // share of the area within the image that has no value, 0 to 1
	Outside     float64 // share of the area that lies outside the image, 0 to 1
}

// zoneSum adds up what makes a Zone.
type zoneSum struct {
	n                       int
	w, wv, wvv, none, shift float64
	least, most             float64
}

func (s *zoneSum) add(v, w float64) {
	if w == 0 {
		return
	}
	if math.IsNaN(v) {
		s.none += w
		return
	}
	if s.n == 0 {
		s.shift, s.least, s.most = v, v, v
	}
	s.n++
	s.w += w
	s.wv += w * (v - s.shift)
	s.wvv += w * (v - s.shift) * (v - s.shift)
	s.least, s.most = min(s.least, v), max(s.most, v)
}

func (s *zoneSum) zone(pixels float64) Zone {
	z := Zone{Mean: math.NaN(), SD: math.NaN(), Least: math.NaN(), Most: math.NaN(), Pixels: s.n, Weight: s.w}
	if all := s.w + s.none; all > 0 {
		z.NoData = s.none / all
	}
	if pixels > 0 {
		z.Outside = min(max(1-(s.w+s.none)/pixels, 0), 1)
		if z.Outside < 1e-9 {
			z.Outside = 0
		}
	}
	if s.n > 0 {
		m := s.wv / s.w
		z.Mean, z.Least, z.Most = s.shift+m, s.least, s.most
		z.SD = math.Sqrt(max(0, s.wvv/s.w-m*m))
	}
	return z
}

// Zone gives the figures under an area in degrees (WGS 84, longitude first).
// Parts that overlap count once.
func (rd *Reader) Zone(s Source, area orb.MultiPolygon) (Zone, error) {
	t, err := rd.r.locator()
	if err != nil {
		return Zone{}, err
	}
	rings := make([][][]spot, len(area))
	for i, pg := range area {
		for _, ring := range pg {
			out := make([]spot, 0, len(ring))
			for _, p := range ring {
				out = append(out, t.lonLat(p))
			}
			rings[i] = append(rings[i], out)
		}
	}
	return rd.under(s, rings)
}

// ZoneXY is Zone for an area in the coordinates of the image itself.
func (rd *Reader) ZoneXY(s Source, area orb.MultiPolygon) (Zone, error) {
	if rd.r.lieErr != nil {
		return Zone{}, rd.r.lieErr
	}
	rings := make([][][]spot, len(area))
	for i, pg := range area {
		for _, ring := range pg {
			out := make([]spot, 0, len(ring))
			for _, p := range ring {
				c, l := rd.r.lie.Pixel(p[0], p[1])
				out = append(out, spot{c, l})
			}
			rings[i] = append(rings[i], out)
		}
	}
	return rd.under(s, rings)
}

// mostPixels is how many pixels are looked at in one go.
const mostPixels = 1 << 19

// under goes through the pixels under polygons, band of lines by band of lines.
func (rd *Reader) under(s Source, polygons [][][]spot) (Zone, error) {
	if err := s.check(rd.r); err != nil {
		return Zone{}, err
	}
	var all [][]spot
	var pixels float64
	for _, rings := range polygons {
		for i, r := range rings {
			all = append(all, r)
			if i == 0 {
				pixels += math.Abs(area(r))
			} else {
				pixels -= math.Abs(area(r))
			}
		}
	}
	if !near(all...) {
		return Zone{}, &Fault{What: "the area is no place in the coordinate system of the image", Wanted: "an area near the image"}
	}
	var sum zoneSum
	whole, ok := bounds(rd.r.Width, rd.r.Height, all...)
	var c cover
	for lines := max(1, mostPixels/max(1, whole.Columns)); ok && whole.Lines > 0; {
		w := whole
		w.Lines = min(w.Lines, lines)
		if err := rd.addBand(s, &c, w, polygons, &sum); err != nil {
			return Zone{}, err
		}
		whole.Line, whole.Lines = whole.Line+w.Lines, whole.Lines-w.Lines
	}
	return sum.zone(pixels), nil
}

func (rd *Reader) addBand(s Source, c *cover, w Window, polygons [][][]spot, sum *zoneSum) error {
	c.begin(w)
	for _, rings := range polygons {
		for i, r := range rings {
			sign := math.Copysign(1, area(r))
			if i > 0 {
				sign = -sign
			}
			c.ring(r, sign)
		}
	}
	v := make([]float64, w.Columns*w.Lines)
	if err := rd.ReadSource(s, w, v); err != nil {
		return err
	}
	for line := range w.Lines {
		for k, share := range c.shares(line) {
			sum.add(v[line*w.Columns+k], share)
		}
	}
	return nil
}

// locator brings places on the ground to places of the image.
type locator struct {
	crs    frame.CRS
	lie    Affine
	middle float64 // x of the middle of the image, for degrees
}

func (r *Raster) locator() (locator, error) {
	if r.lieErr != nil {
		return locator{}, r.lieErr
	}
	if r.crsErr != nil {
		return locator{}, r.crsErr
	}
	x, _ := r.lie.Place(float64(r.Width)/2, float64(r.Height)/2)
	return locator{r.crs, r.lie, x}, nil
}

// lonLat brings a place in degrees on WGS 84 to the image.
func (t locator) lonLat(p orb.Point) spot {
	x, y := t.crs.FromWGS84(p)
	if t.crs.Geographic() { // an image across 180° counts on
		x = t.middle + math.Remainder(x-t.middle, 360)
	}
	c, l := t.lie.Pixel(x, y)
	return spot{c, l}
}
