package work

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"courson/store"
)

// vinePoints writes a collection of vine points on a slope that does not exist:
// rows 2.0 m apart, vines 1.0 m apart, due north.
func vinePoints(rows, vines int) []byte {
	var b bytes.Buffer
	writeVinePoints(&b, rows, vines)
	return b.Bytes()
}

func writeVinePoints(w io.Writer, rows, vines int) {
	b := bufio.NewWriter(w)
	defer b.Flush() // to memory, or to a file that is read again
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i := range rows * vines {
		row, number := i/vines+1, i%vines+1
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(b, "\n"+`{"type":"Feature","properties":{"block":"BIG","row":%d,"vine":%d,"vine_id":"%d-%d","status":"ok","vigour":%d},"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`,
			row, number, row, number, 1+(row+number)%5, 11.40+float64(row)*0.0000255, 45.23+float64(number)*0.000009)
	}
	b.WriteString("\n]}\n")
}

// peak watches the heap while f runs and gives its highest size in MB.
func peak(f func()) float64 {
	var stop atomic.Bool
	var highest uint64
	done := make(chan struct{})
	go func() {
		defer close(done)
		var m runtime.MemStats
		for !stop.Load() {
			runtime.ReadMemStats(&m)
			highest = max(highest, m.HeapInuse)
			time.Sleep(20 * time.Millisecond)
		}
	}()
	f()
	stop.Store(true)
	<-done
	return float64(highest) / (1 << 20)
}

// BenchmarkImportMillion imports a million vine points with a condition and a
// score each. The figures to reach are 20 s into a GeoPackage, 15 s into PostGIS,
// and 512 MB.
func BenchmarkImportMillion(b *testing.B) {
	path := filepath.Join(b.TempDir(), "big.geojson")
	f, err := os.Create(path)
	require.NoError(b, err)
	writeVinePoints(f, 5000, 200)
	require.NoError(b, f.Close())
	b.Run("gpkg", func(b *testing.B) { importMillion(b, onDisk(path), openGpkg) })
	b.Run("postgis", func(b *testing.B) {
		server := os.Getenv("COURSON_TEST_POSTGIS")
		if server == "" {
			b.Skip("COURSON_TEST_POSTGIS is not set")
		}
		importMillion(b, onDisk(path), func(t testing.TB) store.Store { return openPostgis(t, server) })
	})
}

func importMillion(b *testing.B, file File, open func(testing.TB) store.Store) {
	for b.Loop() {
		b.StopTimer()
		st := open(b)
		runtime.GC()
		b.StartTimer()
		var report Report
		var err error
		mb := peak(func() {
			report, err = Import(context.Background(), st, ImportJob{Files: []File{file}, Season: 2027})
		})
		require.NoError(b, err)
		require.Equal(b, 1_000_000, report.Vines.Made)
		b.ReportMetric(mb, "MB-heap")
	}
}

// BenchmarkExportMillion writes a million vines in every format; what it reports
// as heap is the highest size while it ran.
func BenchmarkExportMillion(b *testing.B) {
	path := filepath.Join(b.TempDir(), "big.geojson")
	f, err := os.Create(path)
	require.NoError(b, err)
	writeVinePoints(f, 5000, 200)
	require.NoError(b, f.Close())
	st := openGpkg(b)
	take(b, st, ImportJob{Season: 2025}, onDisk(path))
	for _, form := range Forms() {
		b.Run(string(form.Form), func(b *testing.B) {
			for b.Loop() {
				runtime.GC()
				heap := peak(func() {
					n, err := Export(context.Background(), st, ExportJob{What: Vines, Form: form.Form, Season: 2025, Now: clock}, io.Discard)
					require.NoError(b, err)
					require.Equal(b, 1_000_000, n)
				})
				b.ReportMetric(heap, "MB-heap")
			}
		})
	}
}
