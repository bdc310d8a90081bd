package server

import (
	"bytes"
	"image/png"
	"math"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/raster"
	"courson/geo/tile"
	"courson/server/work"
)

const ndvi = "../testdata/raster/ndvi_uint16_4326.tif"

// keepImage keeps an image of a day.
func (f *fixture) keepImage(t *testing.T, path, day, sensor string) (*work.KeptImage, string) {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	taken, err := time.Parse(time.DateOnly, day)
	require.NoError(t, err)
	job := work.ImageJob{Name: "image.tif", Image: bytes.NewReader(raw), Size: int64(len(raw)), Set: raster.Settings{Meta: raster.Meta{Date: taken}}}
	k, said, err := work.KeepImage(t.Context(), f.store, job, work.Keeping{Index: "NDVI", Sensor: sensor, By: "Ada", Season: 2027, Now: f.server.cfg.Now(),
		Area: orb.Bound{Min: orb.Point{145, -38}, Max: orb.Point{146, -37}}})
	require.NoError(t, err)
	return k, said
}

type imagesJSON struct{ Images []imageJSON }

// A kept image is listed, its tiles show the value of every place in the colour
// that the legend gives it, and it is known again.
func TestImages(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		var list imagesJSON
		f.get("/api/images").into(t, &list)
		assert.Equal(t, []imageJSON{}, list.Images)
		first, said := f.keepImage(t, ndvi, "2026-02-10", "Sky")
		assert.Equal(t, "kept as a layer of the map", said)
		again, said := f.keepImage(t, ndvi, "2026-02-10", "Sky")
		assert.Equal(t, [2]string{first.ID, "kept as a layer of the map before"}, [2]string{again.ID, said})
		second, _ := f.keepImage(t, ndvi, "2026-03-01", "Sky")
		assert.Equal(t, first.Limits, second.Limits, "images of one index share their legend")
		f.get("/api/images").into(t, &list)
		require.Len(t, list.Images, 2)
		one := list.Images[1]
		assert.Equal(t, second.ID, list.Images[0].ID, "the newest day first")
		assert.Equal(t, [4]string{"NDVI", "Sky", "2026-02-10", "band 1"}, [4]string{one.Index, one.Sensor, one.Day, one.Source})
		assert.InDelta(t, 4.4, one.PixelM, 0.1, "0.00005 degrees of longitude at 37.7 degrees south, 0.00004 of latitude")
		assert.InDelta(t, 12209*0.0001-1, one.Least, 1e-4, "testdata/raster/README.md, by GDAL 3.6.2")
		assert.InDelta(t, 16682*0.0001-1, one.Most, 1e-4)

		raw, err := os.ReadFile(ndvi)
		require.NoError(t, err)
		r, err := raster.Open(bytes.NewReader(raw), int64(len(raw)))
		require.NoError(t, err)
		at, err := tile.At(145.3215, -37.7279, 18)
		require.NoError(t, err)
		path := strings.NewReplacer("{z}/{x}/{y}", at.String()).Replace(one.Tiles)
		a := f.get(path)
		require.Equal(t, http.StatusOK, a.status, "%s", a.body)
		shows(t, a.body, r.NewReader(0), at, one.Legend)
		assert.Equal(t, http.StatusNotModified, f.get(path, "If-None-Match", a.header.Get("ETag")).status)
		big := f.get(strings.Replace(path, ".png", "@2x.png", 1))
		shows(t, big.body, r.NewReader(0), at, one.Legend)
		assert.NotEqual(t, a.header.Get("ETag"), big.header.Get("ETag"))

		for path, status := range map[string]int{
			strings.Replace(path, ".png", ".jpg", 1):          404,
			"/api/images/none/tiles/" + at.String() + ".png":  404,
			"/api/images/" + first.ID + "/tiles/18/0/0.png":   204,
			"/api/images/" + first.ID + "/tiles/3/7/4.png":    204,
			"/api/images/" + first.ID + "/tiles/18/x/0.png":   404,
			"/api/images/" + first.ID + "/tiles/12/3702/9999": 404,
		} {
			assert.Equal(t, status, f.get(path).status, path)
		}
		f.send(t, http.MethodDelete, "/api/images/"+first.ID, nil, 204, nil)
		assert.Equal(t, 404, f.ask(http.MethodDelete, "/api/images/"+first.ID, nil).status)
		assert.Equal(t, 404, f.get(path).status)
		f.get("/api/images").into(t, &list)
		assert.Len(t, list.Images, 1)
	})
}

// shows compares a picture with the value of the image at every pixel's middle:
// where it has one, the legend's class of it; but for a few next to an edge.
func shows(t *testing.T, body []byte, rd *raster.Reader, at tile.Tile, l tile.Legend) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(body))
	require.NoError(t, err)
	side := img.Bounds().Dx()
	lons, lats := at.Pixels(side)
	classes, others := map[string]int{}, 0
	for y, lat := range lats {
		for x, lon := range lons {
			v, err := rd.Value(raster.Source{}, orb.Point{lon, lat})
			require.NoError(t, err)
			r, g, b, alpha := img.At(x, y).RGBA()
			got := ""
			if alpha > 0 {
				got = hexOf(uint8(r>>8), uint8(g>>8), uint8(b>>8))
			}
			want := ""
			for _, c := range l.Classes {
				if !math.IsNaN(v) && (c.From == nil || v >= *c.From) && (c.To == nil || v < *c.To) {
					want = c.Light
				}
			}
			classes[got]++
			if got != want {
				others++
			}
		}
	}
	assert.Less(t, others, side*side/200)
	assert.Greater(t, len(classes), 2)
}

func hexOf(r, g, b uint8) string {
	const digits = "0123456789abcdef"
	out := []byte{'#'}
	for _, v := range [...]uint8{r, g, b} {
		out = append(out, digits[v>>4], digits[v&15])
	}
	return string(out)
}

// A new image of the same day, sensor and index takes the place of the one before.
func TestImages_Replaced(t *testing.T) {
	f := newFixture(t)
	first, _ := f.keepImage(t, ndvi, "2026-02-10", "Sky")
	raw, err := os.ReadFile("../testdata/raster/ndvi_float32_32755.tif")
	require.NoError(t, err)
	job := work.ImageJob{Name: "other.tif", Image: bytes.NewReader(raw), Size: int64(len(raw)), Set: raster.Settings{Meta: raster.Meta{Date: time.Date(2026, 2, 10, 0, 0, 0, 0, time.UTC)}}}
	keep := work.Keeping{Index: "NDVI", Sensor: "Sky", By: "Ben", Season: 2027, Now: f.server.cfg.Now(), Area: orb.Bound{Min: orb.Point{145, -38}, Max: orb.Point{146, -37}}}
	second, said, err := work.KeepImage(t.Context(), f.store, job, keep)
	require.NoError(t, err)
	assert.Contains(t, said, "instead of image.tif")
	assert.Equal(t, first.Limits, second.Limits)
	var list imagesJSON
	f.get("/api/images").into(t, &list)
	require.Len(t, list.Images, 1)
	assert.Equal(t, second.ID, list.Images[0].ID)

	keep.Sensor = strings.Repeat("x", 81)
	_, _, err = work.KeepImage(t.Context(), f.store, job, keep)
	assert.ErrorIs(t, err, work.ErrImage)
	keep.Sensor, keep.Area = "", orb.Bound{Min: orb.Point{10, 40}, Max: orb.Point{11, 41}}
	_, _, err = work.KeepImage(t.Context(), f.store, job, keep)
	assert.ErrorContains(t, err, "beside all blocks")
}
