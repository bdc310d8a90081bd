package raster

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"courson/geo/frame"
)

// 20 million decimals, 100,000 vines. Figures to reach: 5 s and 300 MB, which
// MB-heap tells at its most, beyond what was there before.
func BenchmarkSample_20Megapixels(b *testing.B) {
	const w, h = 5000, 4000
	pixels := make([]byte, 4*w*h)
	for i := range w * h {
		u := math.Float32bits(float32(i%997) / 997)
		pixels[4*i], pixels[4*i+1], pixels[4*i+2], pixels[4*i+3] = byte(u), byte(u>>8), byte(u>>16), byte(u>>24)
	}
	head := tiff(b, func(f *maker) {
		f.set(tagWidth, 4, w)
		f.set(tagHeight, 4, h)
		f.set(tagBits, 3, 32)
		f.set(tagSampleFormat, 3, 3)
		f.set(tagRowsPerStrip, 4, h)
		f.set(tagStripCounts, 4, 4*w*h)
		f.set(tagStripOffsets, 4, 4096)
		f.set(tagGeoKeys, 3, 1, 1, 0, 2, 1024, 0, 1, 1, 3072, 0, 1, 32632)
		f.doubles(tagPixelScale, 0.12, 0.12, 0)
		f.doubles(tagTiepoint, 0, 0, 0, 500000, 5000000, 0)
	})
	path := b.TempDir() + "/big.tif"
	require.NoError(b, os.WriteFile(path, append(append(head, make([]byte, 4096-len(head))...), pixels...), 0o644))
	pixels = nil
	file, err := os.Open(path)
	require.NoError(b, err)
	defer file.Close()
	crs, err := frame.EPSG(32632)
	require.NoError(b, err)
	corner, err := crs.ToWGS84(500000, 5000000)
	require.NoError(b, err)
	f := frame.New(corner)
	var cells []Cell
	for row := range 200 {
		for v := range 500 {
			cells = append(cells, Cell{frame.XY{X: 20 + float64(row)*2.5 + float64(v)*0.1, Y: -20 - float64(v)*0.9}, 174, 2.5, 0.9})
		}
	}
	most := watchHeap(b)
	for b.Loop() {
		r, err := Open(file, int64(4096+4*w*h))
		require.NoError(b, err)
		s, err := r.NewReader(0).Sample(Source{}, f, cells, Settings{HalfStripM: 0.4})
		require.NoError(b, err)
		require.Equal(b, 0, s.Outside, fmt.Sprint(s.Warnings()))
	}
	b.ReportMetric(most(), "MB-heap")
}

// watchHeap looks at the heap again and again; what it gives tells how much larger
// than at first it was at its most, MB.
func watchHeap(b *testing.B) func() float64 {
	heap := func() float64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return float64(m.HeapInuse) / 1e6
	}
	runtime.GC()
	first, done, most := heap(), make(chan struct{}), make(chan float64)
	go func() {
		top := first
		for {
			select {
			case <-done:
				most <- top - first
				return
			case <-time.After(5 * time.Millisecond):
				top = max(top, heap())
			}
		}
	}()
	return func() float64 {
		close(done)
		return <-most
	}
}

// A tile of 512 pixels of a kept picture, from parts that are in memory.
func BenchmarkPicture_OnMap(b *testing.B) {
	p, _, part := kept(b, "ndvi_byte_cog_2154.tif", world, 1e6)
	lons, lats := around(p, 512)
	for b.Loop() {
		_, err := p.OnMap(lons, lats, part)
		require.NoError(b, err)
	}
}
