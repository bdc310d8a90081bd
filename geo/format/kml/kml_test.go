package kml

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

func read(t *testing.T, text string) ([]format.FeatureSet, []format.Notice) {
	t.Helper()
	layers, notices, err := Read(strings.NewReader(text), Options{})
	require.NoError(t, err)
	return layers, notices
}

// Prefixed names and folders within folders: case O-41.
func TestRead_PrefixedAndNested(t *testing.T) {
	f, err := os.Open("../../../testdata/import/o41_prefixed_nested.kml")
	require.NoError(t, err)
	defer f.Close()
	layers, notices, err := Read(f, Options{})
	require.NoError(t, err)
	require.Empty(t, notices)
	require.Len(t, layers, 1)
	require.Equal(t, "farm", layers[0].Name)
	require.Len(t, layers[0].Features, 4)
	edge := layers[0].Features[0]
	require.Equal(t, "B1", edge.Get("folder"))
	require.Equal(t, "B1 edge", edge.Get("name"))
	require.Len(t, edge.Geometry.(orb.Polygon)[0], 5)
	for i, want := range []string{"1", "2", "3"} {
		row := layers[0].Features[i+1]
		require.Equal(t, want, row.Get("row"))
		require.Equal(t, "B1", row.Get("folder"))
		require.Equal(t, "rows", row.Get("subfolder"))
		require.Len(t, row.Geometry.(orb.LineString), 2)
	}
}

// The forms of geometry of OGC 12-007r2, sections 10 and 17.
func TestRead_Geometries(t *testing.T) {
	layers, notices := read(t, `<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="g"><Document><NetworkLink><Link><href>http://example.invalid/a.kml</href></Link></NetworkLink>
<Schema name="s"><SimpleField name="kg" type="double"/></Schema>
<Placemark><name>p</name><TimeStamp><when>2027-01-31</when></TimeStamp><ExtendedData><SchemaData schemaUrl="#s"><SimpleData name="kg">0.42</SimpleData></SchemaData></ExtendedData><Point><coordinates>
  11.37,45.21,212
</coordinates></Point></Placemark>
<Placemark><MultiGeometry><LineString><coordinates>0,0 1,1</coordinates></LineString><LineString><coordinates>2,2 3,3</coordinates></LineString></MultiGeometry></Placemark>
<Placemark><MultiGeometry><Point><coordinates>0,0</coordinates></Point><LineString><coordinates>2,2 3,3</coordinates></LineString></MultiGeometry></Placemark>
<Placemark><gx:Track><when>2027-01-31T09:00:00Z</when><gx:coord>11.1 45.1 3</gx:coord><gx:coord>11.2 45.2 3</gx:coord></gx:Track></Placemark>
<Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>0,0 4,0 4,4 0,0</coordinates></LinearRing></outerBoundaryIs><innerBoundaryIs><LinearRing><coordinates>1,1 2,1 2,2 1,1</coordinates></LinearRing></innerBoundaryIs></Polygon></Placemark>
<Placemark><name>no place</name></Placemark>
<Placemark><Model/></Placemark>
</Document></kml>`)
	f := layers[0].Features
	require.Len(t, f, 7)
	require.Equal(t, orb.Point{11.37, 45.21}, f[0].Geometry)
	require.Equal(t, "0.42", f[0].Get("kg"))
	require.Equal(t, "2027-01-31", f[0].Get("time"))
	require.Equal(t, orb.MultiLineString{{{0, 0}, {1, 1}}, {{2, 2}, {3, 3}}}, f[1].Geometry)
	require.Equal(t, orb.Collection{orb.Point{0, 0}, orb.LineString{{2, 2}, {3, 3}}}, f[2].Geometry)
	require.Equal(t, orb.LineString{{11.1, 45.1}, {11.2, 45.2}}, f[3].Geometry)
	require.Len(t, f[4].Geometry, 2)
	require.Nil(t, f[5].Geometry)
	require.Nil(t, f[6].Geometry)
	all := ""
	for _, n := range notices {
		all += n.Text + "\n"
	}
	require.Contains(t, all, "heights are left out")
	require.Contains(t, all, "a link to another place was not followed")
	require.Contains(t, all, "a model is left out")
}

func TestRead_Refuses(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "not a KML file"},
		{"other", "<gpx/>", `not a KML file; found "gpx"`},
		{"cut short", "<kml><Document>", "not well-formed XML"},
		{"no pairs", "<kml><Placemark><Point><coordinates>11.37</coordinates></Point></Placemark></kml>", `feature 0 (line 1), coordinates: not a position; found "11.37"`},
		{"blanks in pairs", "<kml><Placemark><Point><coordinates>11.37, 45.21</coordinates></Point></Placemark></kml>", "without blanks in between"},
		{"NaN", "<kml><Placemark><Point><coordinates>NaN,1</coordinates></Point></Placemark></kml>", "not a position"},
		{"own entities", `<!DOCTYPE kml [<!ENTITY a "aaaa">]><kml>&a;</kml>`, "entities of its own"},
		{"unknown entity", "<kml><Placemark><name>&b;</name></Placemark></kml>", "not well-formed XML"},
		{"too deep", "<kml>" + strings.Repeat("<Folder>", 300), "too deep"},
		{"multi too deep", "<kml><Placemark>" + strings.Repeat("<MultiGeometry>", 50) + strings.Repeat("</MultiGeometry>", 50) + "</Placemark></kml>", "too deep"},
	} {
		_, _, err := Read(strings.NewReader(c.text), Options{})
		require.ErrorContains(t, err, c.want, c.name)
		var p *format.Problem
		require.ErrorAs(t, err, &p, c.name)
	}
}

// A zip that swells is not unpacked.
func TestReadZip_Limits(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("doc.kml")
	require.NoError(t, err)
	for range 64 {
		_, err = io.WriteString(w, strings.Repeat(" ", 1<<20))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	_, _, err = ReadZip(bytes.NewReader(b.Bytes()), int64(b.Len()), Options{})
	require.ErrorIs(t, err, format.ErrTooLarge)
	require.ErrorContains(t, err, "swells beyond reason")
	_, _, err = Read(strings.NewReader("<kml>"+strings.Repeat(" ", 100)), Options{Limits: format.Limits{MaxBytes: 50}})
	require.ErrorIs(t, err, format.ErrTooLarge)
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"o41_prefixed_nested.kml"} {
		b, err := os.ReadFile("../../../testdata/import/" + name)
		require.NoError(f, err)
		f.Add(b)
	}
	f.Add([]byte("<kml><Placemark><MultiGeometry><Point><coordinates>1,2,3 4</coordinates></Point></MultiGeometry></Placemark></kml>"))
	f.Fuzz(func(t *testing.T, b []byte) {
		layers, _, err := Read(bytes.NewReader(b), Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err == nil {
			for _, l := range layers {
				require.NotEmpty(t, l.Features)
			}
		}
	})
}

// A zip around one or several files, whole or broken.
func FuzzReadZip(f *testing.F) {
	zipped := func(names ...string) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, n := range names {
			w, err := z.Create(n)
			require.NoError(f, err)
			_, err = io.WriteString(w, "<kml><Document><Folder><name>B1</name><Placemark><Point><coordinates>1,2</coordinates></Point></Placemark></Folder></Document></kml>")
			require.NoError(f, err)
		}
		require.NoError(f, z.Close())
		return b.Bytes()
	}
	f.Add(zipped("doc.kml"))
	f.Add(zipped("a/doc.kml", "b.kml", "__MACOSX/._b.kml"))
	f.Add(zipped("doc.kml")[:60])
	f.Fuzz(func(t *testing.T, b []byte) {
		layers, _, err := ReadZip(bytes.NewReader(b), int64(len(b)), Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err == nil {
			for _, l := range layers {
				require.NotEmpty(t, l.Features)
			}
		}
	})
}
