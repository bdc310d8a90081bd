package tile

import (
	"bytes"
	"image/color"
	"image/png"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
)

// withFound joins findings in which every vine has one code.
func withFound(t *testing.T, s *stand.Stand, code uint8) *stand.Stand {
	n := s.Ground.Len()
	f := &stand.Found{Stamp: "t", Class: make([]uint8, n), Basis: make([]uint8, n), Doubt: make([]uint8, n), Change: make([]uint8, n), Patch: make([]stand.Patchy, n), Replant: make([]stand.Replanting, n), Zone: make([]uint8, n)}
	for i := range n {
		f.Class[i], f.Basis[i], f.Doubt[i], f.Change[i], f.Patch[i], f.Replant[i], f.Zone[i] = 3, 3, min(code, 4), min(code, 5), stand.Patchy(min(code, 4)), stand.Replanting(code), min(code, MostZones)
	}
	out, err := s.WithFound(f)
	require.NoError(t, err)
	return out
}

// layerOf reads one layer with another program's decoder (orb).
func layerOf(t *testing.T, raw []byte, name string) []*geojson.Feature {
	layers, err := mvt.Unmarshal(raw)
	require.NoError(t, err)
	for _, l := range layers {
		if l.Name == name {
			return l.Features
		}
	}
	return nil
}

// TestVector_Findings: pieces and vines carry what was found, and the areas
// have their outlines, at the zooms that the table of layers names.
func TestVector_Findings(t *testing.T) {
	p := plot{block: 1, code: "F", lat: -37.72, lon: 145.32, rows: 20, vines: 40, rowM: 2.5, vineM: 1.25}
	s, mp := p.grow(t)
	o, err := PrepareOutline(mp)
	require.NoError(t, err)
	v, err := NewView(withFound(t, s, 2), nil, o, "", "")
	require.NoError(t, err)
	lon, lat := p.at(10, 20)
	area, err := PrepareOutline(orb.MultiPolygon{{{{lon - 1e-4, lat - 1e-4}, {lon + 1e-4, lat - 1e-4}, {lon + 1e-4, lat + 1e-4}, {lon - 1e-4, lat - 1e-4}}}})
	require.NoError(t, err)
	v = v.WithAreas(Areas{Patches: []Patch{{ID: "F-2027-w1", Kind: "weak", Vines: 12, Hectares: 0.01, ShortfallPct: 31.5, Outline: area}}})
	for _, z := range []uint8{12, 13, 17} {
		tl, err := At(lon, lat, z)
		require.NoError(t, err)
		raw := Render(tl, []BlockView{v}, Options{})
		patches := layerOf(t, raw, LayerPatches)
		if z == 12 {
			assert.Empty(t, patches)
			continue
		}
		require.Len(t, patches, 1)
		got := patches[0].Properties
		assert.Equal(t, "F-2027-w1", got["id"])
		assert.Equal(t, "weak", got["kind"])
		assert.EqualValues(t, 31.5, got["shortfall_pct"])
		for _, r := range layerOf(t, raw, LayerRows) {
			assert.EqualValues(t, 2, r.Properties["patch"])
			assert.EqualValues(t, 2, r.Properties["doubt"])
		}
		seen := 0
		for _, vn := range layerOf(t, raw, LayerVines) {
			if vn.Properties["patch"] != nil {
				seen++
				assert.EqualValues(t, 2, vn.Properties["patch"])
				assert.EqualValues(t, 3, vn.Properties["basis"])
			}
		}
		assert.Equal(t, z == 17, seen > 0)
	}
}

// TestClasses_AreTheLegends: a value at a border has the class that begins there.
func TestClasses_AreTheLegends(t *testing.T) {
	for _, c := range []struct {
		legend Legend
		class  func(float64) uint8
	}{{DoubtLegend(), DoubtClass}, {ChangeLegend(), ChangeClass}} {
		for _, k := range c.legend.Classes[1:] {
			if k.From != nil {
				assert.Equal(t, k.Code, c.class(*k.From), k.Key)
				assert.Equal(t, k.Code-1, c.class(*k.From-1e-6), k.Key)
			}
			if k.To != nil {
				assert.Equal(t, k.Code, c.class(*k.To-1e-6), k.Key)
			}
		}
	}
}

// TestVector_Zones: the ground of zones is there from the zoom that the table of
// layers names, also where a block shows as a whole, with its number, season and,
// where one is planned, its rate.
func TestVector_Zones(t *testing.T) {
	p := plot{block: 1, code: "F", lat: -37.72, lon: 145.32, rows: 20, vines: 40, rowM: 2.5, vineM: 1.25}
	s, mp := p.grow(t)
	o, err := PrepareOutline(mp)
	require.NoError(t, err)
	v, err := NewView(withFound(t, s, 2), nil, o, "", "")
	require.NoError(t, err)
	lon, lat := p.at(10, 20)
	const d = 2e-4
	ground := func(east float64) *Outline {
		o, err := PrepareOutline(orb.MultiPolygon{{{{lon + east, lat - d}, {lon + east + d, lat - d}, {lon + east + d, lat + d}, {lon + east, lat + d}, {lon + east, lat - d}}}})
		require.NoError(t, err)
		return o
	}
	v = v.WithAreas(Areas{Zones: []ZoneArea{
		{ID: "F-2027-z1", Zone: 1, Season: 2027, Vines: 12, Hectares: 0.15, Outline: ground(-d)},
		{ID: "F-2027-z2", Zone: 2, Season: 2027, Vines: 30, Hectares: 0.15, Material: "Compost", Rate: 12.5, Unit: "t/ha", Outline: ground(0)}}})
	far, ok := v.Far()
	require.True(t, ok)
	for _, z := range []uint8{10, 11, 13, 17} {
		tl, err := At(lon+d/2, lat, z)
		require.NoError(t, err)
		shown := v
		if FarOff(z) {
			shown = far
		}
		got := layerOf(t, Render(tl, []BlockView{shown}, Options{}), LayerZones)
		if z == 10 {
			assert.Empty(t, got)
			continue
		}
		byZone := map[any]map[string]any{}
		for _, f := range got {
			byZone[f.Properties["zone"]] = f.Properties
		}
		require.Contains(t, byZone, 2.0, "zoom %d", z)
		assert.Equal(t, map[string]any{"id": "F-2027-z2", "block": "F", "zone": 2.0, "season": 2027.0, "vines": 30.0, "hectares": 0.15, "material": "Compost", "rate": 12.5, "unit": "t/ha"}, byZone[2.0])
		if z < 17 {
			require.Contains(t, byZone, 1.0, "zoom %d", z)
			assert.NotContains(t, byZone[1.0], "rate", "nothing is planned")
		}
	}
}

// TestPNG_Zones: far out a picture fills the ground of each zone in its class.
func TestPNG_Zones(t *testing.T) {
	p := plot{block: 1, code: "F", lat: -37.72, lon: 145.32, rows: 60, vines: 300, rowM: 2.5, vineM: 1.25}
	s, mp := p.grow(t)
	o, err := PrepareOutline(mp)
	require.NoError(t, err)
	v, err := NewView(s, nil, o, "", "")
	require.NoError(t, err)
	lon, lat := p.at(30, 150)
	area, err := PrepareOutline(orb.MultiPolygon{{{{lon - 1e-3, lat - 1e-3}, {lon + 1e-3, lat - 1e-3}, {lon + 1e-3, lat + 1e-3}, {lon - 1e-3, lat + 1e-3}, {lon - 1e-3, lat - 1e-3}}}})
	require.NoError(t, err)
	v = v.WithAreas(Areas{Zones: []ZoneArea{{ID: "F-2027-z3", Zone: 3, Season: 2027, Outline: area}}})
	tl, err := At(lon, lat, 14)
	require.NoError(t, err)
	var r Renderer
	raw, err := r.PNG(tl, ThemeZones, 1, []BlockView{v})
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	wanted, err := parseColour(ZoneLegend().Classes[3].Light)
	require.NoError(t, err)
	n := 0
	for y := range PictureSide {
		for x := range PictureSide {
			if color.NRGBAModel.Convert(img.At(x, y)) == color.Color(wanted) {
				n++
			}
		}
	}
	assert.Greater(t, n, 100, "pixels in the colour of zone 3")
}
