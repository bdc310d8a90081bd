package raster

import (
	"courson/store/peers"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const testW, testH, testBands = 83, 61, 3

// base writes an image of three bands for GDAL to convert, values that fit the
// type, with -7 or 7 as no-data in places.
func base(t testing.TB, dir, kind string) string {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, 11))
	var raw []byte
	for range testBands {
		for i := range testW * testH {
			smooth := 60 + 40*math.Sin(float64(i%testW)/9)*math.Cos(float64(i/testW)/7)
			var v float64
			switch kind {
			case "Byte":
				v = math.Round(smooth + 20*rng.Float64())
			case "Int16":
				v = math.Round(300*smooth) - 20000
			case "UInt16":
				v = math.Round(500 * smooth)
			case "Int32":
				v = math.Round(2e7*smooth) - 1e9
			case "UInt32":
				v = math.Round(4e7 * smooth)
			case "Float32":
				v = float64(float32(smooth/100 + rng.NormFloat64()/50))
			default:
				v = smooth/100 + rng.NormFloat64()/50
			}
			if i%17 == 0 {
				v = 7
			}
			raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(v))
		}
	}
	path := filepath.Join(dir, kind+".raw")
	require.NoError(t, os.WriteFile(path, raw, 0o644))
	hdr := fmt.Sprintf("ENVI\nsamples = %d\nlines = %d\nbands = %d\nheader offset = 0\nfile type = ENVI Standard\ndata type = 5\ninterleave = bsq\nbyte order = 0\n", testW, testH, testBands)
	require.NoError(t, os.WriteFile(filepath.Join(dir, kind+".hdr"), []byte(hdr), 0o644))
	return path
}

// asGDAL gives the stored numbers of all bands, one after the other, as GDAL
// reads them.
func asGDAL(t testing.TB, path string) []float64 {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out.raw")
	peers.Run(t, "gdal_translate", "-q", "-of", "ENVI", "-co", "INTERLEAVE=BSQ", "-ot", "Float64", path, out)
	return floatsOf(t, out)
}

// floatsOf reads a file of decimals.
func floatsOf(t testing.TB, path string) []float64 {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	v := make([]float64, len(b)/8)
	for i := range v {
		v[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return v
}

// Every way to pack numbers that GDAL writes is read bit for bit.
func TestStored_GDAL(t *testing.T) {
	dir := t.TempDir()
	types := []string{"Byte", "Int16", "UInt16", "Int32", "UInt32", "Float32", "Float64"}
	packs := [][]string{
		{"COMPRESS=NONE"}, {"COMPRESS=PACKBITS"}, {"COMPRESS=LZW"}, {"COMPRESS=LZW", "PREDICTOR=2"},
		{"COMPRESS=DEFLATE"}, {"COMPRESS=DEFLATE", "PREDICTOR=2"}, {"COMPRESS=DEFLATE", "PREDICTOR=3"},
		{"COMPRESS=LZW", "PREDICTOR=3"}, {"COMPRESS=ZSTD", "PREDICTOR=2"},
	}
	shapes := [][]string{
		{"BLOCKYSIZE=7"}, {"TILED=YES", "BLOCKXSIZE=32", "BLOCKYSIZE=16"}, {"INTERLEAVE=PIXEL"},
		{"INTERLEAVE=BAND", "ENDIANNESS=BIG"}, {"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=32", "INTERLEAVE=BAND", "BIGTIFF=YES"},
		{"INTERLEAVE=PIXEL", "ENDIANNESS=BIG", "TILED=YES", "BLOCKXSIZE=32", "BLOCKYSIZE=32"},
	}
	n := 0
	for ti, kind := range types {
		src := base(t, dir, kind)
		values := floatsOf(t, src)
		for pi, pack := range packs {
			if strings.Contains(strings.Join(pack, " "), "PREDICTOR=3") && !strings.HasPrefix(kind, "Float") {
				continue
			}
			// Two shapes for decimals of 32 bits, else one of the six in turn.
			for si, shape := range shapes {
				if kind == "Float32" && (si+pi)%3 != 0 || kind != "Float32" && (si+pi+ti)%6 != 0 {
					continue
				}
				if strings.Contains(strings.Join(append(pack, shape...), " "), "PREDICTOR=3") && strings.Contains(strings.Join(shape, " "), "ENDIANNESS=BIG") {
					continue // GDAL 3.6.2 writes this pair wrongly and reads it back as nonsense, as we do
				}
				n++
				name := strings.Join(append(append([]string{kind}, pack...), shape...), " ")
				t.Run(name, func(t *testing.T) {
					path := filepath.Join(t.TempDir(), "a.tif")
					args := []string{"-q", "-ot", kind, "-a_nodata", "7"}
					for _, o := range append(pack, shape...) {
						args = append(args, "-co", o)
					}
					peers.Run(t, "gdal_translate", append(args, src, path)...)
					r := open(t, path)
					rd := r.NewReader(1 << 14)
					require.Equal(t, map[string]string{"Byte": "uint8"}[kind]+strings.ToLower(strings.TrimPrefix(kind, "Byte")), r.Type)
					for band := 1; band <= testBands; band++ {
						got := make([]float64, testW*testH)
						require.NoError(t, rd.Stored(band, Window{0, 0, testW, testH}, got))
						require.True(t, slices.Equal(values[(band-1)*testW*testH:][:testW*testH], got), "band %d", band)
						require.NoError(t, rd.Read(Pick{Band: band}, Window{0, 0, testW, testH}, got))
						none := 0
						for _, v := range got {
							if math.IsNaN(v) {
								none++
							}
						}
						require.Equal(t, (testW*testH+16)/17, none)
					}
				})
			}
		}
	}
	require.Greater(t, n, 50)
}

type info struct {
	Size         []int
	GeoTransform []float64
	Bands        []struct {
		Type          string
		NoDataValue   any
		Scale, Offset *float64
		Description   string
	}
}

func infoOf(t testing.TB, path string) (out info) {
	t.Helper()
	require.NoError(t, json.Unmarshal([]byte(peers.Run(t, "gdalinfo", "-json", path)), &out))
	return out
}

// vrt wraps the base image in a description with a place.
func vrt(t testing.TB, src, place string) string {
	t.Helper()
	text := fmt.Sprintf(`<VRTDataset rasterXSize="%d" rasterYSize="%d"><SRS>EPSG:32632</SRS><GeoTransform>%s</GeoTransform>
<VRTRasterBand dataType="Float64" band="1"><SimpleSource><SourceFilename>%s</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>`, testW, testH, place, src)
	path := filepath.Join(t.TempDir(), "a.vrt")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

// The place of pixels, whatever way it is written: north-up, turned, south-up,
// and with numbers that mean the middles of pixels.
func TestAffine_GDAL(t *testing.T) {
	src := base(t, t.TempDir(), "Float64")
	for _, c := range []struct{ name, place, meaning string }{
		{"north-up", "686104, 0.5, 0, 5009037, 0, -0.5", "Area"},
		{"north-up, oblong pixels", "686104, 0.5, 0, 5009037, 0, -0.25", "Point"},
		{"turned", "686113.2, 0.42721, -0.1414314, 5009034.9, -0.14143, -0.4272077", "Area"},
		{"turned, middles", "686113.2, 0.42721, -0.1414314, 5009034.9, -0.14143, -0.4272077", "Point"},
		{"south-up", "686104, 0.5, 0, 5009037, 0, 0.5", "Area"},
		{"mirrored", "686104, -0.5, 0, 5009037, 0, -0.5", "Point"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.tif")
			peers.Run(t, "gdal_translate", "-q", "-mo", "AREA_OR_POINT="+c.meaning, vrt(t, src, c.place), path)
			want := infoOf(t, path)
			r := open(t, path)
			a, err := r.Affine()
			require.NoError(t, err)
			for i, v := range []float64{a.X0, a.XC, a.XL, a.Y0, a.YC, a.YL} {
				assert.InDelta(t, want.GeoTransform[i], v, 1e-9)
			}
			crs, err := r.CRS()
			require.NoError(t, err)
			assert.Equal(t, 32632, crs.Code)
			// A point far from all borders of pixels, found by both.
			x, y := a.Place(41.3, 22.6)
			said := peers.Run(t, "gdallocationinfo", "-valonly", "-geoloc", path, fmt.Sprint(x), fmt.Sprint(y))
			v, err := r.NewReader(0).ValueXY(Source{}, x, y)
			require.NoError(t, err)
			assert.Equal(t, strings.TrimSpace(said)[:10], fmt.Sprintf("%.15f", v)[:10])
		})
	}
}

// Masks and bands of transparency: pixels that GDAL takes for transparent have no
// value.
func TestMask_GDAL(t *testing.T) {
	dir := t.TempDir()
	src := base(t, dir, "Byte")
	inner := filepath.Join(dir, "mask.tif")
	peers.Run(t, "gdal_translate", "-q", "-ot", "Byte", "-b", "1", "-b", "2", "-mask", "3", "--config", "GDAL_TIFF_INTERNAL_MASK", "YES", "-co", "TILED=YES", "-co", "BLOCKXSIZE=32", "-co", "BLOCKYSIZE=32", "-scale_2", "0", "60", "0", "60", src, inner)
	r := open(t, inner)
	require.NotNil(t, r.mask)
	out := filepath.Join(dir, "maskband.tif")
	peers.Run(t, "gdal_translate", "-q", "-b", "mask", inner, out)
	mask := whole(t, open(t, out).NewReader(0), Pick{})
	got := whole(t, r.NewReader(0), Pick{Band: 2})
	for i := range mask {
		require.Equal(t, mask[i] == 0, math.IsNaN(got[i]))
	}

	alpha := filepath.Join(dir, "alpha.tif")
	peers.Run(t, "gdal_translate", "-q", "-ot", "Byte", "-b", "1", "-b", "3", "-colorinterp_2", "alpha", "-scale_2", "7", "107", "0", "100", src, alpha)
	r = open(t, alpha)
	require.Equal(t, 2, r.alpha)
	got = whole(t, r.NewReader(0), Pick{})
	over := asGDAL(t, alpha)[testW*testH:]
	zeros := 0
	for i := range over {
		if over[i] == 0 {
			zeros++
		}
		require.Equal(t, over[i] == 0, math.IsNaN(got[i]))
	}
	require.Positive(t, zeros)
}

// Scale, offset, no-data, and tiles that were never written.
func TestMetadata_GDAL(t *testing.T) {
	dir := t.TempDir()
	src := base(t, dir, "Int16")
	path := filepath.Join(dir, "a.tif")
	peers.Run(t, "gdal_translate", "-q", "-ot", "Int16", "-a_nodata", "-32768", "-a_scale", "0.0001", "-a_offset", "-0.25", src, path)
	r := open(t, path)
	require.Equal(t, Band{Scale: 0.0001, Offset: -0.25, Scaled: true, NoData: -32768, HasNoData: true}, r.Bands[1])
	stored, v := asGDAL(t, path)[testW*testH:], whole(t, r.NewReader(0), Pick{Band: 2})
	for i := range v {
		require.Equal(t, stored[i]*0.0001-0.25, v[i])
	}

	float := filepath.Join(dir, "f.tif")
	peers.Run(t, "gdal_translate", "-q", "-ot", "Float32", "-a_nodata", "-3.4028234663852886e+38", base(t, dir, "Float32"), float)
	require.Equal(t, -float64(math.MaxFloat32), open(t, float).Bands[0].NoData)

	sparse := filepath.Join(dir, "s.tif")
	peers.Run(t, "gdal_translate", "-q", "-ot", "Byte", "-a_nodata", "0", "-scale", "0", "40000", "0", "0", "-co", "SPARSE_OK=TRUE", "-co", "TILED=YES", "-co", "BLOCKXSIZE=16", "-co", "BLOCKYSIZE=16", src, sparse)
	for _, v := range whole(t, open(t, sparse).NewReader(0), Pick{}) {
		require.True(t, math.IsNaN(v))
	}
}

// The same picture warped by GDAL into other coordinate systems gives every vine
// the value that it has in the first, and the block its mean.
func TestSample_Warped(t *testing.T) {
	f, cells, at := block(t)
	for _, code := range []int{4326, 25832, 32633, 3857, 2154} {
		t.Run(fmt.Sprint(code), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "w.tif")
			size := "0.1"
			if code == 4326 {
				size = "0.000001"
			}
			peers.Run(t, "gdalwarp", "-q", "-t_srs", fmt.Sprintf("EPSG:%d", code), "-tr", size, size, "-r", "near", data+"o51_rotated.tif", path)
			r := open(t, path)
			crs, err := r.CRS()
			require.NoError(t, err)
			require.Equal(t, code, crs.Code)
			s, err := r.NewReader(0).Sample(Source{}, f, cells, Settings{HalfStripM: 0.3})
			require.NoError(t, err)
			require.Equal(t, 0, s.NoValue)
			for i, smp := range s.List {
				assert.InDelta(t, 0.40+0.05*float64(at[i].row), smp.Value, 0.012, "%v", at[i])
			}
		})
	}
}

// Systems in feet and others, as GDAL writes their keys.
func TestCRS_GDAL(t *testing.T) {
	src := base(t, t.TempDir(), "Byte")
	for _, code := range []int{2227, 2270, 27700, 2193, 7855, 4269, 32719} {
		path := filepath.Join(t.TempDir(), "c.tif")
		peers.Run(t, "gdal_translate", "-q", "-ot", "Byte", "-a_srs", fmt.Sprintf("EPSG:%d", code), "-a_ullr", "10", "20", "11", "19", src, path)
		crs, err := open(t, path).CRS()
		require.NoError(t, err)
		assert.Equal(t, code, crs.Code)
	}
	for _, c := range []struct{ srs, want string }{
		{"EPSG:2056", "EPSG:2056"}, // oblique Mercator
		{"+proj=tmerc +lat_0=45 +lon_0=11 +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +units=m", "user-defined"},
	} {
		path := filepath.Join(t.TempDir(), "c.tif")
		peers.Run(t, "gdal_translate", "-q", "-ot", "Byte", "-a_srs", c.srs, "-a_ullr", "10", "20", "11", "19", src, path)
		_, err := open(t, path).CRS()
		require.ErrorIs(t, err, ErrNoCRS)
		require.ErrorContains(t, err, c.want)
	}
}
