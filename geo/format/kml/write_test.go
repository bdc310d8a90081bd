package kml

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

// document is as much of KML 2.3 (OGC 12-007r2) as is written.
type document struct {
	XMLName  xml.Name `xml:"http://www.opengis.net/kml/2.2 kml"`
	Document struct {
		Name   string `xml:"name"`
		Schema struct {
			ID     string `xml:"id,attr"`
			Fields []struct {
				Name string `xml:"name,attr"`
				Type string `xml:"type,attr"`
			} `xml:"SimpleField"`
		}
		Folder struct {
			Placemark []struct {
				Name string `xml:"name"`
				Data struct {
					URL    string `xml:"schemaUrl,attr"`
					Values []struct {
						Name  string `xml:"name,attr"`
						Value string `xml:",chardata"`
					} `xml:"SimpleData"`
				} `xml:"ExtendedData>SchemaData"`
				Point *struct {
					Coordinates string `xml:"coordinates"`
				}
				Multi *struct {
					Polygons []struct {
						Outer string   `xml:"outerBoundaryIs>LinearRing>coordinates"`
						Inner []string `xml:"innerBoundaryIs>LinearRing>coordinates"`
					} `xml:"Polygon"`
				} `xml:"MultiGeometry"`
			}
		}
	}
}

func write(t *testing.T, l *format.Layer, each func(k *Writer)) (d document, said string) {
	t.Helper()
	var b bytes.Buffer
	k := NewWriter(&b, l)
	each(k)
	require.NoError(t, k.Close())
	require.NoError(t, xml.Unmarshal(b.Bytes(), &d), b.String())
	return d, fmt.Sprint(k.Notices())
}

func TestWriter_Values(t *testing.T) {
	l := &format.Layer{Name: "vines_2027", Title: "Vines <2027>", Shape: format.PointShape, Columns: []format.Column{
		{Name: "courson_id", Kind: format.Whole}, {Name: "name"}, {Name: "address"}, {Name: "leaf", Kind: format.Whole}, {Name: "weight_g", Kind: format.Number, Unit: "g"}}}
	d, said := write(t, l, func(k *Writer) {
		require.NoError(t, k.Write([]format.Cell{{Known: true, Whole: 9007199254740993}, {Known: true, Text: "a <b> & \"c\"\x01"}, {Known: true, Text: "H3/12/41"}, {Known: true, Whole: 7}, {}}, orb.Point{11.123456789, -45.5}))
		require.NoError(t, k.Write([]format.Cell{{Known: true, Whole: 2}, {}, {}, {}, {Known: true, Num: 0.1}}, nil))
		require.Error(t, k.Write(make([]format.Cell, 5), orb.LineString{{1, 2}, {3, 4}}))
	})
	assert.Equal(t, "Vines <2027>", d.Document.Name)
	var types []string
	for _, f := range d.Document.Schema.Fields {
		types = append(types, f.Name+" "+f.Type)
	}
	assert.Equal(t, []string{"courson_id string", "own_name string", "address string", "leaf int", "weight_g double"}, types, "KML has no whole numbers beyond 32 bits")
	first, second := d.Document.Folder.Placemark[0], d.Document.Folder.Placemark[1]
	assert.Equal(t, "H3/12/41", first.Name)
	assert.Equal(t, "#"+d.Document.Schema.ID, first.Data.URL)
	assert.Equal(t, "9007199254740993", first.Data.Values[0].Value)
	assert.Equal(t, `a <b> & "c"`, first.Data.Values[1].Value)
	assert.Len(t, first.Data.Values, 4, "what is not known is not written")
	assert.Equal(t, "11.12345679,-45.50000000", first.Point.Coordinates, "longitude first (OGC 12-007r2, 7.2)")
	assert.Nil(t, second.Point)
	assert.Equal(t, "2", second.Name)
	assert.Contains(t, said, "control characters")
}

func TestWriter_Areas(t *testing.T) {
	l := &format.Layer{Name: "blocks", Shape: format.AreaShape, Columns: []format.Column{{Name: "block"}}}
	ring := orb.Ring{{0, 0}, {1, 0}, {1, 1}} // not closed: a LinearRing is
	d, _ := write(t, l, func(k *Writer) {
		require.NoError(t, k.Write([]format.Cell{{Known: true, Text: "B"}}, orb.MultiPolygon{{ring, {{0.1, 0.1}, {0.2, 0.1}, {0.2, 0.2}, {0.1, 0.1}}}, {ring}}))
	})
	parts := d.Document.Folder.Placemark[0].Multi.Polygons
	require.Len(t, parts, 2)
	assert.Len(t, strings.Fields(parts[0].Outer), 4)
	assert.Len(t, parts[0].Inner, 1)
	assert.Equal(t, strings.Fields(parts[1].Outer)[0], strings.Fields(parts[1].Outer)[3])
}

// failing is a place where nothing more can be written.
type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestWriter_TellsOfAFullDisk(t *testing.T) {
	l := &format.Layer{Name: "blocks", Columns: []format.Column{{Name: "block"}}}
	k := NewWriter(failing{}, l)
	var err error
	for range 3000 {
		err = k.Write([]format.Cell{{Known: true, Text: "B"}}, nil)
	}
	assert.ErrorIs(t, err, io.ErrShortWrite)
	assert.ErrorIs(t, k.Close(), io.ErrShortWrite)
}
