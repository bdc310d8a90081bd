package shp

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/format"
	"courson/geo/frame"
)

var day0 = time.Date(2027, 2, 3, 8, 0, 0, 0, time.UTC)

func tool(t testing.TB, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
			t.Fatal(name + " (GDAL) is not installed")
		}
		t.Skip(name + " (GDAL) is not installed")
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	require.NoError(t, err, "%s %v: %s", name, args, out)
	return string(out)
}

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
	said := tool(t, "ogrinfo", "-al", "-so", "/vsizip/"+path+"/H3_rates.shp")
	for _, want := range []string{"Geometry: Polygon", "Feature Count: 3", `ID["EPSG",4326]`, "kg_ha: Real (8.2)", "vines: Integer64 (10.0)", "zone: String (14.0)"} {
		assert.Contains(t, said, want)
	}
	require.NotContains(t, said, "Warning")
	out := filepath.Join(dir, "out.geojson")
	require.Empty(t, tool(t, "ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", out, "/vsizip/"+path+"/H3_rates.shp"))
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

// What GDAL writes is read: geometry types, encodings, field types.
func TestReadZip_GDAL(t *testing.T) {
	dir := t.TempDir()
	src := filepath.Join(dir, "src.geojson")
	require.NoError(t, os.WriteFile(src, []byte(`{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"note":"côté fossé","n":7,"x":1.25,"day":"2027/02/03","id":9007199254740993},"geometry":{"type":"Polygon","coordinates":[[[11,45],[11.01,45],[11.01,45.01],[11,45.01],[11,45]],[[11.002,45.002],[11.002,45.004],[11.004,45.004],[11.004,45.002],[11.002,45.002]]]}},
{"type":"Feature","properties":{"note":"Böschung","n":null,"x":-0.5,"day":null,"id":12},"geometry":{"type":"MultiPolygon","coordinates":[[[[12,45],[12.01,45],[12.01,45.01],[12,45.01],[12,45]]],[[[13,45],[13.01,45],[13.01,45.01],[13,45.01],[13,45]]]]}}]}`), 0o644))
	for _, c := range []struct{ encoding, crs string }{{"UTF-8", "EPSG:4326"}, {"ISO-8859-1", "EPSG:32632"}, {"", "EPSG:25832"}, {"CP850", "EPSG:3857"}, {"UTF-8", "EPSG:2154"}} {
		t.Run(c.encoding+" "+c.crs, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "z.shz")
			args := []string{"-q", "-f", "ESRI Shapefile", "-t_srs", c.crs}
			if c.encoding != "" {
				args = append(args, "-lco", "ENCODING="+c.encoding)
			}
			tool(t, "ogr2ogr", append(args, out, src)...)
			b, err := os.ReadFile(out)
			require.NoError(t, err)
			layers, notices, err := read(b, Options{})
			require.NoError(t, err, texts(notices))
			require.Len(t, layers, 1)
			l := layers[0]
			require.Equal(t, c.crs, fmt.Sprintf("EPSG:%d", l.CRS.Code))
			require.Equal(t, Polygons, l.Kind)
			require.Equal(t, []string{"note", "n", "x", "day", "id"}, names(l))
			require.Equal(t, []string{"côté fossé", "Böschung"}, l.Columns[0].Texts)
			require.Equal(t, 7., l.Columns[1].Numbers[0])
			require.True(t, math.IsNaN(l.Columns[1].Numbers[1]))
			require.Equal(t, []float64{1.25, -0.5}, l.Columns[2].Numbers)
			require.Equal(t, []string{"2027-02-03", ""}, l.Columns[3].Texts)
			require.True(t, l.Columns[3].Date)
			require.Equal(t, []string{"9007199254740993", "12"}, l.Columns[4].Texts, "ids beyond 2^53 stay exact")
			near(t, orb.Polygon{{{11, 45}, {11.01, 45}, {11.01, 45.01}, {11, 45.01}, {11, 45}}, {{11.002, 45.002}, {11.002, 45.004}, {11.004, 45.004}, {11.004, 45.002}, {11.002, 45.002}}}, l.Shapes[0])
			require.IsType(t, orb.MultiPolygon{}, l.Shapes[1])
		})
	}
}

func names(l *Layer) (out []string) {
	for _, c := range l.Columns {
		out = append(out, c.Name)
	}
	return out
}

// near wants the same polygon within a millimetre, whatever corner rings begin at.
func near(t testing.TB, want orb.Polygon, got orb.Geometry) {
	t.Helper()
	pg, ok := got.(orb.Polygon)
	require.True(t, ok, "%T", got)
	require.Len(t, pg, len(want))
	for i, r := range want {
		require.Len(t, pg[i], len(r))
		require.InDelta(t, area(r), area(pg[i]), 1e-9)
		for _, p := range r {
			best := math.Inf(1)
			for _, q := range pg[i] {
				best = min(best, math.Hypot(p[0]-q[0], p[1]-q[1]))
			}
			require.Less(t, best, 1e-8)
		}
	}
}

// The .prj of every supported system as GDAL writes it leads back to its code.
func TestParsePRJ_GDAL(t *testing.T) {
	n := 0
	for i, code := range codes() {
		if i%7 != 0 && code >= 3942 { // of each family some
			continue
		}
		if code == 3857 || i%3 != 0 && code > 25800 {
			continue
		}
		n++
		text := tool(t, "gdalsrsinfo", "-o", "wkt_esri", fmt.Sprintf("EPSG:%d", code))
		c, err := ParsePRJ(strings.TrimSpace(text))
		require.NoError(t, err, text)
		assert.Equal(t, code, c.Code, text)
	}
	require.Greater(t, n, 20)
	c, err := ParsePRJ(strings.TrimSpace(tool(t, "gdalsrsinfo", "-o", "wkt_esri", "EPSG:3857")))
	require.NoError(t, err)
	require.Equal(t, 3857, c.Code)
	c, err = ParsePRJ(strings.TrimSpace(tool(t, "gdalsrsinfo", "-o", "wkt1", "EPSG:32719")))
	require.NoError(t, err)
	require.Equal(t, 32719, c.Code)
	for _, code := range []string{"EPSG:2056", "EPSG:5514", "EPSG:27572", "EPSG:3035"} { // oblique, Krovak, Paris, equal-area
		_, err := ParsePRJ(strings.TrimSpace(tool(t, "gdalsrsinfo", "-o", "wkt_esri", code)))
		require.Error(t, err, code)
	}
}

func TestParsePRJ(t *testing.T) {
	utm := func(change ...string) string {
		return strings.NewReplacer(change...).Replace(`PROJCS["WGS_1984_UTM_Zone_32N",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`)
	}
	c, err := ParsePRJ(utm())
	require.NoError(t, err)
	require.Equal(t, 32632, c.Code)
	c, err = ParsePRJ(utm("9.0]", "9.5]"))
	require.NoError(t, err)
	require.Equal(t, 0, c.Code, "no code, but usable")
	x, y := c.Forward(orb.Point{9.5, 0})
	require.InDelta(t, 500000, x, 1e-6)
	require.InDelta(t, 0, y, 1e-6)
	for _, b := range []struct{ text, want string }{
		{"", "word is missing"},
		{"hello", "neither degrees nor a projection"},
		{utm("]]", "]"), "bracket is not closed"},
		{utm("WGS_1984", "Bessel_1841"), "datum"},
		{utm("6378137.0", "6377397.155"), "ellipsoid"},
		{utm("Greenwich\",0.0", "Paris\",2.337"), "Paris"},
		{utm("Transverse_Mercator", "Krovak"), "Krovak"},
		{utm("Meter\",1.0", "Meter\",0"), "unit"},
		{utm("0.9996", "abc"), "no number"},
		{utm("Scale_Factor", "Azimuth"), "Azimuth"},
		{`PROJCRS["WGS 84 / UTM zone 32N",BASEGEOGCRS["WGS 84"]]`, "WKT 2"},
		{strings.Repeat("A[", 100), "too deep"},
	} {
		_, err := ParsePRJ(b.text)
		require.ErrorContains(t, err, b.want, b.text)
	}
}

// Hand-made files (testdata): values as GDAL 3.6.2, sf and shapefile for
// JavaScript read them.
func TestRead_HandMade(t *testing.T) {
	part := func(name string) []byte {
		b, err := os.ReadFile("testdata/" + name)
		require.NoError(t, err)
		return b
	}
	set := func(name string) Files {
		return Files{name, part(name + ".shp"), part(name + ".shx"), part(name + ".dbf"), part(name + ".prj"), part(name + ".cpg")}
	}
	l, notices, err := Read(set("blocks"), Options{})
	require.NoError(t, err)
	require.Equal(t, 28355, l.CRS.Code)
	require.Contains(t, texts(notices), "GDA94 taken as WGS 84")
	require.Contains(t, texts(notices), "feature 1: no place")
	require.Equal(t, []string{"Block 7", "unlocated"}, l.Columns[0].Texts)
	require.Equal(t, 2527.25, l.Columns[1].Numbers[0])
	require.True(t, math.IsNaN(l.Columns[1].Numbers[1]))
	require.Nil(t, l.Shapes[1])
	pg := l.Shapes[0].(orb.Polygon)
	require.Len(t, pg, 2)
	require.InDelta(t, 2527.25, frame.WGS84.PolygonArea(pg)*0.9996*0.9996, 3, "41.5 m x 61.5 m less 25 m², scale of the zone aside")

	v, _, err := Read(set("vines"), Options{})
	require.NoError(t, err)
	require.Equal(t, Points, v.Kind)
	require.NotEmpty(t, v.Shapes)

	// Without its companions: no index, no table; no system is refused.
	f := set("blocks")
	f.SHX, f.DBF = nil, nil
	l2, notices, err := Read(f, Options{})
	require.NoError(t, err)
	require.Equal(t, l.Shapes, l2.Shapes)
	require.Contains(t, texts(notices), "the .shx is missing")
	require.Contains(t, texts(notices), "the .dbf is missing")
	f.PRJ = nil
	_, _, err = Read(f, Options{})
	require.ErrorIs(t, err, ErrNoCRS)
	l2, _, err = Read(f, Options{CRS: "EPSG:28355"})
	require.NoError(t, err)
	require.Equal(t, l.Shapes, l2.Shapes)
	_, _, err = Read(set("blocks"), Options{CRS: "EPSG:32755"})
	require.ErrorContains(t, err, "another coordinate system than was stated")

	// Cut short.
	f = set("blocks")
	f.SHP = f.SHP[:len(f.SHP)-40]
	_, _, err = Read(f, Options{})
	require.ErrorContains(t, err, "blocks.shp, feature 0: the file ends in the middle of a shape")
	f = set("vines")
	f.DBF = f.DBF[:len(f.DBF)-30]
	_, _, err = Read(f, Options{})
	require.ErrorContains(t, err, "cut short")
	f = set("vines")
	f.DBF = set("blocks").DBF
	_, _, err = Read(f, Options{})
	require.ErrorContains(t, err, "differ in number")
}

// Odd zips as public issue threads report them (O-36 to O-40 of the project's
// cases; what is right was worked out apart from the program).
func TestReadZip_Odd(t *testing.T) {
	file := func(name string) []byte {
		b, err := os.ReadFile("testdata/" + name)
		require.NoError(t, err)
		return b
	}
	for _, name := range []string{"o36a_polylinez_m_nodata.zip", "o36b_polylinez_no_m_part.zip", "o39_nested_upper_macosx.zip"} {
		layers, notices, err := read(file(name), Options{})
		require.NoError(t, err, name)
		require.Len(t, layers, 1, name)
		require.Len(t, layers[0].Shapes, 3)
		for _, g := range layers[0].Shapes {
			require.InDelta(t, 22.00, frame.WGS84.Length(g.(orb.LineString)), 0.01)
		}
		if strings.HasPrefix(name, "o36") {
			require.Contains(t, texts(notices), "heights are left out")
		}
	}
	_, _, err := read(file("o37_no_prj_metres.zip"), Options{})
	require.ErrorIs(t, err, ErrNoCRS)
	require.ErrorContains(t, err, "EPSG code stated")
	layers, _, err := read(file("o37_no_prj_metres.zip"), Options{CRS: "EPSG:32632"})
	require.NoError(t, err)
	require.InDelta(t, 11.37, layers[0].Shapes[0].(orb.LineString)[0][0], 2e-7)
	_, _, err = read(file("o37_no_prj_metres.zip"), Options{CRS: "EPSG:4326"})
	require.Error(t, err, "metres are no degrees")

	layers, notices, err := read(file("o38_cut_field_names.zip"), Options{})
	require.NoError(t, err)
	require.Contains(t, texts(notices), "prunweig_1: the name looks cut")
	require.Equal(t, []float64{13.42, 14.10}, layers[0].Columns[2].Numbers)
	require.Equal(t, []float64{9.80, 10.05}, layers[0].Columns[3].Numbers)

	layers, notices, err = read(file("o40_latin1_dbf_no_cpg.zip"), Options{})
	require.NoError(t, err)
	require.Equal(t, []string{"côté fossé", "Böschung, spät"}, layers[0].Columns[1].Texts)
	require.Contains(t, texts(notices), "Windows-1252 taken")
	_, _, err = read(file("o40_latin1_dbf_no_cpg.zip"), Options{Encoding: "UTF-8"})
	require.ErrorContains(t, err, "not UTF-8")
	_, _, err = read(file("o40_latin1_dbf_no_cpg.zip"), Options{Encoding: "EBCDIC"})
	require.ErrorContains(t, err, "EBCDIC")
}

func TestReadZip_Refuses(t *testing.T) {
	_, _, err := read([]byte("hello"), Options{})
	require.ErrorContains(t, err, "not a zip file")
	_, _, err = read(zipOf(t, map[string][]byte{"readme.txt": []byte("x")}), Options{})
	require.ErrorContains(t, err, "no shapefile in the zip")
	_, _, err = read(zipOf(t, map[string][]byte{"a.shp": make([]byte, 64<<20)}), Options{})
	require.ErrorIs(t, err, format.ErrTooLarge)
	_, _, err = read(zipOf(t, map[string][]byte{"a.shp": make([]byte, 4000)}), Options{Limits: format.Limits{MaxBytes: 1000}})
	require.ErrorIs(t, err, format.ErrTooLarge)
	_, _, err = read(zipOf(t, map[string][]byte{"a.shp": make([]byte, 4000), "a.prj": []byte(prjWGS84)}), Options{})
	require.ErrorContains(t, err, "not a shapefile")
}

func zipOf(t testing.TB, files map[string][]byte) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, content := range files {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write(content)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
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

// Rings that run the wrong way, and holes without an outline.
func TestPolygons_RingDirections(t *testing.T) {
	r := &reader{}
	ccw, cw := []orb.Point(square(0, 0, 4)), []orb.Point(turned(square(0, 0, 4), false))
	hole := []orb.Point(square(1, 1, 1))
	away := []orb.Point(square(9, 9, 1))
	g, err := r.polygons([][]orb.Point{cw, hole}, 0)
	require.NoError(t, err)
	require.Len(t, g, 2)
	require.Empty(t, r.notices.List())
	g, err = r.polygons([][]orb.Point{ccw, away}, 0)
	require.NoError(t, err)
	require.Equal(t, orb.MultiPolygon{{square(0, 0, 4)}, {square(9, 9, 1)}}, g)
	require.Contains(t, texts(r.notices.List()), "counter-clockwise")
	g, err = r.polygons([][]orb.Point{cw, hole, away}, 0)
	require.NoError(t, err)
	require.Len(t, g.(orb.MultiPolygon), 2)
	require.Contains(t, texts(r.notices.List()), "lies in no outline")
	// A hole belongs to the smaller of two nested outlines.
	inner := []orb.Point(turned(square(0.5, 0.5, 2), false))
	g, err = r.polygons([][]orb.Point{cw, inner, hole}, 0)
	require.NoError(t, err)
	require.Len(t, g.(orb.MultiPolygon)[1], 2)
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"blocks", "vines"} {
		var parts [4][]byte
		for i, s := range []string{".shp", ".shx", ".dbf", ".prj"} {
			b, err := os.ReadFile("testdata/" + name + s)
			require.NoError(f, err)
			parts[i] = b
		}
		f.Add(parts[0], parts[1], parts[2], string(parts[3]))
		f.Add(parts[0], []byte(nil), parts[2], prjWGS84)
	}
	f.Fuzz(func(t *testing.T, shp, shx, dbf []byte, prj string) {
		l, _, err := Read(Files{Name: "a", SHP: shp, SHX: shx, DBF: dbf, PRJ: []byte(prj)}, Options{})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		for _, c := range l.Columns {
			require.Equal(t, len(l.Shapes), len(c.Numbers)+len(c.Texts))
		}
	})
}

func FuzzReadZip(f *testing.F) {
	files, err := filepath.Glob("testdata/*.zip")
	require.NoError(f, err)
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		_, _, err := read(b, Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err != nil {
			require.NotEmpty(t, err.Error())
		}
	})
}
