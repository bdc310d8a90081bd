package tile

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/stand"
	"courson/geo/vine"
)

// decoded reads a tile with orb's decoder, which shares no code with the
// writer, after the strict reader has let it pass.
func decoded(t require.TestingT, b []byte) map[string][]*geojson.Feature {
	_, err := readStrictly(b)
	require.NoError(t, err)
	layers, err := mvt.Unmarshal(b)
	require.NoError(t, err)
	out := map[string][]*geojson.Feature{}
	for _, l := range layers {
		require.EqualValues(t, Extent, l.Extent)
		require.EqualValues(t, 2, l.Version)
		out[l.Name] = l.Features
	}
	return out
}

func whole(t require.TestingT, v any) int {
	f, ok := v.(float64)
	require.True(t, ok, "%T", v)
	require.Equal(t, math.Trunc(f), f)
	return int(f)
}

// nearTiles gives the tiles of a zoom around a block.
func nearTiles(t require.TestingT, v BlockView, z uint8) []Tile {
	b := around([]BlockView{v})
	s, err := Cover(b.Pad(20/111_132.0), z)
	require.NoError(t, err)
	var out []Tile
	for tl := range s.All() {
		out = append(out, tl)
	}
	return out
}

// plots are blocks that differ in all that matters to drawing.
func plots() []plot {
	return []plot{
		{block: 1, code: "H1", lat: -37.72, lon: 145.32, rows: 12, vines: 61, rowM: 2.5, vineM: 1.25, seed: 1},
		{block: 2, code: "H2", lat: 45.2, lon: -0.75, azimuth: 33, rows: 9, vines: 80, rowM: 1.1, vineM: 0.9, roadAfter: 27, seed: 2},
		{block: 3, code: "Côte 3", lat: 37.66, lon: -121.74, azimuth: 200, rows: 5, vines: 140, rowM: 3.3, vineM: 2.1, bend: 0.4, seed: 3},
		{block: 4, code: "H4", lat: -17.8, lon: 179.9999, azimuth: 90, rows: 6, vines: 45, rowM: 2, vineM: 1, seed: 4},
	}
}

// TestVines_Attributes: every vine's point carries what its columns say.
func TestVines_Attributes(t *testing.T) {
	for _, p := range plots() {
		v := p.view(t)
		g, s := v.Stand.Ground, v.Stand
		byID := map[vine.ID]int{}
		for i, id := range g.ID {
			byID[id] = i
		}
		for _, z := range []uint8{17, 18, 20, 22} {
			t.Run(fmt.Sprintf("%s z%d", p.code, z), func(t *testing.T) {
				seen := map[vine.ID]bool{}
				for _, tl := range nearTiles(t, v, z) {
					grid := gridOf(tl, extentBits)
					for _, f := range decoded(t, Render(tl, []BlockView{v}, Options{}))[LayerVines] {
						id := vine.ID(whole(t, f.ID))
						i, ok := byID[id]
						require.True(t, ok)
						require.False(t, seen[id], "vine %d is in two tiles", id)
						seen[id] = true
						at := f.Geometry.(orb.Point)
						x, y, in := grid.point(g.WX[i], g.WY[i], extentBits)
						require.True(t, in)
						require.Equal(t, orb.Point{float64(x), float64(y)}, at)
						want := geojson.Properties{
							"block": g.Code, "row": g.Rows[g.Row[i]].Label, "number": float64(g.Number[i]),
							"condition": float64(s.Condition[i]), "vigour": float64(s.Vigour[i]),
							"progress": float64(s.Progress[i]), "leaf": float64(s.Leaf[i]),
						}
						if s.Nodes[i] != stand.None {
							want["nodes"] = float64(s.Nodes[i])
						}
						require.Equal(t, want, f.Properties)
					}
				}
				assert.Len(t, seen, g.Len(), "all vines are drawn")
			})
		}
	}
}

// TestVines_Groups: at zoom 16 every vine is a point of a feature that says of
// it what its columns say.
func TestVines_Groups(t *testing.T) {
	for _, p := range plots() {
		t.Run(p.code, func(t *testing.T) {
			v := p.view(t)
			g, s := v.Stand.Ground, v.Stand
			type dot struct {
				tile       Tile
				at         orb.Point
				row        string
				cond, v, p float64
			}
			want, got := map[dot]int{}, map[dot]int{}
			for _, tl := range nearTiles(t, v, 16) {
				grid := gridOf(tl, extentBits)
				for i := range g.Len() {
					if x, y, in := grid.point(g.WX[i], g.WY[i], extentBits); in {
						want[dot{tl, orb.Point{float64(x), float64(y)}, g.Rows[g.Row[i]].Label,
							float64(s.Condition[i]), float64(s.Vigour[i]), float64(s.Progress[i])}]++
					}
				}
				for _, f := range decoded(t, Render(tl, []BlockView{v}, Options{}))[LayerVines] {
					var pts orb.MultiPoint
					switch geom := f.Geometry.(type) {
					case orb.Point:
						pts = orb.MultiPoint{geom}
					case orb.MultiPoint:
						pts = geom
					}
					require.Equal(t, float64(len(pts)), f.Properties["vines"])
					require.Equal(t, g.Code, f.Properties["block"])
					for _, at := range pts {
						pr := f.Properties
						got[dot{tl, at, pr["row"].(string), pr["condition"].(float64), pr["vigour"].(float64), pr["progress"].(float64)}]++
					}
				}
			}
			assert.Equal(t, want, got)
			total := 0
			for _, n := range got {
				total += n
			}
			assert.Equal(t, g.Len(), total, "each vine is in exactly one tile")
		})
	}
}

// TestVines_OneTile: a point anywhere on the map is in exactly one of the nine
// tiles around it, at every zoom, and its coordinate is within the extent.
func TestVines_OneTile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := uint(rapid.IntRange(0, MaxZoom).Draw(t, "z"))
		wx, wy := rapid.Uint32().Draw(t, "wx"), rapid.Uint32().Draw(t, "wy")
		if rapid.Bool().Draw(t, "near an edge") {
			step := rapid.Uint32Range(0, 40).Draw(t, "off")
			wx = uint32(uint64(wx)>>(32-z)<<(32-z)) - 20 + step
		}
		n := uint32(1) << z
		in := map[Tile]bool{}
		for dx := range uint32(3) {
			for dy := range uint32(3) {
				x := (uint32(uint64(wx)>>(32-z)) + dx - 1) & (n - 1)
				y := uint32(uint64(wy)>>(32-z)) + dy - 1
				if y >= n {
					continue
				}
				tl := Tile{uint8(z), x, y}
				g := gridOf(tl, extentBits)
				if px, py, ok := g.point(wx, wy, extentBits); ok {
					in[tl] = true
					require.True(t, px >= 0 && px < Extent && py >= 0 && py < Extent)
				}
			}
		}
		require.Len(t, in, 1)
	})
}

// TestBlocks_Attributes: totals are those of the stand package.
func TestBlocks_Attributes(t *testing.T) {
	for _, p := range plots() {
		t.Run(p.code, func(t *testing.T) {
			v := p.view(t)
			s := v.Stand
			fill := make([]float32, s.Ground.Len())
			s.WeightG, s.YieldG, s.Left = fill, fill, make([]uint8, len(fill))
			total := stand.TotalsOf(s)
			mean, n := 0.0, 0
			for class, k := range total.Vigour[1:] {
				mean += float64((class + 1) * k)
				n += k
			}
			want := geojson.Properties{
				"id": float64(p.block), "code": p.code, "name": "Block " + p.code, "variety": "Pinot noir",
				"vines": float64(total.Vines), "gaps": float64(total.Gaps), "done": float64(total.Done()),
				"to_prune": float64(total.ToPrune), "vigour": math.Round(mean/float64(n)*10) / 10,
			}
			for _, z := range []uint8{0, 5, 10, 13, 16, 19} {
				labels := 0
				for _, tl := range nearTiles(t, v, z) {
					got := decoded(t, Render(tl, []BlockView{v}, Options{}))
					for _, f := range append(got[LayerBlocks], got[LayerBlockLabels]...) {
						assert.Equal(t, want, f.Properties)
						assert.EqualValues(t, p.block, whole(t, f.ID))
					}
					labels += len(got[LayerBlockLabels])
				}
				assert.Equal(t, 1, labels, "zoom %d: the label is in exactly one tile", z)
			}
		})
	}
}
