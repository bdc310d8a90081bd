package raster

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
)

const data = "../../testdata/raster/"

func open(t testing.TB, path string) *Raster {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	r, err := Open(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	return r
}

func whole(t testing.TB, rd *Reader, p Pick) []float64 {
	t.Helper()
	r := rd.Raster()
	v := make([]float64, r.Width*r.Height)
	require.NoError(t, rd.Read(p, Window{0, 0, r.Width, r.Height}, v))
	return v
}

type zonal struct {
	Raster, Polygon, WKT string
	EPSG                 int
	AreaWeighted         *struct {
		WeightSum float64 `json:"weight_sum"`
		Mean      *float64
	} `json:"area_weighted"`
	WholeBandRaw *struct {
		Min, Max, Mean, SDPop float64
		SD                    float64 `json:"sd_pop"`
		Valid                 int
	} `json:"whole_band_raw"`
	Size         []int
	GeoTransform []float64
	Scale        float64
	Offset       float64
	NoData       float64
}

func expected(t testing.TB, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(data + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// Figures over polygons, worked out with numpy and shapely (covered share of
// every pixel): testdata/raster/README.md.
func TestZone_Shapely(t *testing.T) {
	var cases []zonal
	expected(t, "zonal-expected.json", &cases)
	polygons := 0
	for _, c := range cases {
		if c.AreaWeighted == nil {
			continue
		}
		polygons++
		t.Run(c.Polygon, func(t *testing.T) {
			g, err := wkt.Unmarshal(c.WKT)
			require.NoError(t, err)
			r := open(t, data+c.Raster)
			crs, err := r.CRS()
			require.NoError(t, err)
			require.Equal(t, c.EPSG, crs.Code)
			z, err := r.NewReader(0).ZoneXY(Source{}, orb.MultiPolygon{g.(orb.Polygon)})
			require.NoError(t, err)
			assert.InDelta(t, c.AreaWeighted.WeightSum, z.Weight, 1e-6)
			if c.AreaWeighted.Mean == nil {
				assert.True(t, math.IsNaN(z.Mean), "no value, not 0")
				assert.Equal(t, 0, z.Pixels)
				return
			}
			assert.InDelta(t, *c.AreaWeighted.Mean, z.Mean, 1e-8*math.Max(1, z.Mean))
		})
	}
	require.Equal(t, 14, polygons)
}

// Whole bands, read by numpy.
func TestRead_WholeBand(t *testing.T) {
	var cases []zonal
	expected(t, "zonal-expected.json", &cases)
	for _, c := range cases {
		if c.WholeBandRaw == nil {
			continue
		}
		t.Run(c.Raster, func(t *testing.T) {
			r := open(t, data+c.Raster)
			require.Equal(t, c.Size, []int{r.Width, r.Height})
			a, err := r.Affine()
			require.NoError(t, err)
			got := []float64{a.X0, a.XC, a.XL, a.Y0, a.YC, a.YL}
			for i := range got {
				assert.InDelta(t, c.GeoTransform[i], got[i], 1e-12*math.Abs(got[i]))
			}
			assert.Equal(t, Band{Name: r.Bands[0].Name, Scale: c.Scale, Offset: c.Offset, Scaled: c.Scale != 1, NoData: c.NoData, HasNoData: true}, r.Bands[0])
			one, zero := 1., 0.
			s, err := r.NewReader(0).Survey(Pick{Scale: &one, Offset: &zero})
			require.NoError(t, err)
			assert.EqualValues(t, c.WholeBandRaw.Valid, s.Pixels-s.None)
			assert.Equal(t, c.WholeBandRaw.Min, s.Least)
			assert.Equal(t, c.WholeBandRaw.Max, s.Most)
			assert.InDelta(t, c.WholeBandRaw.Mean, s.Mean, 1e-9*s.Mean)
		})
	}
}

// Values at points as gdallocationinfo 3.6.2 gave them, stored numbers.
func TestValue_GDAL(t *testing.T) {
	var cases []struct {
		Raster string
		X, Y   float64
		GDAL   string `json:"gdallocationinfo_raw"`
	}
	expected(t, "samples-expected.json", &cases)
	require.Len(t, cases, 11)
	for _, c := range cases {
		r := open(t, data+c.Raster)
		rd, b := r.NewReader(0), r.Bands[0]
		v, err := rd.ValueXY(Source{}, c.X, c.Y)
		require.NoError(t, err)
		stored, err := strconv.ParseFloat(c.GDAL, 64)
		if err != nil || stored == b.NoData {
			assert.True(t, math.IsNaN(v), "%s at %v %v", c.Raster, c.X, c.Y)
			continue
		}
		want := stored*b.Scale + b.Offset
		assert.InDelta(t, want, v, 1e-12*math.Max(1, v), "%s at %v %v", c.Raster, c.X, c.Y)
		crs, err := r.CRS()
		require.NoError(t, err)
		p, err := crs.ToWGS84(c.X, c.Y)
		require.NoError(t, err)
		if c.X == math.Trunc(c.X) || crs.Geographic() {
			continue // on the border of pixels, or the same way once more
		}
		v, err = rd.Value(Source{}, p)
		require.NoError(t, err)
		assert.InDelta(t, want, v, 1e-12*math.Max(1, v))
	}
}

// Pixels are read the same in windows of any size as in one piece, through a
// cache that holds one chunk.
func TestRead_Windows(t *testing.T) {
	for _, name := range []string{"ndvi_float32_32755.tif", "ndvi_uint16_4326.tif", "ndvi_byte_cog_2154.tif"} {
		r := open(t, data+name)
		want := whole(t, r.NewReader(0), Pick{})
		rd := r.NewReader(1)
		for _, w := range []Window{{0, 0, 1, 1}, {r.Width - 1, r.Height - 1, 1, 1}, {7, 11, 30, 27}, {0, 33, r.Width, 5}} {
			got := make([]float64, w.Columns*w.Lines)
			require.NoError(t, rd.Read(Pick{}, w, got))
			for i, v := range got {
				x := want[(w.Line+i/w.Columns)*r.Width+w.Column+i%w.Columns]
				require.True(t, v == x || math.IsNaN(v) && math.IsNaN(x))
			}
		}
		for _, w := range []Window{{-1, 0, 2, 2}, {0, 0, r.Width + 1, 1}, {0, r.Height, 1, 1}, {0, 0, 0, 1}} {
			require.Error(t, rd.Read(Pick{}, w, make([]float64, max(0, w.Columns*w.Lines))))
		}
	}
}

// Worked by hand: viticulture check table, NIR 0.45 and red 0.08 (definition).
func TestIndex(t *testing.T) {
	assert.InDelta(t, 0.698, NDVIOf(0.45, 0.08), 0.001)
	assert.InDelta(t, 5.625, RatioOf(0.45, 0.08), 0.001)
	assert.True(t, math.IsNaN(NDVIOf(0, 0)))
	assert.True(t, math.IsNaN(RatioOf(0.4, 0)))
}

func TestOpen_Refuses(t *testing.T) {
	good, err := os.ReadFile(data + "ndvi_float32_32755.tif")
	require.NoError(t, err)
	for _, c := range []struct {
		name, want string
		file       []byte
		cause      error
	}{
		{"empty", "too short", nil, nil},
		{"text", "not a TIFF", []byte("row,vine,value\n"), nil},
		{"PNG", "not a TIFF", []byte("\x89PNG\r\n\x1a\n1234"), nil},
		{"cut in the directory", "ends in the middle", good[:300], ErrDamaged},
		{"circle", "circle", tiff(t, func(f *maker) { f.loop = true }), ErrDamaged},
		{"no image", "no image", tiff(t, func(f *maker) { f.set(tagSubfileType, 4, 1) }), ErrDamaged},
		{"huge", "too large", tiff(t, func(f *maker) { f.set(tagWidth, 4, 1<<20); f.set(tagHeight, 4, 1<<20) }), ErrTooLarge},
		{"no size", "no size", tiff(t, func(f *maker) { f.set(tagWidth, 4, 0) }), ErrDamaged},
		{"JPEG", "7 JPEG", tiff(t, func(f *maker) { f.set(tagCompression, 3, 7) }), nil},
		{"complex", "of a kind that is not read", tiff(t, func(f *maker) { f.set(tagSampleFormat, 3, 6) }), nil},
		{"12 bits", "of a kind that is not read", tiff(t, func(f *maker) { f.set(tagBits, 3, 12) }), nil},
		{"predictor", "predictor", tiff(t, func(f *maker) { f.set(tagPredictor, 3, 3); f.set(tagCompression, 3, 8) }), ErrDamaged},
		{"strips missing", "missing", tiff(t, func(f *maker) { f.set(tagRowsPerStrip, 3, 1) }), ErrDamaged},
		{"large strip", "strips or tiles are too large", tiff(t, func(f *maker) {
			f.set(tagWidth, 4, 40000)
			f.set(tagHeight, 4, 40000)
			f.set(tagRowsPerStrip, 4, 40000)
			f.set(tagCompression, 3, 8)
		}), ErrTooLarge},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Open(bytes.NewReader(c.file), int64(len(c.file)))
			require.ErrorContains(t, err, c.want)
			var f *Fault
			require.ErrorAs(t, err, &f)
			if c.cause != nil {
				require.ErrorIs(t, err, c.cause)
			}
		})
	}
}

func TestRead_DamagedStrips(t *testing.T) {
	good, err := os.ReadFile(data + "ndvi_float32_32755.tif")
	require.NoError(t, err)
	r, err := Open(bytes.NewReader(good), int64(len(good)))
	require.NoError(t, err)
	bad := bytes.Clone(good)
	for i := range r.image.counts[0] {
		bad[r.image.offsets[0]+i] ^= 0x55
	}
	r, err = Open(bytes.NewReader(bad), int64(len(bad)))
	require.NoError(t, err)
	err = r.NewReader(0).Read(Pick{}, Window{0, 0, 2, 2}, make([]float64, 4))
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, "strip 0 of 2")

	bomb := tiff(t, func(f *maker) {
		f.set(tagWidth, 4, 5000)
		f.set(tagHeight, 4, 5000)
		f.set(tagRowsPerStrip, 4, 5000)
		f.set(tagCompression, 3, 8)
	})
	r, err = Open(bytes.NewReader(bomb), int64(len(bomb)))
	require.NoError(t, err)
	err = r.NewReader(0).Read(Pick{}, Window{0, 0, 2, 2}, make([]float64, 4))
	require.ErrorIs(t, err, ErrTooLarge)
}

func TestCRS(t *testing.T) {
	keys := func(v ...uint64) func(*maker) {
		return func(f *maker) { f.set(tagGeoKeys, 3, append([]uint64{1, 1, 0, uint64(len(v) / 4)}, v...)...) }
	}
	for _, c := range []struct {
		name string
		keys func(*maker)
		want string // part of the error; empty: none
		code int
	}{
		{"none", func(*maker) {}, "does not name its coordinate system", 0},
		{"projected", keys(1024, 0, 1, 1, 3072, 0, 1, 32632), "", 32632},
		{"degrees", keys(1024, 0, 1, 2, 2048, 0, 1, 4326), "", 4326},
		{"user-defined", keys(1024, 0, 1, 1, 3072, 0, 1, 32767), "user-defined", 0},
		{"geocentric", keys(1024, 0, 1, 3), "centre of the Earth", 0},
		{"not supported", keys(1024, 0, 1, 1, 3072, 0, 1, 2056), "EPSG:2056", 0},
		{"mixed up", keys(1024, 0, 1, 1, 3072, 0, 1, 4326), "mixed up", 0},
		{"feet", keys(1024, 0, 1, 1, 3072, 0, 1, 2227, 3076, 0, 1, 9003), "", 2227},
		{"feet that are metres", keys(1024, 0, 1, 1, 3072, 0, 1, 32632, 3076, 0, 1, 9003), "unit", 0},
		{"a projected image that names only its datum", keys(1024, 0, 1, 1, 2048, 0, 1, 4326), "does not name", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := tiff(t, c.keys)
			r, err := Open(bytes.NewReader(b), int64(len(b)))
			require.NoError(t, err)
			crs, err := r.CRS()
			if c.want != "" {
				require.ErrorIs(t, err, ErrNoCRS)
				require.ErrorContains(t, err, c.want)
				_, err = r.NewReader(0).Zone(Source{}, orb.MultiPolygon{})
				require.Error(t, err)
				utm, err := frame.EPSG(32632)
				require.NoError(t, err)
				stated, err := r.WithCRS(utm)
				require.NoError(t, err)
				crs, err = stated.CRS()
				require.NoError(t, err)
				require.Equal(t, 32632, crs.Code)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.code, crs.Code)
			other, err := frame.EPSG(2154)
			require.NoError(t, err)
			_, err = r.WithCRS(other)
			require.ErrorContains(t, err, "another coordinate system")
		})
	}
}

func TestAffine_Refuses(t *testing.T) {
	for _, c := range []struct {
		name, want string
		with       func(*maker)
	}{
		{"no place", "does not say where it lies", func(f *maker) { delete(f.tags, tagPixelScale) }},
		{"control points", "control points", func(f *maker) {
			delete(f.tags, tagPixelScale)
			f.doubles(tagTiepoint, 0, 0, 0, 1, 2, 0, 5, 5, 0, 3, 4, 0)
		}},
		{"no area", "not a place", func(f *maker) {
			f.doubles(tagTransformation, 1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1)
		}},
		{"south-up by a negative scale", "not above 0", func(f *maker) { f.doubles(tagPixelScale, 1, -1, 0) }},
		{"NaN", "not a place", func(f *maker) { f.doubles(tagTiepoint, 0, 0, 0, math.NaN(), 2, 0) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := tiff(t, c.with)
			r, err := Open(bytes.NewReader(b), int64(len(b)))
			require.NoError(t, err)
			_, err = r.Affine()
			require.ErrorIs(t, err, ErrNoPlace)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func FuzzOpen(f *testing.F) {
	files, err := filepath.Glob(data + "*.tif")
	require.NoError(f, err)
	for _, name := range files {
		if b, err := os.ReadFile(name); err == nil && !strings.Contains(name, "cog") {
			f.Add(b)
		}
	}
	f.Add(tiff(f, func(*maker) {}))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := OpenLimited(bytes.NewReader(b), int64(len(b)), Limits{Pixels: 1 << 20, ChunkBytes: 1 << 22, Bands: 16})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		rd := r.NewReader(1 << 22)
		if s, err := rd.Survey(Pick{}); err == nil {
			rd.Questions(s, Pick{}, true)
		}
		square := orb.MultiPolygon{{{{0, 0}, {1e6, 0}, {1e6, 7e6}, {0, 7e6}, {0, 0}}}}
		if z, err := rd.ZoneXY(Source{}, square); err == nil {
			require.GreaterOrEqual(t, z.Weight, 0.)
		}
		_, _ = rd.Sample(Source{}, frame.New(orb.Point{11.37, 45.21}), []Cell{{frame.XY{}, 20, 1.8, 1.1}}, Settings{})
	})
}
