package tile

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// TestOdd draws what nobody wants to meet, at every zoom: nothing breaks, and
// what is written keeps to the specification.
func TestOdd(t *testing.T) {
	base := plot{block: 7, code: "H7", lat: -37.72, lon: 145.32, rows: 1, vines: 1, rowM: 2.5, vineM: 1.25}
	one := base.view(t)
	lone := *one.Stand
	g := *lone.Ground
	g.Rows = []stand.Row{{ID: 1, Label: "1", Count: 1}} // no end posts
	g.VineSpacingM, g.RowSpacingM = 0, 0
	lone.Ground = &g
	bare, err := NewView(&lone, nil, nil, "", "")
	require.NoError(t, err)

	heap := base
	heap.vines, heap.vineM = 50, 1e-9 // all vines in one place
	none, err := NewView(&stand.Stand{Ground: &stand.Ground{Block: 8, Code: "H8"}}, nil, nil, "", "")
	require.NoError(t, err)
	emptyRow := &stand.Stand{Ground: &stand.Ground{Block: 9, Code: "", Rows: []stand.Row{{Label: ""}, {Label: ""}}}}
	gap, err := NewView(emptyRow, nil, nil, "", "")
	require.NoError(t, err)
	zeroID := base
	zeroID.vines, zeroID.block = 30, 0
	all := []BlockView{one, bare, heap.view(t), none, gap, zeroID.view(t), {}}
	var r Renderer
	for z := range uint8(MaxZoom + 1) {
		at, err := At(base.lon, base.lat, z)
		require.NoError(t, err)
		for _, v := range all {
			_, err := readStrictly(r.Vector(at, []BlockView{v}, Options{}))
			require.NoError(t, err, "zoom %d", z)
			for _, th := range []Theme{ThemeCondition, ThemeVigour, ThemeProgress} {
				_, err := r.PNG(at, th, 1, []BlockView{v})
				require.NoError(t, err)
			}
		}
	}
	assert.Nil(t, Render(Tile{9, 3, 3}, all, Options{}), "far away there is nothing: no bytes")
	assert.Nil(t, Render(Tile{40, 0, 0}, all, Options{}), "no tile")
	assert.Nil(t, Render(Tile{3, 8, 0}, all, Options{}), "no tile")
	assert.Nil(t, Render(Tile{0, 0, 0}, nil, Options{}))
}

func TestRender_Without(t *testing.T) {
	v := plots()[0].view(t)
	at, err := At(145.32, -37.72, 17)
	require.NoError(t, err)
	all := decoded(t, Render(at, []BlockView{v}, Options{}))
	some := decoded(t, Render(at, []BlockView{v}, Options{Without: []string{LayerVines, LayerRowLabels}}))
	require.Contains(t, all, LayerVines)
	assert.NotContains(t, some, LayerVines)
	assert.NotContains(t, some, LayerRowLabels)
	assert.Contains(t, some, LayerRows)
}

// TestAntimeridian: a block on 180° is drawn on both sides, its vines once.
func TestAntimeridian(t *testing.T) {
	p := plots()[3]
	v := p.view(t)
	for _, outline := range []struct {
		name string
		mp   orb.MultiPolygon
	}{
		{"written past 180°", orb.MultiPolygon{{{{179.999, -17.801}, {180.001, -17.801}, {180.001, -17.799}, {179.999, -17.799}, {179.999, -17.801}}}}},
		{"written with a jump", orb.MultiPolygon{{{{179.999, -17.801}, {-179.999, -17.801}, {-179.999, -17.799}, {179.999, -17.799}, {179.999, -17.801}}}}},
		{"cut in two as RFC 7946 asks", orb.MultiPolygon{
			{{{179.999, -17.801}, {180, -17.801}, {180, -17.799}, {179.999, -17.799}, {179.999, -17.801}}},
			{{{-180, -17.801}, {-179.999, -17.801}, {-179.999, -17.799}, {-180, -17.799}, {-180, -17.801}}},
		}},
	} {
		t.Run(outline.name, func(t *testing.T) {
			o, err := PrepareOutline(outline.mp)
			require.NoError(t, err)
			v.Outline = o
			for _, z := range []uint8{10, 14, 17} {
				west, err := At(179.9999, -17.8, z)
				require.NoError(t, err)
				east, err := At(-179.9999, -17.8, z)
				require.NoError(t, err)
				require.NotEqual(t, west.X, east.X)
				area := 0.0
				for _, tl := range []Tile{west, east} {
					require.True(t, v.Touches(tl))
					for _, f := range decoded(t, Render(tl, []BlockView{v}, Options{}))[LayerBlocks] {
						b := f.Geometry.Bound()
						area += (min(b.Max[0], Extent) - max(b.Min[0], 0)) * (b.Max[1] - b.Min[1])
					}
				}
				unit := 360 / math.Exp2(float64(z)) / Extent
				want := 0.002 / unit * 0.002 / unit / math.Cos(17.8*math.Pi/180)
				assert.InEpsilon(t, want, area, 0.25/math.Exp2(float64(z)-10)+0.02, "zoom %d", z)
			}
		})
	}
	zero := decoded(t, Render(Tile{}, []BlockView{v}, Options{}))
	assert.Len(t, zero[LayerBlockLabels], 1, "at zoom 0 the label is there once")
}

func TestPrepareOutline_Errors(t *testing.T) {
	good := orb.Ring{{145, -37}, {145.1, -37}, {145.1, -37.1}, {145, -37}}
	nan := orb.Ring{{145, -37}, {math.NaN(), -37}, {145.1, -37.1}}
	inf := orb.Ring{{145, -37}, {145, math.Inf(1)}, {145.1, -37.1}}
	line := orb.Ring{{145, -37}, {145.1, -37.1}, {145, -37}}
	for _, c := range []struct {
		name     string
		mp       orb.MultiPolygon
		polygons int
		rings    int
		message  string
	}{
		{"none", nil, 0, 0, ""},
		{"empty polygon", orb.MultiPolygon{{}}, 0, 0, ""},
		{"good", orb.MultiPolygon{{good}}, 1, 1, ""},
		{"not a number", orb.MultiPolygon{{nan}, {good}}, 1, 1, "polygon 1: ring 1: point 2"},
		{"not finite", orb.MultiPolygon{{good}, {inf}}, 1, 1, "polygon 2: ring 1: point 2"},
		{"a line", orb.MultiPolygon{{line}}, 0, 0, "encloses no area"},
		{"bad hole", orb.MultiPolygon{{good, nan}}, 1, 1, "polygon 1: ring 2: point 2"},
		{"latitude beyond the pole", orb.MultiPolygon{{{{0, 80}, {1, 80}, {1, 91}}}}, 0, 0, "not a longitude and latitude"},
	} {
		t.Run(c.name, func(t *testing.T) {
			o, err := PrepareOutline(c.mp)
			require.NotNil(t, o)
			if c.message == "" {
				assert.NoError(t, err)
			} else {
				assert.ErrorIs(t, err, ErrOutline)
				assert.ErrorContains(t, err, c.message)
			}
			require.Len(t, o.polygons, c.polygons)
			if c.polygons > 0 {
				assert.Len(t, o.polygons[0].rings, c.rings)
			}
		})
	}
}

func TestNewView_Errors(t *testing.T) {
	v := plots()[0].view(t)
	other := plots()[1].view(t)
	change := func(f func(s *stand.Stand, g *stand.Ground)) *stand.Stand {
		s, g := *v.Stand, *v.Stand.Ground
		s.Ground = &g
		f(&s, &g)
		return &s
	}
	for _, c := range []struct {
		name  string
		stand *stand.Stand
		index *Index
	}{
		{"no stand", nil, nil},
		{"no ground", &stand.Stand{}, nil},
		{"short column", change(func(s *stand.Stand, _ *stand.Ground) { s.Vigour = s.Vigour[1:] }), nil},
		{"short ground", change(func(_ *stand.Stand, g *stand.Ground) { g.WX = nil }), nil},
		{"rows overlap", change(func(_ *stand.Stand, g *stand.Ground) {
			g.Rows = append([]stand.Row(nil), g.Rows...)
			g.Rows[1].First--
		}), nil},
		{"rows beyond the end", change(func(_ *stand.Stand, g *stand.Ground) {
			g.Rows = append([]stand.Row(nil), g.Rows...)
			g.Rows[len(g.Rows)-1].Count++
		}), nil},
		{"vines without a row", change(func(_ *stand.Stand, g *stand.Ground) { g.Rows = g.Rows[:2] }), nil},
		{"index of another ground", v.Stand, other.Index},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewView(c.stand, c.index, nil, "", "")
			assert.ErrorIs(t, err, ErrView)
		})
	}
}

// FuzzRender draws outlines and vines from any bytes into any tile.
func FuzzRender(f *testing.F) {
	f.Add(uint8(17), 145.32, -37.72, []byte("0123456789abcdef0123456789abcdef0123456789abcdef"))
	f.Add(uint8(0), 179.9999, 85.06, []byte{})
	f.Add(uint8(22), -180.0, -90.0, make([]byte, 64))
	f.Add(uint8(13), math.Inf(1), math.NaN(), []byte{255, 0, 255, 0, 1, 1, 1, 1, 0, 9, 0, 9, 8, 7, 6, 5})
	var r Renderer
	f.Fuzz(func(t *testing.T, z uint8, lon, lat float64, raw []byte) {
		tl, err := At(lon, lat, z%(MaxZoom+1))
		if err != nil {
			return
		}
		// Pairs of bytes are steps around the position, in eighths of a tile.
		unit := 360 / math.Exp2(float64(tl.Z)) / 8
		var ring orb.Ring
		g := &stand.Ground{Block: 1, Code: string(raw[:min(len(raw), 5)])}
		for ; len(raw) >= 4 && len(ring) < 200; raw = raw[4:] {
			x, y := int16(binary.LittleEndian.Uint16(raw)), int16(binary.LittleEndian.Uint16(raw[2:]))
			p := orb.Point{lon + float64(x)/1024*unit, lat + float64(y)/1024*unit}
			ring = append(ring, p)
			wx, wy, err := ToWorld(p[0], p[1])
			if err != nil {
				continue
			}
			g.ID = append(g.ID, vine.ID(len(g.ID)+1))
			g.Row, g.Number = append(g.Row, 0), append(g.Number, int32(len(g.ID)))
			g.WX, g.WY = append(g.WX, wx), append(g.WY, wy)
		}
		g.Rows = []stand.Row{{ID: 1, Label: "1", Count: len(g.ID)}}
		hole := len(ring) / 2
		o, _ := PrepareOutline(orb.MultiPolygon{{ring[:hole:hole], ring[hole:]}})
		v, err := NewView(plot{seed: uint64(z)}.season(g), nil, o, "", "")
		require.NoError(t, err)
		// Rings that cross themselves are drawn as they are; all other rules hold.
		b := r.Vector(tl, []BlockView{v}, Options{Without: []string{LayerBlocks}})
		_, err = readStrictly(b)
		require.NoError(t, err)
		_, err = fieldsOf(r.Vector(tl, []BlockView{v}, Options{}))
		require.NoError(t, err)
		_, err = r.PNG(tl, ThemeCondition, 1, []BlockView{v})
		require.NoError(t, err)
	})
}
