package tile

import (
	"bytes"
	"math"
	"testing"
	"unsafe"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/stand"
	"courson/geo/vine"
)

// TestIndex_Pieces: pieces are runs that follow each other, none crosses a
// road, fine ones are of about 20 vines and coarse ones of about 100.
func TestIndex_Pieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := plot{
			block: 1, code: "H1", lat: rapid.Float64Range(-50, 50).Draw(t, "lat"), lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
			azimuth: rapid.Float64Range(0, 360).Draw(t, "azimuth"), rows: rapid.IntRange(1, 5).Draw(t, "rows"),
			vines: rapid.IntRange(1, 260).Draw(t, "vines"), rowM: 2.5, vineM: rapid.Float64Range(0.8, 3).Draw(t, "vineM"),
			roadAfter: rapid.IntRange(0, 260).Draw(t, "roadAfter"), bend: rapid.Float64Range(-0.3, 0.3).Draw(t, "bend"),
		}
		s, _ := p.grow(t)
		g := s.Ground
		ix := NewIndex(g)
		next := int32(0)
		for i, f := range ix.fine {
			require.Equal(t, next, f.first)
			require.Greater(t, f.end, f.first)
			require.LessOrEqual(t, int(f.end-f.first), 30)
			next = f.end
			// No step within a piece is the road.
			for k := f.first + 1; k < f.end; k++ {
				require.Equal(t, f.row, g.Row[k])
				require.False(t, p.roadAfter > 0 && g.Number[k] == int32(p.roadAfter)+1 && p.vineM < 8/longStep, "piece %d crosses the road", i)
			}
		}
		require.EqualValues(t, g.Len(), next)
		sub := int32(0)
		for _, c := range ix.coarse {
			require.Equal(t, sub, c.sub)
			sub = c.subEnd
			require.Equal(t, ix.fine[c.sub].first, c.first)
			require.Equal(t, ix.fine[c.subEnd-1].end, c.end)
			require.LessOrEqual(t, int(c.end-c.first), 150)
		}
		require.EqualValues(t, len(ix.fine), sub)
		requireNearLine(t, ix)
	})
}

// requireNearLine: no vine stands farther from its piece's line than the line
// may stray.
func requireNearLine(t require.TestingT, ix *Index) {
	g := ix.ground
	for _, f := range append(append([]piece(nil), ix.fine...), ix.coarse...) {
		perM := metresPerWorldUnit(g.WY[f.first])
		line := ix.line[f.line : f.line+f.count]
		local := func(x, y uint32) vec {
			return vec{float64(int32(x-g.WX[f.first])) * perM, float64(int64(y)-int64(g.WY[f.first])) * perM}
		}
		for i := f.first; i < f.end; i++ {
			v := local(g.WX[i], g.WY[i])
			least := math.Inf(1)
			for k := 1; k < len(line); k++ {
				a, b := local(line[k-1][0], line[k-1][1]), local(line[k][0], line[k][1])
				if a != b {
					least = min(least, away(v.x, v.y, a.x, a.y, b.x, b.y))
				}
			}
			require.LessOrEqual(t, least, bendM+0.01)
			require.True(t, f.box.has(g.WX[i], g.WY[i]))
		}
	}
}

func (b wbox) has(x, y uint32) bool { return x-b.w <= b.dx && y-b.n <= b.dy }

// TestRows_Attributes: pieces sum to the row, at both lengths.
func TestRows_Attributes(t *testing.T) {
	for _, p := range plots() {
		v := p.view(t)
		s := v.Stand
		fill := make([]float32, s.Ground.Len())
		s.WeightG, s.YieldG, s.Left = fill, fill, make([]uint8, len(fill))
		totals := stand.RowTotals(s)
		for _, z := range []uint8{13, 14, 15, 16, 18} {
			pieces := map[int]geojson.Properties{} // by the piece's first vine
			for _, tl := range nearTiles(t, v, z) {
				for _, f := range decoded(t, Render(tl, []BlockView{v}, Options{}))[LayerRows] {
					id := whole(t, f.ID)
					if before, ok := pieces[id]; ok {
						require.Equal(t, before, f.Properties, "a piece is the same in each tile")
					}
					pieces[id] = f.Properties
				}
			}
			sums := map[int][4]int{}
			for _, pr := range pieces {
				row := whole(t, pr["id"])
				c := sums[row]
				for k, key := range []string{"vines", "gaps", "done", "to_prune"} {
					c[k] += whole(t, pr[key])
				}
				sums[row] = c
				assert.Equal(t, p.code, pr["block"])
				if z >= 15 {
					assert.LessOrEqual(t, whole(t, pr["vines"]), 30)
				}
			}
			require.Len(t, sums, len(totals))
			for r, tot := range totals {
				row := s.Ground.Rows[r]
				assert.Equal(t, [4]int{tot.Vines, tot.Gaps, tot.Done(), tot.ToPrune}, sums[int(row.ID)], "block %s row %s zoom %d", p.code, row.Label, z)
			}
		}
	}
}

func TestRowLabels(t *testing.T) {
	for _, p := range plots() {
		v := p.view(t)
		for _, z := range []uint8{15, 16, 19} {
			ends := map[string]int{}
			for _, tl := range nearTiles(t, v, z) {
				for _, f := range decoded(t, Render(tl, []BlockView{v}, Options{}))[LayerRowLabels] {
					ends[f.Properties["label"].(string)]++
					assert.Equal(t, p.code, f.Properties["block"])
					assert.IsType(t, orb.Point{}, f.Geometry)
				}
			}
			if z < 16 {
				assert.Empty(t, ends)
				continue
			}
			assert.Len(t, ends, p.rows)
			for label, n := range ends {
				assert.Equal(t, 2, n, "row %s zoom %d", label, z)
			}
		}
	}
}

// TestIndex_Bytes: the index and the sums leave most of the 150 bytes that a
// vine may take to the stand.
func TestIndex_Bytes(t *testing.T) {
	v := estate(t, 1)[0]
	n := int64(v.Index.Len())
	assert.LessOrEqual(t, v.Index.Bytes(), 5*n)
	assert.LessOrEqual(t, int64(len(v.sums.fine)+len(v.sums.coarse))*int64(unsafe.Sizeof(pieceSum{})), n)
}

func TestCounts(t *testing.T) {
	const b, w, m, d, u = vine.Bearing, vine.Weak, vine.Missing, vine.Doubtful, vine.Unseen
	for _, c := range []struct {
		name     string
		cond     []vine.Condition
		progress []vine.Progress
		vigour   []uint8
		want     pieceSum
	}{
		{"nothing seen", []vine.Condition{u, u}, []vine.Progress{0, 0}, []uint8{0, 0}, pieceSum{vines: 2}},
		{"all bearing and done", []vine.Condition{b, b, b}, []vine.Progress{2, 2, 2}, []uint8{3, 4, 4},
			pieceSum{vines: 3, done: 3, condition: b, vigour: 4, progress: vine.Done}},
		{"one in five is weak", []vine.Condition{b, b, b, b, w}, []vine.Progress{0, 0, 0, 0, 0}, []uint8{3, 3, 3, 3, 1},
			pieceSum{vines: 5, condition: w, vigour: 3}},
		{"one in six is not common", []vine.Condition{b, b, b, b, b, w}, []vine.Progress{0, 0, 0, 0, 0, 0}, []uint8{0, 0, 0, 0, 0, 0},
			pieceSum{vines: 6, condition: b}},
		{"missing before weak", []vine.Condition{b, w, m}, []vine.Progress{2, 0, 2}, []uint8{5, 1, 0},
			pieceSum{vines: 3, gaps: 1, done: 1, condition: m, vigour: 3, progress: vine.Started}},
		{"skipped leaves nothing to do", []vine.Condition{b, d}, []vine.Progress{2, 4}, []uint8{0, 2},
			pieceSum{vines: 2, done: 1, condition: d, vigour: 2, progress: vine.Done}},
		{"one to redo", []vine.Condition{b, b}, []vine.Progress{2, 3}, []uint8{0, 0},
			pieceSum{vines: 2, done: 1, condition: b, progress: vine.ToRedo}},
		{"gaps only", []vine.Condition{m, vine.Dead}, []vine.Progress{0, 0}, []uint8{0, 0},
			pieceSum{vines: 2, gaps: 2, condition: m, progress: vine.Done}},
		{"bytes beyond the scale", []vine.Condition{99, b}, []vine.Progress{99, 0}, []uint8{99, 6}, pieceSum{vines: 2, condition: b}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &stand.Stand{Condition: c.cond, Progress: c.progress, Vigour: c.vigour, Nodes: bytes.Repeat([]byte{stand.None}, len(c.cond))}
			n := countVines(s, 0, len(c.cond))
			assert.Equal(t, c.want, n.piece())
		})
	}
}
