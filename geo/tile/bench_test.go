package tile

import (
	"bytes"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
)

// around gives the rectangle around all blocks, degrees.
func around(blocks []BlockView) orb.Bound {
	var b orb.Bound
	for i, v := range blocks {
		box := v.Index.box
		w, n := FromWorld(box.w, box.n)
		e, s := FromWorld(box.w+box.dx, box.n+box.dy)
		one := orb.Bound{Min: orb.Point{w, s}, Max: orb.Point{e, n}}
		if i == 0 {
			b = one
		}
		b = b.Union(one)
	}
	return b
}

// tilesOf gives the tiles of a zoom that blocks touch, at most limit of them,
// evenly spread.
func tilesOf(t require.TestingT, blocks []BlockView, z uint8, limit int) []Tile {
	span, err := Cover(around(blocks), z)
	require.NoError(t, err)
	var out []Tile
	step := max(1, span.Len()/limit)
	i := 0
	for tl := range span.All() {
		if i%step == 0 {
			out = append(out, tl)
		}
		i++
	}
	return out
}

// BenchmarkVector draws tiles of one million vines (200 blocks of 5,000) and
// compresses them (gzip level 3), zoom by zoom; one op is one tile. The 99th
// percentile is given by the clock and by the thread's processor time.
func BenchmarkVector(b *testing.B) {
	blocks := estate(b, 200)
	var r Renderer
	for z := range uint8(21) {
		tiles := tilesOf(b, blocks, z, 200)
		b.Run(fmt.Sprintf("z%02d", z), func(b *testing.B) {
			b.ReportAllocs()
			zip, err := gzip.NewWriterLevel(nil, 3)
			require.NoError(b, err)
			var raw []byte
			var packed bytes.Buffer
			runtime.LockOSThread()
			defer runtime.UnlockOSThread()
			var took, cpu []time.Duration
			var rawBytes, most int
			var drawing time.Duration
			for i := 0; b.Loop(); i++ {
				start, busy := time.Now(), threadTime()
				raw = r.AppendVector(raw[:0], tiles[i%len(tiles)], blocks, Options{})
				drawing += threadTime() - busy
				packed.Reset()
				zip.Reset(&packed)
				_, _ = zip.Write(raw)
				_ = zip.Close()
				took, cpu = append(took, time.Since(start)), append(cpu, threadTime()-busy)
				rawBytes += len(raw)
				most = max(most, packed.Len())
			}
			ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
			p99 := func(d []time.Duration) float64 {
				slices.Sort(d)
				return ms(d[len(d)*99/100])
			}
			b.ReportMetric(p99(took), "p99-ms")
			b.ReportMetric(p99(cpu), "p99-cpu-ms")
			b.ReportMetric(ms(drawing)/float64(len(cpu)), "draw-cpu-ms")
			b.ReportMetric(float64(rawBytes)/float64(len(took))/1000, "raw-kB")
			b.ReportMetric(float64(most)/1000, "most-gz-kB")
		})
	}
}

// BenchmarkPNG draws pictures of the same million vines; one op is one picture
// of 512 pixels.
func BenchmarkPNG(b *testing.B) {
	blocks := estate(b, 200)
	var r Renderer
	for _, theme := range []Theme{ThemeCondition, ThemeVigour, ThemeProgress} {
		for _, z := range []uint8{13, 15, 16, 17, 18, 19} {
			tiles := tilesOf(b, blocks, z, 200)
			b.Run(fmt.Sprintf("%s/z%02d", theme, z), func(b *testing.B) {
				b.ReportAllocs()
				size := 0
				for i := 0; b.Loop(); i++ {
					p, err := r.PNG(tiles[i%len(tiles)], theme, 2, blocks)
					require.NoError(b, err)
					size += len(p)
				}
				b.ReportMetric(float64(size)/float64(b.N)/1000, "kB")
			})
		}
	}
}

// BenchmarkPNG_Cold draws the first picture of a new Renderer.
func BenchmarkPNG_Cold(b *testing.B) {
	blocks := estate(b, 4)
	at := tilesOf(b, blocks, 19, 200)[0]
	for b.Loop() {
		var r Renderer
		_, err := r.PNG(at, ThemeCondition, 1, blocks)
		require.NoError(b, err)
	}
}
