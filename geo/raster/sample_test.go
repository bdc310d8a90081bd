package raster

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
)

type place2 struct{ row, vine int }

// block gives the 168 places of block B1 of testdata/base.
func block(t testing.TB) (frame.Frame, []Cell, []place2) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/base/rows.geojson")
	require.NoError(t, err)
	var rows struct {
		Features []struct {
			Properties struct{ Row int }
			Geometry   struct{ Coordinates orb.LineString }
		}
	}
	require.NoError(t, json.Unmarshal(b, &rows))
	f := frame.New(rows.Features[0].Geometry.Coordinates[0])
	var cells []Cell
	var at []place2
	for _, r := range rows.Features {
		l := f.Line(r.Geometry.Coordinates)
		for v := range 21 {
			p, az := l.At(float64(v) * 1.1)
			cells = append(cells, Cell{p, az, 1.8, 1.1})
			at = append(at, place2{r.Properties.Row, v + 1})
		}
	}
	require.Len(t, cells, 168)
	return f, cells, at
}

// weak tells the patch of the scene, and hole the places without a value, as
// the cases state them.
func (p place2) weak() bool { return p.row >= 4 && p.row <= 6 && p.vine >= 8 && p.vine <= 14 }
func (p place2) hole() bool { return p.row <= 2 && p.vine <= 3 }

func strip(t testing.TB, name string, s Source) *Samples {
	t.Helper()
	f, cells, _ := block(t)
	out, err := open(t, data+name).NewReader(0).Sample(s, f, cells, Settings{HalfStripM: 0.3})
	require.NoError(t, err)
	return out
}

// checkScene wants 0.60, 0.30 in the patch and nothing in the hole. Pixels of
// 0.5 m at the patch's edge mix both, so only its inner vines are exact.
func checkScene(t *testing.T, s *Samples) {
	t.Helper()
	_, _, at := block(t)
	none, near06, near03 := 0, 0, 0
	for i, smp := range s.List {
		switch {
		case at[i].hole():
			assert.True(t, math.IsNaN(smp.Value), "%v", at[i])
			none++
		case math.IsNaN(smp.Value):
			t.Errorf("%v has no value (no data %.2f)", at[i], smp.NoData)
		case at[i].weak():
			assert.InDelta(t, 0.30, smp.Value, 0.075, "%v", at[i])
			near03++
		default:
			assert.InDelta(t, 0.60, smp.Value, 0.075, "%v", at[i])
			near06++
		}
	}
	assert.Equal(t, []int{6, 141, 21}, []int{none, near06, near03})
	assert.Equal(t, 6, s.NoValue)
	assert.Equal(t, 0, s.Outside)
}

func questions(t *testing.T, name string, p Pick) []Question {
	t.Helper()
	rd := open(t, data+name).NewReader(0)
	s, err := rd.Survey(p)
	require.NoError(t, err)
	return rd.Questions(s, p, true)
}

// Cases O-50 to O-54: what is right was worked out apart from the program
// (testdata/raster/README.md).
func TestSample_OddRasters(t *testing.T) {
	t.Run("O-50a declared", func(t *testing.T) {
		require.Empty(t, questions(t, "o50a_nodata_declared.tif", Pick{}))
		checkScene(t, strip(t, "o50a_nodata_declared.tif", Source{}))
	})
	for _, name := range []string{"o50b_nodata_undeclared.tif", "o54_nodata_nan_but_9999.tif"} {
		t.Run(name, func(t *testing.T) {
			q := questions(t, name, Pick{})
			require.Len(t, q, 1)
			require.Equal(t, DoubtNoData, q[0].Doubt)
			require.Contains(t, q[0].Text, "-9999")
			require.Equal(t, []float64{-9999}, q[0].Proposed[0].NoData)
			require.Empty(t, questions(t, name, q[0].Proposed[0]), "the answer settles it")
			checkScene(t, strip(t, name, Source{Band: q[0].Proposed[0]}))
		})
	}
	t.Run("O-51 turned", func(t *testing.T) {
		_, _, at := block(t)
		for i, smp := range strip(t, "o51_rotated.tif", Source{}).List {
			assert.InDelta(t, 0.40+0.05*float64(at[i].row), smp.Value, 0.001, "%v", at[i])
			assert.Positive(t, smp.Pixels)
		}
	})
	t.Run("O-52a times 10 000, not said", func(t *testing.T) {
		q := questions(t, "o52a_times_10000_no_tag.tif", Pick{})
		require.Len(t, q, 1)
		require.Equal(t, DoubtScale, q[0].Doubt)
		require.Equal(t, 1e-4, *q[0].Proposed[0].Scale)
		require.Empty(t, questions(t, "o52a_times_10000_no_tag.tif", q[0].Proposed[0]))
		checkScene(t, strip(t, "o52a_times_10000_no_tag.tif", Source{Band: q[0].Proposed[0]}))
	})
	t.Run("O-52b times 10 000, said", func(t *testing.T) {
		require.Empty(t, questions(t, "o52b_times_10000_scale_tag.tif", Pick{}))
		checkScene(t, strip(t, "o52b_times_10000_scale_tag.tif", Source{}))
	})
	t.Run("O-53 bytes", func(t *testing.T) {
		q := questions(t, "o53_byte_0_255.tif", Pick{})
		require.Len(t, q, 1)
		require.Equal(t, DoubtScale, q[0].Doubt)
		require.Contains(t, q[0].Text, "rank")
		checkScene(t, strip(t, "o53_byte_0_255.tif", Source{Band: q[0].Proposed[0]}))
	})
	t.Run("O-50a mean over the block", func(t *testing.T) {
		b, err := os.ReadFile("../../testdata/base/blocks.geojson")
		require.NoError(t, err)
		var fc struct {
			Features []struct {
				Geometry struct{ Coordinates orb.Polygon }
			}
		}
		require.NoError(t, json.Unmarshal(b, &fc))
		z, err := open(t, data+"o50a_nodata_declared.tif").NewReader(0).Zone(Source{}, orb.MultiPolygon{fc.Features[0].Geometry.Coordinates})
		require.NoError(t, err)
		assert.InDelta(t, 0.564, z.Mean, 0.005)
		assert.InDelta(t, 1392./1442, 1-z.NoData, 0.002)
		assert.InDelta(t, 360/0.25, z.Weight/(1-z.NoData), 1, "360 m² of pixels of 0.25 m²")
	})
}

// Sentinel-like pixels of 10 m are wider than rows of 1.8 m.
func TestSample_WidePixels(t *testing.T) {
	wide := tiff(t, func(f *maker) {
		f.set(tagGeoKeys, 3, 1, 1, 0, 2, 1024, 0, 1, 1, 3072, 0, 1, 32632)
		f.doubles(tagPixelScale, 10, 10, 0)
		f.doubles(tagTiepoint, 0, 0, 0, 686100, 5009035, 0)
	})
	r, err := Open(strings.NewReader(string(wide)), int64(len(wide)))
	require.NoError(t, err)
	f, cells, _ := block(t)
	s, err := r.NewReader(0).Sample(Source{}, f, cells, Settings{HalfStripM: 0.3})
	require.NoError(t, err)
	assert.Equal(t, 168, s.WiderThanRow)
	assert.InDelta(t, 10, s.PixelM[0], 0.02)
	assert.InDelta(t, 10, s.Meta.ResolutionM, 0.02)
	assert.Greater(t, s.MeanForeignShare, 0.9)
	assert.Contains(t, s.Warnings()[0], "168 of 168 vines: a pixel (10.00 m) is wider than the row spacing")
}

// A chessboard of vine strips (1) and alleys (0) in pixels of 0.1 m along rows
// that run due north on the image: the strip's value must be 1 whatever the
// alley holds, the whole cell's the share of the strip; and a neighbour's strip
// never counts.
func TestSample_AlleyLeftOut(t *testing.T) {
	crs, err := frame.EPSG(32632)
	require.NoError(t, err)
	corner, err := crs.ToWGS84(500000, 5000000) // on the middle meridian: north is up
	require.NoError(t, err)
	f := frame.New(corner)
	const w, h, rowPixels, stripPixels = 100, 60, 20, 6
	b := picture(t, w, h, 0.1, func(x, y int) byte {
		if k := (x + 3) % rowPixels; k < stripPixels {
			return byte(100 + 50*((x+3)/rowPixels%2)) // rows differ
		}
		return 10
	})
	r, err := Open(strings.NewReader(string(b)), int64(len(b)))
	require.NoError(t, err)
	k := 0.9996 // of the projection: 2.0 m on the map are 2.0008 on the ground
	for row, want := range []float64{150, 100, 150} {
		at := frame.XY{X: float64(row+1) * 2 / k, Y: -3 / k}
		s, err := r.NewReader(0).Sample(Source{}, f, []Cell{{at, 0, 2 / k, 1 / k}}, Settings{HalfStripM: 0.3 / k})
		require.NoError(t, err)
		assert.InDelta(t, want, s.List[0].Value, 0.05, "row %d", row)
		assert.InDelta(t, 6*10, s.List[0].Weight, 0.1)
		assert.Less(t, s.List[0].Foreign, 0.01)
		s, err = r.NewReader(0).Sample(Source{}, f, []Cell{{at, 0, 2 / k, 1 / k}}, Settings{HalfStripM: 5})
		require.NoError(t, err)
		assert.InDelta(t, want*0.3+10*0.7, s.List[0].Value, 0.3, "clipped at half the row spacing")
	}
}

// picture writes one band of bytes in EPSG:32632 with its corner at 500000,
// 5000000 and pixels of a size.
func picture(t testing.TB, w, h int, size float64, at func(x, y int) byte) []byte {
	t.Helper()
	var pixels []byte
	for y := range h {
		for x := range w {
			pixels = append(pixels, at(x, y))
		}
	}
	head := tiff(t, func(f *maker) {
		f.set(tagWidth, 4, uint64(w))
		f.set(tagHeight, 4, uint64(h))
		f.set(tagRowsPerStrip, 4, uint64(h))
		f.set(tagStripCounts, 4, uint64(w*h))
		f.set(tagStripOffsets, 4, 4096)
		f.set(tagGeoKeys, 3, 1, 1, 0, 2, 1024, 0, 1, 1, 3072, 0, 1, 32632)
		f.doubles(tagPixelScale, size, size, 0)
		f.doubles(tagTiepoint, 0, 0, 0, 500000, 5000000, 0)
	})
	return append(append(head, make([]byte, 4096-len(head))...), pixels...)
}

func TestSample_Refuses(t *testing.T) {
	f, cells, _ := block(t)
	rd := open(t, data+"o50a_nodata_declared.tif").NewReader(0)
	for _, c := range []struct {
		name, want string
		s          Source
		cells      []Cell
	}{
		{"no such band", "no such band", Source{Band: Pick{Band: 2}}, cells},
		{"one band for both", "one band", Source{Index: NDVI, Band: Pick{Band: 1}, Red: Pick{Band: 1}}, cells},
		{"no size", "no size or place", Source{}, []Cell{{VineM: 1}}},
		{"no place", "no size or place", Source{}, []Cell{{frame.XY{X: math.NaN()}, 0, 1, 1}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := rd.Sample(c.s, f, c.cells, Settings{})
			require.ErrorContains(t, err, c.want)
		})
	}
	far, err := rd.Sample(Source{}, frame.New(orb.Point{-70, -33}), cells, Settings{})
	require.NoError(t, err)
	require.Equal(t, 168, far.Outside)
	require.Contains(t, far.Warnings()[0], "outside the image")
}

// A shift of the image by two metres east is the same as vines two metres west.
func TestSample_Shift(t *testing.T) {
	f, cells, _ := block(t)
	rd := open(t, data+"o51_rotated.tif").NewReader(0)
	moved, err := rd.Sample(Source{}, f, cells, Settings{ShiftM: frame.XY{X: 2, Y: -1}})
	require.NoError(t, err)
	for i := range cells {
		cells[i].At.X -= 2
		cells[i].At.Y++
	}
	want, err := rd.Sample(Source{}, f, cells, Settings{})
	require.NoError(t, err)
	for i := range want.List {
		if !math.IsNaN(want.List[i].Value) {
			require.InDelta(t, want.List[i].Value, moved.List[i].Value, 1e-9)
		}
	}
}

func TestSameScale(t *testing.T) {
	assert.True(t, SameScale(Meta{Scale: "reflectance, 2027"}, Meta{Scale: "reflectance, 2027"}))
	assert.False(t, SameScale(Meta{Scale: "a"}, Meta{Scale: "b"}))
	assert.False(t, SameScale(Meta{}, Meta{}), "no name is no scale")
}

// Two bands side by side: the index is worked out pixel by pixel, then averaged.
func TestReadSource_TwoBands(t *testing.T) {
	b := tiff(t, func(f *maker) {
		f.set(tagWidth, 4, 2)
		f.set(tagHeight, 4, 3)
		f.set(tagSamples, 3, 2)
		f.set(tagBits, 3, 8, 8)
	})
	// The maker's numbers are 1 to 12: near infrared is the second of each pair.
	r, err := Open(strings.NewReader(string(b)), int64(len(b)))
	require.NoError(t, err)
	v := make([]float64, 6)
	rd := r.NewReader(0)
	require.NoError(t, rd.ReadSource(Source{Index: NDVI, Band: Pick{Band: 2}, Red: Pick{Band: 1}}, Window{0, 0, 2, 3}, v))
	require.InDeltaSlice(t, []float64{1. / 3, 1. / 7, 1. / 11, 1. / 15, 1. / 19, 1. / 23}, v, 1e-15)
	require.NoError(t, rd.ReadSource(Source{Index: Ratio, Band: Pick{Band: 2}, Red: Pick{Band: 1, NoData: []float64{3}}}, Window{0, 0, 2, 3}, v))
	require.Equal(t, 2., v[0])
	require.True(t, math.IsNaN(v[1]))
	z, err := rd.ZoneXY(Source{Index: NDVI, Band: Pick{Band: 2}, Red: Pick{Band: 1}}, orb.MultiPolygon{{{{600000, 5000000}, {600002, 5000000}, {600002, 4999999}, {600000, 4999999}, {600000, 5000000}}}})
	require.NoError(t, err)
	require.InDelta(t, (1./3+1./7)/2, z.Mean, 1e-12)
}
