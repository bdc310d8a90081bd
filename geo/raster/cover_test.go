package raster

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
)

// Cells of any turn that lie side by side share out the pixels: their weights
// sum to the area, and their weighted mean is the mean of the whole.
func TestSample_CellsShareOutTheGround(t *testing.T) {
	b := picture(t, 200, 180, 0.5, func(x, y int) byte { return byte((x*7 + y*13 + x*y/9) % 251) })
	r, err := Open(strings.NewReader(string(b)), int64(len(b)))
	require.NoError(t, err)
	crs, err := frame.EPSG(32632)
	require.NoError(t, err)
	middle, err := crs.ToWGS84(500050, 4999955)
	require.NoError(t, err)
	f := frame.New(middle)
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(0, 360).Draw(t, "bearing")
		rowM, vineM := rapid.Float64Range(1, 4).Draw(t, "row"), rapid.Float64Range(0.5, 3).Draw(t, "vine")
		sin, cos := math.Sincos(az * math.Pi / 180)
		var cells []Cell
		for row := range 4 {
			for v := range 5 {
				along, right := float64(v)*vineM, float64(row)*rowM
				cells = append(cells, Cell{frame.XY{X: along*sin + right*cos, Y: along*cos - right*sin}, az, rowM, vineM})
			}
		}
		rd := r.NewReader(0)
		s, err := rd.Sample(Source{}, f, cells, Settings{})
		require.NoError(t, err)
		var weight, sum float64
		for _, x := range s.List {
			weight += x.Weight
			sum += x.Weight * x.Value
		}
		whole := Cell{frame.XY{X: 2*vineM*sin + 1.5*rowM*cos, Y: 2*vineM*cos - 1.5*rowM*sin}, az, 4 * rowM, 5 * vineM}
		w, err := rd.Sample(Source{}, f, []Cell{whole}, Settings{})
		require.NoError(t, err)
		require.InDelta(t, w.List[0].Weight, weight, 1e-4)
		require.InDelta(t, w.List[0].Value, sum/weight, 1e-4)
		require.InDelta(t, 4*rowM*5*vineM/0.25*0.9996*0.9996, weight, 1e-2)
	})
}

// Shares against a count of 64 x 64 points in each pixel.
func TestCover_CountedPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 7).Draw(t, "corners")
		x, y := rapid.Float64Range(-2, 8).Draw(t, "x"), rapid.Float64Range(-2, 8).Draw(t, "y")
		var ring []spot
		var plain frame.Ring
		for i := range n {
			d := rapid.Float64Range(0.3, 5).Draw(t, "radius")
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			ring = append(ring, spot{x + d*c, y + d*s})
			plain = append(plain, frame.XY{X: x + d*c, Y: y + d*s})
		}
		var c cover
		c.begin(Window{1, 2, 5, 4})
		c.ring(ring, 1)
		for line := range 4 {
			for k, share := range c.shares(line) {
				in := 0
				for a := range 64 {
					for b := range 64 {
						if plain.Contains(frame.XY{X: 1 + float64(k) + (float64(a)+0.5)/64, Y: 2 + float64(line) + (float64(b)+0.5)/64}) {
							in++
						}
					}
				}
				require.InDelta(t, float64(in)/4096, share, 0.03)
			}
		}
	})
}

// Rings that reach far beyond the window cover it whole, whatever rounding does
// on the way.
func TestCover_FarReaching(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		far := func(name string) float64 { return rapid.Float64Range(1e3, 9e11).Draw(t, name) }
		ring := []spot{{-far("a"), -far("b")}, {far("c"), -far("d")}, {far("e"), far("f")}, {-far("g"), far("h")}}
		var c cover
		c.begin(Window{0, 0, 9, 7})
		c.ring(ring, 1)
		for line := range 7 {
			for _, share := range c.shares(line) {
				require.True(t, share >= 0 && share <= 1)
			}
		}
	})
}
