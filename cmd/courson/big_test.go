//go:build unix

package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	bigBytes = 100_000_000
	mostMB   = 512
	mostSecs = 60
)

// BenchmarkImportHundredMB takes 100 MB of GeoJSON, more than 500,000 vine points,
// into a new GeoPackage with the program itself, and measures what the process
// held at most. It fails beyond 60 s or 512 MB. The points are those of the case
// O-18, invented.
func BenchmarkImportHundredMB(b *testing.B) {
	dir := b.TempDir()
	program, big := filepath.Join(dir, "courson"), filepath.Join(dir, "big.geojson")
	build := exec.CommandContext(b.Context(), "go", "build", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(b, err, "%s", out)
	points := writeBig(b, big)
	require.GreaterOrEqual(b, points, 500_000)
	for b.Loop() {
		data := filepath.Join(dir, "estate.gpkg")
		require.NoError(b, os.RemoveAll(data))
		run := exec.CommandContext(b.Context(), program, "import", "--data", data, "--name", "Big", "--season", "2027", big)
		out, err := run.CombinedOutput()
		require.NoError(b, err, "%s", out)
		require.Contains(b, string(out), fmt.Sprintf("vines   %d made", points))
		used, ok := run.ProcessState.SysUsage().(*syscall.Rusage)
		require.True(b, ok)
		held := float64(used.Maxrss) / 1024 // kB
		if runtime.GOOS == "darwin" {
			held /= 1024 // bytes
		}
		b.ReportMetric(held, "MB-peak")
		b.ReportMetric(float64(points), "points")
		require.Less(b, held, float64(mostMB))
	}
	require.Less(b, b.Elapsed().Seconds()/float64(b.N), float64(mostSecs))
}

// writeBig writes the file and gives the number of points.
func writeBig(b *testing.B, path string) (n int) {
	b.Helper()
	f, err := os.Create(path)
	require.NoError(b, err)
	w := bufio.NewWriterSize(f, 1<<20)
	size, err := w.WriteString(`{"type":"FeatureCollection","features":[`)
	require.NoError(b, err)
	for ; size < bigBytes; n++ {
		if n > 0 {
			_ = w.WriteByte(',') // Flush tells
		}
		row, vine := n/200+1, n%200+1
		lon := 11.40 + float64(row)*0.0000215 + float64(vine)*0.0000048
		lat := 45.23 + float64(vine)*0.0000093 - float64(row)*0.0000055
		k, err := fmt.Fprintf(w, "\n"+`{"type":"Feature","properties":{"block":"BIG","row":%d,"vine":%d,"vine_id":"%d-%d","status":"ok","vigour":%d},"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`,
			row, vine, row, vine, 1+(row+vine)%5, lon, lat)
		require.NoError(b, err)
		size += k
	}
	_, err = w.WriteString("\n]}\n")
	require.NoError(b, err)
	require.NoError(b, w.Flush())
	require.NoError(b, f.Close())
	return n
}
