package raster

import (
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// knots is how many pixels of a map share one exact place; between them places are
// taken along straight lines, which on a map tile of a few kilometres are off by
// less than a thousandth of a pixel.
const knots = 16

// OnMap gives the value at the middle of every pixel of a map whose columns have
// these longitudes and whose lines these latitudes (degrees, as many as there are pixels), line by line, NaN
// where there is none. A map pixel takes the one pixel of the image that its middle
// lies in, of the level whose pixels are just below its own in size: near, the image's pixels show
// as the squares that they are; far out, their means. part gives the numbers of a
// part of a level.
func (p *Picture) OnMap(lons, lats []float64, part func(level, column, line int) ([]uint16, error)) ([]float64, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	crs, err := frame.EPSG(p.EPSG)
	if err != nil {
		return nil, &Fault{What: err.Error(), Cause: ErrNoCRS}
	}
	x, _ := p.Lie.Place(float64(p.Width)/2, float64(p.Height)/2)
	m := mapped{Picture: p, t: locator{crs, p.Lie, x}, part: part}
	m.look(lons, lats)
	out := make([]float64, len(lons)*len(lats))
	for y0 := 0; y0 < len(lats); y0 += knots {
		for x0 := 0; x0 < len(lons); x0 += knots {
			if err := m.patch(lons, lats, x0, y0, out); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}

// mapped is a picture while it is drawn.
type mapped struct {
	*Picture
	t     locator
	part  func(level, column, line int) ([]uint16, error)
	level int
	w, h  int // of the level

	column, line int // of the part in hand
	width        int
	stored       []uint16
}

// look chooses the level by how many pixels of the image lie along a pixel in the
// middle of the map.
func (m *mapped) look(lons, lats []float64) {
	if i, j := len(lons)/2, len(lats)/2; i > 0 && j > 0 {
		a := m.t.lonLat(orb.Point{lons[i-1], lats[j-1]})
		b := m.t.lonLat(orb.Point{lons[i], lats[j]})
		ratio := math.Hypot(b.x-a.x, b.y-a.y) / math.Sqrt2
		for ratio >= 2 && m.level < m.Levels-1 {
			ratio, m.level = ratio/2, m.level+1
		}
	}
	m.w, m.h = m.Size(m.level)
}

// patch fills up to knots x knots pixels of the map.
func (m *mapped) patch(lons, lats []float64, x0, y0 int, out []float64) error {
	x1, y1 := min(x0+knots, len(lons))-1, min(y0+knots, len(lats))-1
	at := func(x, y int) spot { return m.t.lonLat(orb.Point{lons[x], lats[y]}) }
	nw, ne, sw, se := at(x0, y0), at(x1, y0), at(x0, y1), at(x1, y1)
	small := math.Ldexp(1, -m.level)
	for y := y0; y <= y1; y++ {
		v := share(y-y0, y1-y0)
		l, r := between(nw, sw, v), between(ne, se, v)
		for x := x0; x <= x1; x++ {
			s := between(l, r, share(x-x0, x1-x0))
			n, err := m.pixel(s.x*small, s.y*small)
			if err != nil {
				return err
			}
			out[y*len(lons)+x] = m.Value(n)
		}
	}
	return nil
}

func share(i, n int) float64 {
	if n == 0 {
		return 0
	}
	return float64(i) / float64(n)
}

func between(a, b spot, f float64) spot { return spot{a.x + (b.x-a.x)*f, a.y + (b.y-a.y)*f} }

// pixel gives the stored number of a place of the level, 0 beside it.
func (m *mapped) pixel(x, y float64) (uint16, error) {
	if !(x >= 0 && y >= 0 && x < float64(m.w) && y < float64(m.h)) {
		return 0, nil
	}
	c, l := int(x), int(y)
	if m.stored == nil || c/PartSide != m.column || l/PartSide != m.line {
		m.column, m.line = c/PartSide, l/PartSide
		m.width = min(PartSide, m.w-m.column*PartSide)
		var err error
		if m.stored, err = m.part(m.level, m.column, m.line); err != nil {
			return 0, err
		}
	}
	i := (l-m.line*PartSide)*m.width + c - m.column*PartSide
	if i >= len(m.stored) {
		return 0, &Fault{What: "a part of a picture is too short", Wanted: "the image taken in again", Cause: ErrDamaged}
	}
	return m.stored[i], nil
}
