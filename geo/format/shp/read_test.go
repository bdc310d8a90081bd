package shp

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/frame"
	"courson/store/peers"
)

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
			peers.Run(t, "ogr2ogr", append(args, out, src)...)
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
