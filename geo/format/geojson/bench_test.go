package geojson

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"testing"
)

// vinePoints writes a collection of n invented vine points.
func vinePoints(n int) []byte {
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i := range n {
		row, number := i/200+1, i%200+1
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "\n"+`{"type":"Feature","properties":{"block":"BIG","row":%d,"vine":%d,"vine_id":"%d-%d","status":"ok","vigour":%d},"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`,
			row, number, row, number, 1+(row+number)%5, 11.40+float64(row)*0.0000215, 45.23+float64(number)*0.0000093)
	}
	b.WriteString("\n]}\n")
	return b.Bytes()
}

// BenchmarkDecodeVines reads vine points one by one, all properties included.
func BenchmarkDecodeVines(b *testing.B) {
	const n = 100_000
	data := vinePoints(n)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		d, err := NewDecoder(bytes.NewReader(data), Options{})
		if err != nil {
			b.Fatal(err)
		}
		got := 0
		for {
			_, err := d.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			got++
		}
		if got != n {
			b.Fatalf("got %d features, want %d", got, n)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Seconds())/float64(b.N)*1e6/n, "s/million")
}
