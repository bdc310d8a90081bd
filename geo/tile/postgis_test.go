package tile

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store/peers"
)

// mercator gives a world position in EPSG:3857, metres.
func mercator(x, y float64) (float64, float64) {
	return (x/worldSide - 0.5) * 2 * mercatorHalf, (0.5 - y/worldSide) * 2 * mercatorHalf
}

func TestPostGIS_TileEnvelope(t *testing.T) {
	c, ctx := peers.PostGIS(t, "tile"), context.Background()
	rng := rand.New(rand.NewPCG(1, 1))
	tiles := []Tile{{0, 0, 0}, {22, 3790300, 2573777}, {18, 262143, 262143}}
	for z := range uint8(MaxZoom + 1) {
		tiles = append(tiles, Tile{z, rng.Uint32N(1 << z), rng.Uint32N(1 << z)})
	}
	for _, tl := range tiles {
		var want [4]float64
		require.NoError(t, c.QueryRow(ctx, `SELECT ST_XMin(e), ST_YMin(e), ST_XMax(e), ST_YMax(e)
			FROM ST_TileEnvelope($1, $2, $3) e`, tl.Z, tl.X, tl.Y).Scan(&want[0], &want[1], &want[2], &want[3]))
		e := tl.Envelope()
		for i, got := range [4]float64{e.Min[0], e.Min[1], e.Max[0], e.Max[1]} {
			assert.InDelta(t, want[i], got, 1e-7, "%s", tl)
		}
	}
}

// asMVTGeom asks PostGIS for a shape in a tile, as WKT; "" where nothing is
// left.
func asMVTGeom(t testing.TB, c *pgx.Conn, tl Tile, shape orb.Geometry) string {
	var got *string
	require.NoError(t, c.QueryRow(context.Background(), `SELECT ST_AsText(ST_AsMVTGeom(ST_GeomFromText($1, 3857),
		ST_TileEnvelope($2, $3, $4), 4096, $5, true))`, wkt.MarshalString(shape), tl.Z, tl.X, tl.Y, marginUnits).Scan(&got))
	if got == nil {
		return ""
	}
	return *got
}

// TestPostGIS_Points: a vine's coordinate is the one that ST_AsMVTGeom gives.
func TestPostGIS_Points(t *testing.T) {
	c := peers.PostGIS(t, "tile")
	rng := rand.New(rand.NewPCG(2, 2))
	inside, ties := 0, 0
	for range 400 {
		wx, wy := rng.Uint32(), uint32(float64(rng.Uint32())*0.8+worldSide*0.1)
		z := uint8(10 + rng.IntN(13))
		shift := 32 - uint(z)
		tl := Tile{z, wx >> shift, wy >> shift}
		x, y := mercator(float64(wx), float64(wy))
		want, err := wkt.UnmarshalPoint(asMVTGeom(t, c, tl, orb.Point{x, y}))
		require.NoError(t, err)
		g := gridOf(tl, extentBits)
		gx, gy := g.offset(wx, wy)
		if half := uint32(g.half); z <= 19 && (wx&(2*half-1) == half || wy&(2*half-1) == half) {
			ties++ // half way between two units: either is right
			assert.InDelta(t, want[0], gx, 1)
			assert.InDelta(t, want[1], gy, 1)
			continue
		}
		assert.Equal(t, want, orb.Point{float64(gx), float64(gy)}, "%d, %d in %s", wx, wy, tl)
		if px, py, in := g.point(wx, wy, extentBits); in {
			inside++
			assert.Equal(t, want, orb.Point{float64(px), float64(py)})
		}
	}
	assert.Greater(t, inside, 300)
	assert.Less(t, ties, 60)
}

// TestPostGIS_Lines: a piece of row runs where ST_AsMVTGeom runs it.
func TestPostGIS_Lines(t *testing.T) {
	c, ctx := peers.PostGIS(t, "tile"), context.Background()
	rng := rand.New(rand.NewPCG(3, 3))
	shown := 0
	for range 200 {
		z := uint8(13 + rng.IntN(8))
		side := uint32(1) << (32 - z)
		tl := Tile{z, 3_880_000_000 / side, 2_630_000_000 / side}
		var line [][2]uint32
		var ls orb.LineString
		for range 2 + rng.IntN(4) {
			p := [2]uint32{tl.X*side + rng.Uint32N(2*side) - side/2, tl.Y*side + rng.Uint32N(2*side) - side/2}
			line = append(line, p)
			x, y := mercator(float64(p[0]), float64(p[1]))
			ls = append(ls, orb.Point{x, y})
		}
		want := asMVTGeom(t, c, tl, ls)
		w := &workshop{}
		w.begin(tl)
		w.startShape()
		w.pieceLine(line, false)
		nums, err := packed(w.pen.buf)
		require.NoError(t, err)
		if want == "" || len(nums) == 0 {
			// A touch of the margin may be kept by one and not by the other.
			assert.LessOrEqual(t, len(nums), 12)
			continue
		}
		shown++
		parts, err := readGeometry(2, nums)
		require.NoError(t, err)
		// Along the margin, which nobody sees, a line that all but grazes it may
		// end some units sooner: theirs is rounded before it is cut.
		var ours, theirs float64
		require.NoError(t, c.QueryRow(ctx, `SELECT ST_Length(ST_Difference(ST_Intersection(a, e), ST_Buffer(b, 1.5))), ST_Length(ST_Difference(ST_Intersection(b, e), ST_Buffer(a, 1.5)))
			FROM (SELECT ST_GeomFromText($1) a, ST_GeomFromText($2) b, ST_MakeEnvelope(0, 0, 4096, 4096) e) s`,
			wkt.MarshalString(asLines(parts)), want).Scan(&ours, &theirs))
		assert.Zero(t, ours+theirs, "%s: %v against %s", tl, parts, want)
	}
	assert.Greater(t, shown, 120)
}

func asLines(parts [][][2]int64) (out orb.MultiLineString) {
	for _, p := range parts {
		var ls orb.LineString
		for _, pt := range p {
			ls = append(ls, orb.Point{float64(pt[0]), float64(pt[1])})
		}
		out = append(out, ls)
	}
	return out
}

// asAreas groups rings into polygons.
func asAreas(rings [][][2]int64) (out orb.MultiPolygon) {
	for _, r := range rings {
		var ring orb.Ring
		for _, pt := range append(r, r[0]) {
			ring = append(ring, orb.Point{float64(pt[0]), float64(pt[1])})
		}
		if surveyed(r) > 0 {
			out = append(out, orb.Polygon{ring})
		} else {
			out[len(out)-1] = append(out[len(out)-1], ring)
		}
	}
	return out
}

// TestPostGIS_Areas: a jagged outline with a hole, cut by a tile, covers what
// the result of ST_AsMVTGeom covers, to the rounding of its corners.
func TestPostGIS_Areas(t *testing.T) {
	c, ctx := peers.PostGIS(t, "tile"), context.Background()
	rng := rand.New(rand.NewPCG(4, 4))
	shown, invalid := 0, 0
	for range 200 {
		z := uint8(13 + rng.IntN(8))
		side := float64(uint64(1) << (32 - z))
		tl := Tile{z, uint32(3.88e9 / side), uint32(2.63e9 / side)}
		middle := vec{(float64(tl.X) + rng.Float64()) * side, (float64(tl.Y) + rng.Float64()) * side}
		rings := jagged(rng, middle, side*math.Exp(rng.Float64()*4-3))
		var poly orb.Polygon
		for _, r := range rings {
			var ring orb.Ring
			for _, v := range append(r, r[0]) {
				x, y := mercator(v.x, v.y)
				ring = append(ring, orb.Point{x, y})
			}
			poly = append(poly, ring)
		}
		want := asMVTGeom(t, c, tl, poly)
		got := outlineIn(t, orb.MultiPolygon{asOrb(rings)}, tl)
		if want == "" || len(got) == 0 {
			assert.Equal(t, want == "", len(got) == 0, "%s: theirs %q, ours %v", tl, want, got)
			continue
		}
		shown++
		var differ, length float64
		var valid bool
		require.NoError(t, c.QueryRow(ctx, `SELECT ST_Area(ST_SymDifference(ST_MakeValid(a), b)), ST_Perimeter(b), ST_IsValid(a)
			FROM (SELECT ST_GeomFromText($1) a, ST_GeomFromText($2) b) s`, wkt.MarshalString(asAreas(got)), want).Scan(&differ, &length, &valid))
		assert.LessOrEqual(t, differ, 0.75*length+8, "%s: %v against %s", tl, got, want)
		if !valid {
			invalid++
		}
	}
	assert.Greater(t, shown, 150)
	// Rounding may make a thin spur touch itself, which the specification
	// allows; cutting must not.
	assert.Less(t, invalid, shown/20)
}

func jagged(rng *rand.Rand, middle vec, size float64) [][]vec {
	n := 3 + rng.IntN(12)
	var out, in []vec
	for i := range n {
		a, r := 2*math.Pi*float64(i)/float64(n), size*(0.3+0.7*rng.Float64())
		out = append(out, vec{middle.x + r*math.Cos(a), middle.y + r*math.Sin(a)})
		in = append([]vec{{middle.x + r/3*math.Cos(a), middle.y + r/3*math.Sin(a)}}, in...)
	}
	return [][]vec{out, in}
}

// loadVines copies vines into PostGIS, with the attributes of the layer.
func loadVines(t testing.TB, c *pgx.Conn, blocks []BlockView) {
	ctx := context.Background()
	_, err := c.Exec(ctx, `CREATE UNLOGGED TABLE vine (id bigint, block text, "row" text, number int, condition int, vigour int,
		progress int, leaf int, nodes int, x float8, y float8)`)
	require.NoError(t, err)
	for _, v := range blocks {
		g, s := v.Stand.Ground, v.Stand
		_, err := c.CopyFrom(ctx, pgx.Identifier{"vine"}, strings.Fields("id block row number condition vigour progress leaf nodes x y"),
			pgx.CopyFromSlice(g.Len(), func(i int) ([]any, error) {
				x, y := mercator(float64(g.WX[i]), float64(g.WY[i]))
				var nodes any
				if s.Nodes[i] != stand.None {
					nodes = int32(s.Nodes[i])
				}
				return []any{g.ID[i], g.Code, g.Rows[g.Row[i]].Label, g.Number[i], int32(s.Condition[i]), int32(s.Vigour[i]),
					int32(s.Progress[i]), int32(s.Leaf[i]), nodes, x, y}, nil
			}))
		require.NoError(t, err)
	}
	for _, q := range []string{
		"ALTER TABLE vine ADD geom geometry(Point, 3857)",
		"UPDATE vine SET geom = ST_SetSRID(ST_MakePoint(x, y), 3857)",
		"CREATE INDEX ON vine USING gist (geom)",
		"ALTER TABLE vine ADD lonlat geometry(Point, 4326)",
		"UPDATE vine SET lonlat = ST_Transform(geom, 4326)",
		"CREATE INDEX ON vine USING gist (lonlat)",
		"VACUUM FULL vine",
		"VACUUM ANALYZE vine",
		// Parallel plans make single tiles slower by far.
		"SET max_parallel_workers_per_gather = 0",
	} {
		_, err := c.Exec(ctx, q)
		require.NoError(t, err)
	}
}

const asMVT = `SELECT ST_AsMVT(t, 'vines', 4096, 'geom', 'id') FROM (
	SELECT id, block, "row", number, condition, vigour, progress, leaf, nodes, ST_AsMVTGeom(geom, e, 4096, 0, true) geom
	FROM vine, ST_TileEnvelope($1, $2, $3) e WHERE geom && e) t WHERE geom IS NOT NULL`

// asMVTStored is asMVT from points as the store keeps them, in EPSG:4326.
const asMVTStored = `SELECT ST_AsMVT(t, 'vines', 4096, 'geom', 'id') FROM (
	SELECT id, block, "row", number, condition, vigour, progress, leaf, nodes, ST_AsMVTGeom(ST_Transform(lonlat, 3857), e, 4096, 0, true) geom
	FROM vine, ST_TileEnvelope($1, $2, $3) e WHERE lonlat && ST_Transform(e, 4326)) t WHERE geom IS NOT NULL`

// TestPostGIS_Vines: the vines layer holds the same features as ST_AsMVT's.
func TestPostGIS_Vines(t *testing.T) {
	c, ctx := peers.PostGIS(t, "tile"), context.Background()
	blocks := []BlockView{plots()[0].view(t), plots()[1].view(t), plots()[2].view(t)}
	loadVines(t, c, blocks)
	vinesOf := func(raw []byte) map[vine.ID]geojson.Feature {
		layers, err := mvt.Unmarshal(raw)
		require.NoError(t, err)
		out := map[vine.ID]geojson.Feature{}
		for _, l := range layers {
			if l.Name != LayerVines {
				continue
			}
			for _, f := range l.Features {
				out[vine.ID(whole(t, f.ID))] = *f
			}
		}
		return out
	}
	compared := 0
	for _, v := range blocks {
		for _, z := range []uint8{17, 18, 19} {
			for _, tl := range nearTiles(t, v, z) {
				var raw []byte
				require.NoError(t, c.QueryRow(ctx, asMVT, tl.Z, tl.X, tl.Y).Scan(&raw))
				ours := vinesOf(Render(tl, blocks, Options{}))
				for id, want := range vinesOf(raw) {
					at := want.Geometry.(orb.Point)
					got, ok := ours[id]
					if at[0] == Extent || at[1] == Extent || at[0] == 0 || at[1] == 0 {
						continue // within half a unit of the edge: ours belongs to one tile only
					}
					require.True(t, ok, "vine %d in %s", id, tl)
					require.Equal(t, want.Properties, got.Properties)
					p := got.Geometry.(orb.Point)
					require.LessOrEqual(t, max(math.Abs(p[0]-at[0]), math.Abs(p[1]-at[1])), tieStep(z, id, blocks), "vine %d in %s", id, tl)
					compared++
				}
			}
		}
	}
	assert.Greater(t, compared, 3000)
}

// tieStep is 1 for a vine that lies half way between two units, else 0.
func tieStep(z uint8, id vine.ID, blocks []BlockView) float64 {
	half := uint32(1) << (20 - z) / 2
	for _, v := range blocks {
		g := v.Stand.Ground
		for i, k := range g.ID {
			if k == id && (g.WX[i]&(2*half-1) == half || g.WY[i]&(2*half-1) == half) {
				return 1
			}
		}
	}
	return 0
}
