package tile

import (
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden tiles anew")

// TestGolden: the bytes of some tiles, read strictly and written as text, are
// those kept in testdata/tiles/golden.
func TestGolden(t *testing.T) {
	small := []plot{
		{block: 1, code: "H1", lat: -37.7201, lon: 145.3201, rows: 3, vines: 24, rowM: 2.5, vineM: 1.25, seed: 1},
		{block: 2, code: "H2", lat: -37.7204, lon: 145.3201, azimuth: 75, rows: 2, vines: 30, rowM: 2.2, vineM: 1.1, roadAfter: 12, bend: 0.5, seed: 2},
	}
	var blocks []BlockView
	for _, p := range small {
		blocks = append(blocks, p.view(t))
	}
	for _, z := range []uint8{0, 12, 13, 15, 16, 17} {
		tl, err := At(145.3202, -37.7201, z)
		require.NoError(t, err)
		read, err := readStrictly(Render(tl, blocks, Options{}))
		require.NoError(t, err)
		got := describe(tl, read)
		path := filepath.Join(tileData, "golden", fmt.Sprintf("z%02d.txt", z))
		if *update {
			require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, string(want), got, "run go test ./geo/tile -update if this is meant")
	}
}

// describe writes a tile as text, one feature per line.
func describe(tl Tile, read *readTile) string {
	var b strings.Builder
	fmt.Fprintf(&b, "tile %s\n", tl)
	for _, l := range read.layers {
		fmt.Fprintf(&b, "\nlayer %s\n", l.name)
		for _, f := range l.features {
			fmt.Fprintf(&b, "%s id %d", [...]string{1: "point", 2: "line", 3: "area"}[f.kind], f.id)
			keys := make([]string, 0, len(f.attrs))
			for k := range f.attrs {
				keys = append(keys, k)
			}
			sort.Strings(keys)
			for _, k := range keys {
				v := f.attrs[k].([3]any)
				switch v[0] {
				case 1:
					fmt.Fprintf(&b, " %s=%q", k, v[2])
				case 3:
					bits := binary.LittleEndian.Uint64([]byte(v[2].(string)))
					fmt.Fprintf(&b, " %s=%.1f", k, math.Float64frombits(bits))
				default:
					fmt.Fprintf(&b, " %s=%d", k, v[1])
				}
			}
			for _, p := range f.parts {
				fmt.Fprintf(&b, " %v", p)
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}
