package raster

import (
	"cmp"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Picture is a quantity of an image as it is kept to be drawn: cut to the ground
// that counts, on the image's own pixels, and in levels of which each has half the
// columns and lines of the one before. The numbers stand in parts of PartSide x
// PartSide pixels, as steps of the range: 0 is no value, n is Least + (n - 1) x
// (Most - Least) / 65534.
type Picture struct {
	EPSG    int        `json:"epsg"`
	Lie     Affine     `json:"lie"` // of level 0
	Width   int        `json:"width"`
	Height  int        `json:"height"`
	Levels  int        `json:"levels"`
	Least   float64    `json:"least"`
	Most    float64    `json:"most"`
	PixelM  [2]float64 `json:"pixel_m"` // sides of a pixel of the image on the ground, m
	Coarser int        `json:"coarser"` // pixels of the image along a side of one of level 0; 1: as they are
	Bounds  [4]float64 `json:"bounds"`  // west, south, east, north, degrees
}

// PartSide is the side of a part of a picture, pixels. Parts at the right and
// lower edge are smaller.
const PartSide = 512

// Part is one part of a level.
type Part struct {
	Level, Column, Line int // counted in parts from the upper left
	Width, Height       int // pixels
	Stored              []uint16
}

// steps are how many a picture's range has.
const steps = math.MaxUint16 - 1

// Picture reads a quantity of the image within an area (degrees) for keeping. Of
// more pixels than most, the mean of 2 x 2, 3 x 3 … becomes one. do gets every part
// once. Errors: *Fault, of an area beside the image or without a value, and those of do.
func (rd *Reader) Picture(s Source, area orb.Bound, most int, do func(Part) error) (*Picture, error) {
	win, err := rd.over(s, area)
	if err != nil {
		return nil, err
	}
	k := 1
	for (win.Columns/k)*(win.Lines/k) > most {
		k++
	}
	p := &Picture{EPSG: rd.r.crs.Code, Width: (win.Columns + k - 1) / k, Height: (win.Lines + k - 1) / k, Coarser: k}
	if p.PixelM[0], p.PixelM[1], err = rd.r.PixelM(); err != nil {
		return nil, err
	}
	p.Lie = rd.r.lie.from(win.Column, win.Line, k)
	values, err := rd.coarse(s, win, k, p)
	if err != nil {
		return nil, err
	}
	if !(p.Least <= p.Most) {
		return nil, &Fault{What: "no pixel over the blocks has a value", Wanted: "an image of this ground"}
	}
	b, err := boundsOf(rd.r.crs, p.Lie, p.Width, p.Height)
	if err != nil {
		return nil, err
	}
	p.Bounds = [4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
	return p, p.each(values, do)
}

// over gives the pixels within an area.
func (rd *Reader) over(s Source, area orb.Bound) (Window, error) {
	t, err := rd.r.locator()
	if err != nil {
		return Window{}, err
	}
	if err := s.check(rd.r); err != nil {
		return Window{}, err
	}
	beside := &Fault{What: "the image lies beside all blocks", Wanted: "an image of this ground, or its coordinate system stated"}
	image, err := boundsOf(rd.r.crs, rd.r.lie, rd.r.Width, rd.r.Height)
	if err != nil || !image.Intersects(area) {
		return Window{}, cmp.Or(err, error(beside))
	}
	area = orb.Bound{Min: orb.Point{max(area.Min[0], image.Min[0]), max(area.Min[1], image.Min[1])}, Max: orb.Point{min(area.Max[0], image.Max[0]), min(area.Max[1], image.Max[1])}}
	var ring []spot
	for _, c := range area.ToRing() {
		ring = append(ring, t.lonLat(c))
	}
	win, ok := bounds(rd.r.Width, rd.r.Height, ring)
	if !ok {
		return win, beside
	}
	return win, nil
}

// from gives the lie of pixels that begin at a column and line and are k wide.
func (a Affine) from(column, line, k int) Affine {
	x, y := a.Place(float64(column), float64(line))
	f := float64(k)
	return Affine{X0: x, XC: a.XC * f, XL: a.XL * f, Y0: y, YC: a.YC * f, YL: a.YL * f}
}

// coarse reads a window as means of k x k pixels, and its range.
func (rd *Reader) coarse(s Source, win Window, k int, p *Picture) ([]float32, error) {
	p.Least, p.Most = math.Inf(1), math.Inf(-1)
	out := make([]float32, p.Width*p.Height)
	lines := max(1, mostPixels/win.Columns/k) * k
	buf := make([]float64, win.Columns*lines)
	for y := 0; y < win.Lines; y += lines {
		w := Window{win.Column, win.Line + y, win.Columns, min(lines, win.Lines-y)}
		v := buf[:w.Columns*w.Lines]
		if err := rd.ReadSource(s, w, v); err != nil {
			return nil, err
		}
		for at := 0; at < w.Lines; at += k {
			for c := range p.Width {
				m := meanOf(v, w, c*k, at, k)
				out[(y+at)/k*p.Width+c] = float32(m)
				if m == m {
					p.Least, p.Most = min(p.Least, m), max(p.Most, m)
				}
			}
		}
	}
	return out, nil
}

// meanOf gives the mean of k x k pixels of a window, NaN where none has a value.
func meanOf(v []float64, w Window, column, line, k int) float64 {
	if k == 1 {
		return v[line*w.Columns+column]
	}
	n, sum := 0, 0.0
	for y := line; y < min(line+k, w.Lines); y++ {
		for x := column; x < min(column+k, w.Columns); x++ {
			if one := v[y*w.Columns+x]; one == one {
				n, sum = n+1, sum+one
			}
		}
	}
	return sum / float64(n)
}

// boundsOf gives the box in degrees around the corners of pixels.
func boundsOf(c frame.CRS, lie Affine, w, h int) (orb.Bound, error) {
	out := orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}
	for _, at := range [4][2]int{{0, 0}, {w, 0}, {0, h}, {w, h}} {
		x, y := lie.Place(float64(at[0]), float64(at[1]))
		g, err := c.ToWGS84(x, y)
		if err != nil {
			return out, &Fault{What: "a corner of the image is no place in its coordinate system", Found: err.Error(), Cause: err}
		}
		out = out.Extend(g)
	}
	return out, nil
}

// each gives all parts of all levels.
func (p *Picture) each(values []float32, do func(Part) error) error {
	w, h := p.Width, p.Height
	for {
		for y := 0; y*PartSide < h; y++ {
			for x := 0; x*PartSide < w; x++ {
				if err := do(p.part(values, w, h, x, y)); err != nil {
					return err
				}
			}
		}
		p.Levels++
		if w <= PartSide && h <= PartSide {
			return nil
		}
		values, w, h = halved(values, w, h)
	}
}

func (p *Picture) part(values []float32, w, h, x, y int) Part {
	out := Part{Level: p.Levels, Column: x, Line: y, Width: min(PartSide, w-x*PartSide), Height: min(PartSide, h-y*PartSide)}
	out.Stored = make([]uint16, out.Width*out.Height)
	for line := range out.Height {
		from := values[(y*PartSide+line)*w+x*PartSide:]
		for c := range out.Width {
			out.Stored[line*out.Width+c] = p.stored(float64(from[c]))
		}
	}
	return out
}

func (p *Picture) stored(v float64) uint16 {
	switch {
	case v != v:
		return 0
	case p.Most == p.Least:
		return 1
	}
	return uint16(1 + math.Round((min(max(v, p.Least), p.Most)-p.Least)/(p.Most-p.Least)*steps))
}

// Value gives the value of a stored number, NaN for 0.
func (p *Picture) Value(n uint16) float64 {
	if n == 0 {
		return math.NaN()
	}
	return p.Least + float64(n-1)*(p.Most-p.Least)/steps
}

// halved gives the means of 2 x 2.
func halved(v []float32, w, h int) ([]float32, int, int) {
	w2, h2 := (w+1)/2, (h+1)/2
	out := make([]float32, w2*h2)
	for y := range h2 {
		for x := range w2 {
			n, sum := 0, float32(0)
			for _, at := range [4][2]int{{2 * x, 2 * y}, {2*x + 1, 2 * y}, {2 * x, 2*y + 1}, {2*x + 1, 2*y + 1}} {
				if at[0] < w && at[1] < h {
					if one := v[at[1]*w+at[0]]; one == one {
						n, sum = n+1, sum+one
					}
				}
			}
			out[y*w2+x] = sum / float32(n)
		}
	}
	return out, w2, h2
}

// Size gives the columns and lines of a level.
func (p *Picture) Size(level int) (w, h int) {
	w, h = p.Width, p.Height
	for range level {
		w, h = (w+1)/2, (h+1)/2
	}
	return w, h
}

// Check refuses a picture that makes no sense, as one damaged on its way may be.
func (p *Picture) Check() error {
	if !p.Lie.sound() || p.Width < 1 || p.Height < 1 || p.Levels < 1 || p.Levels > 32 || !(p.Least <= p.Most) || math.IsInf(p.Most-p.Least, 0) {
		return &Fault{What: "the picture of an image does not hold together", Found: fmt.Sprintf("%d x %d pixels, %d levels", p.Width, p.Height, p.Levels), Wanted: "the image taken in again"}
	}
	return nil
}
