package tile

import (
	"context"
	"courson/store/peers"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// BenchmarkAgainstASMVT draws the vines of the same tiles of a million vines
// with the writer and with ST_AsMVT (PostGIS, GiST index, no parallel plan),
// uncompressed: from points as the store keeps them (EPSG:4326), and from a table
// laid out for nothing but tiles (one flat table, EPSG:3857). One op is a pass
// over all tiles with the one and then with the other, so that both work with
// warm memory. At zoom 16 the writer groups vines that look alike. Needs
// COURSON_TEST_POSTGIS.
func BenchmarkAgainstASMVT(b *testing.B) {
	c := peers.PostGIS(b, "tile")
	blocks := estate(b, 200)
	loadVines(b, c, blocks)
	for _, from := range []struct{ name, sql string }{{"stored", asMVTStored}, {"laid-out", asMVT}} {
		for z := uint8(16); z <= 20; z++ {
			tiles := tilesOf(b, blocks, z, 40)
			b.Run(fmt.Sprintf("%s/z%d", from.name, z), func(b *testing.B) { race(b, c, from.sql, blocks, tiles) })
		}
	}
}

// race measures both on the same tiles.
func race(b *testing.B, c *pgx.Conn, sql string, blocks []BlockView, tiles []Tile) {
	var r Renderer
	only := Options{Without: []string{LayerBlocks, LayerRows, LayerRowLabels, LayerBlockLabels}}
	var ours, theirs time.Duration
	var raw, buf []byte
	for b.Loop() {
		start := time.Now()
		for _, tl := range tiles {
			require.NoError(b, c.QueryRow(context.Background(), sql, tl.Z, tl.X, tl.Y).Scan(&raw))
		}
		theirs += time.Since(start)
		start = time.Now()
		for _, tl := range tiles {
			buf = r.AppendVector(buf[:0], tl, blocks, only)
		}
		ours += time.Since(start)
	}
	n := float64(b.N * len(tiles))
	b.ReportMetric(n/ours.Seconds(), "tiles/s")
	b.ReportMetric(n/theirs.Seconds(), "ASMVT-tiles/s")
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "ratio")
}

// BenchmarkVines measures the writer alone on one tile of vines, one by one and
// grouped.
func BenchmarkVines(b *testing.B) {
	blocks := estate(b, 1)
	only := Options{Without: []string{LayerBlocks, LayerRows, LayerRowLabels, LayerBlockLabels}}
	for _, z := range []uint8{16, 17} {
		b.Run(fmt.Sprintf("z%d", z), func(b *testing.B) {
			tl, err := At(145.3207, -37.7194, z)
			require.NoError(b, err)
			var r Renderer
			buf := r.Vector(tl, blocks, only)
			read, err := readStrictly(buf)
			require.NoError(b, err)
			n := 0
			for _, f := range read.layer(LayerVines).features {
				n += len(f.parts)
			}
			b.ReportAllocs()
			for b.Loop() {
				buf = r.AppendVector(buf[:0], tl, blocks, only)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/vine")
			b.ReportMetric(float64(n), "vines")
		})
	}
}

// BenchmarkNewView sums up a block of 5,000 vines, as after each event, and
// prepares its index, as after each import.
func BenchmarkNewView(b *testing.B) {
	v := estate(b, 1)[0]
	b.Run("view", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			_, err := NewView(v.Stand, v.Index, v.Outline, v.Name, v.Variety)
			require.NoError(b, err)
		}
	})
	b.Run("index", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			NewIndex(v.Stand.Ground)
		}
	})
}
