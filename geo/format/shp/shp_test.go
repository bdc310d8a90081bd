package shp

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/format"
	"courson/store/peers"
)

var day0 = time.Date(2027, 2, 3, 8, 0, 0, 0, time.UTC)

func square(x, y, d float64) orb.Ring {
	return orb.Ring{{x, y}, {x + d, y}, {x + d, y + d}, {x, y + d}, {x, y}}
}

// zones is a layer like a rate map: a zone with a hole, one of two parts, and a
// record without a place.
func zones() *Layer {
	return &Layer{
		Name: "H3_rates", Kind: Polygons,
		Shapes: []orb.Geometry{
			orb.Polygon{square(11.37, 45.21, 0.001), square(11.3702, 45.2102, 0.0003)},
			orb.MultiPolygon{{square(11.38, 45.21, 0.001)}, {square(11.39, 45.21, 0.001)}},
			nil,
		},
		Columns: []Column{
			{Name: "zone", Texts: []string{"schwach, spät", "côté fossé", ""}},
			{Name: "kg_ha", Title: "compost, kg/ha", Numbers: []float64{12000.25, 0, math.NaN()}, Decimals: 2},
			{Name: "vines", Numbers: []float64{1482, -3, 2147483647}},
		},
	}
}

func write(t testing.TB, l *Layer) ([]byte, []format.Notice) {
	t.Helper()
	var b bytes.Buffer
	n, err := WriteZip(&b, l, day0)
	require.NoError(t, err)
	return b.Bytes(), n
}

func read(b []byte, o Options) ([]*Layer, []format.Notice, error) {
	return ReadZip(bytes.NewReader(b), int64(len(b)), o)
}

func texts(n []format.Notice) string {
	var out []string
	for _, x := range n {
		out = append(out, x.String())
	}
	return strings.Join(out, "\n")
}

type collection struct {
	Features []struct {
		Properties map[string]any
		Geometry   *struct {
			Type        string
			Coordinates json.RawMessage
		}
	}
}

// GDAL reads what is written: shapes with holes and parts, texts, numbers,
// places without a value, the coordinate system, and complains about nothing.
func TestWriteZip_GDAL(t *testing.T) {
	b, notices := write(t, zones())
	require.Empty(t, notices)
	dir := t.TempDir()
	path := filepath.Join(dir, "a.zip")
	require.NoError(t, os.WriteFile(path, b, 0o644))
	said := peers.Run(t, "ogrinfo", "-al", "-so", "/vsizip/"+path+"/H3_rates.shp")
	for _, want := range []string{"Geometry: Polygon", "Feature Count: 3", `ID["EPSG",4326]`, "kg_ha: Real (8.2)", "vines: Integer64 (10.0)", "zone: String (14.0)"} {
		assert.Contains(t, said, want)
	}
	require.NotContains(t, said, "Warning")
	out := filepath.Join(dir, "out.geojson")
	require.Empty(t, peers.Run(t, "ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", out, "/vsizip/"+path+"/H3_rates.shp"))
	text, err := os.ReadFile(out)
	require.NoError(t, err)
	var fc collection
	require.NoError(t, json.Unmarshal(text, &fc))
	require.Len(t, fc.Features, 3)
	require.Equal(t, map[string]any{"zone": "schwach, spät", "kg_ha": 12000.25, "vines": 1482.}, fc.Features[0].Properties)
	require.Equal(t, map[string]any{"zone": nil, "kg_ha": nil, "vines": 2147483647.}, fc.Features[2].Properties)
	require.Nil(t, fc.Features[2].Geometry)
	var pg orb.Polygon
	require.Equal(t, "Polygon", fc.Features[0].Geometry.Type)
	require.NoError(t, json.Unmarshal(fc.Features[0].Geometry.Coordinates, &pg))
	require.Len(t, pg, 2)
	require.InDelta(t, 1e-6, math.Abs(area(pg[0])), 1e-15)
	require.InDelta(t, 9e-8, math.Abs(area(pg[1])), 1e-15)
	require.Less(t, area(pg[0])*area(pg[1]), 0., "one turns the other way")
	require.Equal(t, "MultiPolygon", fc.Features[1].Geometry.Type)
}

func TestWriteZip_Refuses(t *testing.T) {
	for _, c := range []struct {
		name, want string
		change     func(*Layer)
	}{
		{"name", "not a name for a file", func(l *Layer) { l.Name = "../x" }},
		{"kind", "does not belong among points", func(l *Layer) { l.Kind = Points }},
		{"no columns", "no columns", func(l *Layer) { l.Columns = nil }},
		{"field name", "not a field name", func(l *Layer) { l.Columns[0].Name = "nom_du_cépage" }},
		{"same name", "two columns of one name", func(l *Layer) { l.Columns[1].Name = "ZONE" }},
		{"too few values", "one value for each shape", func(l *Layer) { l.Columns[1].Numbers = nil }},
		{"number too wide", "feature 0, kg_ha: the number does not fit", func(l *Layer) { l.Columns[1].Width = 5 }},
		{"infinite", "does not fit", func(l *Layer) { l.Columns[2].Numbers[1] = math.Inf(1) }},
		{"NUL", "bytes that no table can", func(l *Layer) { l.Columns[0].Texts[0] = "a\x00b" }},
		{"latitude", "latitude", func(l *Layer) { l.Shapes[0] = orb.Polygon{square(11, 90, 1)} }},
		{"ring of two", "too few places", func(l *Layer) { l.Shapes[0] = orb.Polygon{{{1, 2}, {2, 3}}} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := zones()
			c.change(l)
			var b bytes.Buffer
			_, err := WriteZip(&b, l, day0)
			require.ErrorContains(t, err, c.want)
			require.Zero(t, b.Len(), "nothing half-written")
			var p *format.Problem
			require.ErrorAs(t, err, &p)
		})
	}
	_, err := WriteZip(failing{}, zones(), day0)
	require.ErrorIs(t, err, errFull)
}

var errFull = errors.New("disk full")

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errFull }

var _ io.Writer = failing{}

func TestWriteZip_CutsTexts(t *testing.T) {
	l := zones()
	l.Columns[0].Texts[1] = strings.Repeat("é", 200)
	b, notices := write(t, l)
	require.Contains(t, texts(notices), "feature 1, zone: text cut to 254 bytes")
	layers, _, err := read(b, Options{})
	require.NoError(t, err)
	require.Equal(t, strings.Repeat("é", 127), layers[0].Columns[0].Texts[1])
}

func TestNames(t *testing.T) {
	// GDAL's own shortening of these is vigour_202, vigour_2_1, nom_du_cep.
	require.Equal(t, []string{"vigr2023mn", "vgr2023mdn", "nom_du_cpg", "rate", "rate_2", "f_2027", "prnngw2026", "prnngw2027"},
		Names([]string{"vigour 2023 mean", "vigour_2023_median", "nom_du_cépage", "Rate", "rate!", "2027", "pruning weight 2026", "pruning weight 2027"}))
	rapid.Check(t, func(t *rapid.T) {
		titles := rapid.SliceOfN(rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-c]{8,12}[0-9]{0,3}`)), 0, 60).Draw(t, "titles")
		seen := map[string]bool{}
		for _, n := range Names(titles) {
			require.True(t, sound(n), n)
			require.False(t, seen[n], n)
			seen[n] = true
		}
	})
}

// Whatever is written is read back the same.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom([]Kind{Points, Lines, Polygons, MultiPoints}).Draw(t, "kind")
		lon, lat := rapid.Float64Range(-179, 179), rapid.Float64Range(-89, 89)
		point := func() orb.Point { return orb.Point{lon.Draw(t, "lon"), lat.Draw(t, "lat")} }
		l := &Layer{Name: "a", Kind: kind}
		n := rapid.IntRange(0, 6).Draw(t, "n")
		num, txt := Column{Name: "num", Decimals: 3, Numbers: []float64{}}, Column{Name: "txt", Texts: []string{}}
		for range n {
			var g orb.Geometry
			switch {
			case rapid.IntRange(0, 5).Draw(t, "null") == 0:
			case kind == Points:
				g = point()
			case kind == Lines && rapid.Bool().Draw(t, "parts"):
				g = orb.MultiLineString{{point(), point()}, {point(), point(), point()}}
			case kind == Lines:
				g = orb.LineString{point(), point()}
			case kind == MultiPoints:
				g = orb.MultiPoint{point(), point()}
			default:
				x, y := rapid.Float64Range(-170, 170).Draw(t, "x"), rapid.Float64Range(-80, 80).Draw(t, "y")
				hole := square(x+0.25, y+0.25, 0.5)
				for i, j := 0, 4; i < j; i, j = i+1, j-1 {
					hole[i], hole[j] = hole[j], hole[i]
				}
				g = orb.Polygon{square(x, y, 1), hole}
				if rapid.Bool().Draw(t, "two") {
					g = orb.MultiPolygon{{square(x, y, 1), hole}, {square(x+2, y, 1)}}
				}
			}
			l.Shapes = append(l.Shapes, g)
			num.Numbers = append(num.Numbers, float64(rapid.IntRange(-1e9, 1e9).Draw(t, "number"))/1000)
			txt.Texts = append(txt.Texts, strings.TrimRight(rapid.StringMatching(`[a-zé ü€"']{0,30}`).Draw(t, "text"), " "))
		}
		l.Columns = []Column{num, txt}
		var b bytes.Buffer
		notices, err := WriteZip(&b, l, day0)
		require.NoError(t, err)
		require.Empty(t, notices)
		back, _, err := read(b.Bytes(), Options{})
		require.NoError(t, err)
		require.Len(t, back, 1)
		require.Equal(t, kind, back[0].Kind)
		require.Equal(t, l.Shapes, back[0].Shapes)
		require.Equal(t, num.Numbers, back[0].Columns[0].Numbers)
		require.Equal(t, txt.Texts, back[0].Columns[1].Texts)
	})
}
