package raster

import (
	"bytes"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// world is larger than any image.
var world = orb.Bound{Min: orb.Point{-179, -80}, Max: orb.Point{179, 80}}

// kept makes a picture of an image and a way to its parts, each packed and
// unpacked as on its way through a store.
func kept(t testing.TB, name string, area orb.Bound, most int) (*Picture, *Reader, func(level, column, line int) ([]uint16, error)) {
	t.Helper()
	rd := open(t, "../../testdata/raster/"+name).NewReader(0)
	parts := map[[3]int][]uint16{}
	p, err := rd.Picture(Source{}, area, most, func(part Part) error {
		packed, err := part.Pack()
		require.NoError(t, err)
		back, err := UnpackPart(packed, part.Width, part.Height)
		require.NoError(t, err)
		require.Equal(t, part.Stored, back)
		parts[[3]int{part.Level, part.Column, part.Line}] = back
		return nil
	})
	require.NoError(t, err)
	require.NoError(t, p.Check())
	return p, rd, func(level, column, line int) ([]uint16, error) { return parts[[3]int{level, column, line}], nil }
}

// around gives an even net of longitudes and latitudes over a picture.
func around(p *Picture, n int) (lons, lats []float64) {
	for i := range n {
		f := (float64(i) + 0.5) / float64(n)
		lons = append(lons, p.Bounds[0]+f*(p.Bounds[2]-p.Bounds[0]))
		lats = append(lats, p.Bounds[3]-f*(p.Bounds[3]-p.Bounds[1]))
	}
	return lons, lats
}

// Near, every pixel of the map has the value of the image's pixel that it lies in,
// which Value gives and TestValue_GDAL compares with gdallocationinfo. Places are
// taken along straight lines between knots, so next to an edge of pixels the
// neighbour may come out; hardly one in a thousand does.
func TestPicture_Near(t *testing.T) {
	for _, name := range []string{"ndvi_float32_32755.tif", "ndvi_uint16_4326.tif", "ndvi_byte_cog_2154.tif", "o51_rotated.tif"} {
		p, rd, part := kept(t, name, world, 1e6)
		assert.Equal(t, 1, p.Coarser)
		lons, lats := around(p, 400)
		got, err := p.OnMap(lons, lats, part)
		require.NoError(t, err)
		step := (p.Most - p.Least) / steps
		others, none := 0, 0
		for y, lat := range lats {
			for x, lon := range lons {
				want, err := rd.Value(Source{}, orb.Point{lon, lat})
				require.NoError(t, err)
				v := got[y*len(lons)+x]
				switch {
				case math.IsNaN(want) && math.IsNaN(v):
					none++
				case math.IsNaN(want) != math.IsNaN(v) || math.Abs(v-want) > step/2+1e-6:
					others++
				}
			}
		}
		assert.Less(t, others, len(got)/1000+1, name)
		assert.Less(t, none, len(got)*9/10, "%s has values", name)
	}
}

// Level 0 has the mean of the image by GDAL 3.6.2 (testdata/raster/README.md), and
// each level the mean of the one before where all pixels have a value.
func TestPicture_Levels(t *testing.T) {
	mean := func(p *Picture, v []uint16) float64 {
		n, sum := 0, 0.0
		for _, s := range v {
			if s != 0 {
				n, sum = n+1, sum+p.Value(s)
			}
		}
		return sum / float64(n)
	}
	p, _, part := kept(t, "ndvi_float32_32755.tif", world, 1e6)
	all, err := part(0, 0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.467021126123, mean(p, all), 1e-6)
	assert.Equal(t, 1, p.Levels, "60 x 50 pixels need no other")

	r := bigPicture(t)
	require.NoError(t, err)
	levels := map[int]int{}
	var last Part
	q, err := r.NewReader(0).Picture(Source{}, world, 1e7, func(part Part) error {
		levels[part.Level]++
		last = part
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, map[int]int{0: 9, 1: 4, 2: 1}, levels, "1,200 x 1,100, 600 x 550 and 300 x 275 pixels in parts of 512")
	assert.Equal(t, 3, q.Levels)
	assert.InDelta(t, 99.5, mean(q, last.Stored), 0.01, "of 0 to 199 in turn along the lines")
	w, h := q.Size(2)
	assert.Equal(t, [2]int{300, 275}, [2]int{w, h})
}

// Of too many pixels, means of k x k are kept, and the picture says so; only what
// lies over the area is.
func TestPicture_Coarser(t *testing.T) {
	r := bigPicture(t)
	var first Part
	q, err := r.NewReader(0).Picture(Source{}, world, 100_000, func(part Part) error {
		if part.Level == 0 {
			first = part
		}
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, 4, q.Coarser)
	assert.Equal(t, [2]int{300, 275}, [2]int{q.Width, q.Height})
	assert.InDelta(t, 1.5, q.Value(first.Stored[0]), 0.01, "mean of 0 to 3")
	assert.InDelta(t, 1, q.PixelM[0], 0.01, "the image's own pixel is still told")

	whole, _, _ := kept(t, "ndvi_float32_32755.tif", world, 1e6)
	west := orb.Bound{Min: orb.Point{whole.Bounds[0], whole.Bounds[1]}, Max: orb.Point{(whole.Bounds[0] + whole.Bounds[2]) / 2, whole.Bounds[3]}}
	part, rd, _ := kept(t, "ndvi_float32_32755.tif", west, 1e6)
	assert.InDelta(t, 31, part.Width, 1)
	_, err = rd.Picture(Source{}, orb.Bound{Min: orb.Point{10, 40}, Max: orb.Point{10.1, 40.1}}, 1e6, nil)
	assert.ErrorContains(t, err, "beside all blocks")
}

// bigPicture is an image of 1,200 x 1,100 pixels of 1 m with 0 to 199 in turn.
func bigPicture(t *testing.T) *Raster {
	t.Helper()
	raw := picture(t, 1200, 1100, 1, func(x, _ int) byte { return byte(x % 200) })
	r, err := Open(bytes.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	return r
}

// Damaged parts are refused, whatever their bytes.
func FuzzUnpackPart(f *testing.F) {
	packed, err := (&Part{Width: 2, Height: 2, Stored: []uint16{1, 2, 0, 65535}}).Pack()
	require.NoError(f, err)
	f.Add(packed, 2, 2)
	f.Add(packed[:3], 2, 2)
	f.Add(packed, 600, 2)
	f.Fuzz(func(t *testing.T, packed []byte, w, h int) {
		if got, err := UnpackPart(packed, w, h); err == nil {
			assert.Len(t, got, w*h)
		}
	})
}
