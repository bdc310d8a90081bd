package tile

import (
	"bytes"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Every value has the colour of the class that the legend says, a limit that of
// the class that begins there; no value is clear.
func TestSurface(t *testing.T) {
	limits := EvenLimits(0.2, 0.8)
	assert.Equal(t, [SurfaceLimits]float64{0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8}, limits)
	l := SurfaceLegend("NDVI", "", limits)
	values := []float64{math.NaN(), 0.1, 0.2, 0.35, 0.8, -5, 9, 0.3999, 0.4}
	raw, err := Surface(3, values, limits)
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	for i, v := range values {
		r, g, b, a := img.At(i%3, i/3).RGBA()
		if math.IsNaN(v) {
			assert.Zero(t, a)
			continue
		}
		found := 0
		for _, c := range l.Classes {
			if (c.From == nil || v >= *c.From) && (c.To == nil || v < *c.To) {
				want, err := parseColour(c.Light)
				require.NoError(t, err)
				wr, wg, wb, _ := want.RGBA()
				assert.Equal(t, [3]uint32{wr, wg, wb}, [3]uint32{r, g, b}, "value %v", v)
				found++
			}
		}
		assert.Equal(t, 1, found, "value %v is in one class", v)
	}
	none, err := Surface(1, []float64{math.NaN()}, limits)
	require.NoError(t, err)
	assert.Nil(t, none)
	_, err = Surface(2, values, limits)
	assert.ErrorIs(t, err, ErrPicture)
}

// Limits rise in even steps of 1, 2 or 5 times a power of ten, and most of the
// range lies between the first and the last.
func TestEvenLimits(t *testing.T) {
	assert.Equal(t, [SurfaceLimits]float64{0, 20, 40, 60, 80, 100, 120}, EvenLimits(3, 118))
	rapid.Check(t, func(t *rapid.T) {
		low, width := rapid.Float64Range(-1e4, 1e4).Draw(t, "low"), rapid.Float64Range(0.5, 1e6).Draw(t, "width")
		got := EvenLimits(low, low+width)
		step := got[1] - got[0]
		for k := 1; k < len(got); k++ {
			assert.InDelta(t, step, got[k]-got[k-1], step*1e-3)
		}
		lead := step / math.Pow(10, math.Floor(math.Log10(step*1.0001)))
		assert.Condition(t, func() bool {
			for _, f := range []float64{1, 2, 5} {
				if math.Abs(lead-f) < 0.01 {
					return true
				}
			}
			return false
		}, "step %v", step)
		assert.LessOrEqual(t, got[0], low+step)
		assert.GreaterOrEqual(t, got[SurfaceLimits-1], low+width-step)
	})
	flat := EvenLimits(5, 5)
	assert.Less(t, flat[0], flat[1], "one value alone still has classes")
}

// The middles of pixels lie where At finds the tile of a zoom whose tiles are the
// pixels.
func TestTile_Pixels(t *testing.T) {
	at := Tile{12, 3702, 2513}
	lons, lats := at.Pixels(256)
	for _, k := range []int{0, 1, 100, 255} {
		got, err := At(lons[k], lats[k], 20)
		require.NoError(t, err)
		assert.Equal(t, Tile{20, at.X*256 + uint32(k), at.Y*256 + uint32(k)}, got)
	}
}
