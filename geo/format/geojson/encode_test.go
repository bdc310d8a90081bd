package geojson

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/paulmach/orb"
	orbjson "github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWriter(t *testing.T) {
	var b bytes.Buffer
	w := NewWriter(&b)
	w.Begin(7)
	w.Text("block", `H"3`)
	w.Int("row", 12)
	w.Float("weight_kg", 0.42)
	w.Float("none", math.NaN())
	w.Null("cause")
	w.JSON("arms", []byte(`[1,2]`))
	require.NoError(t, w.End(orb.Point{11.370000001, -45.1}))
	w.Begin(0)
	require.NoError(t, w.End(nil))
	require.NoError(t, w.Close())
	require.Equal(t, `{"type":"FeatureCollection","features":[
{"type":"Feature","id":7,"properties":{"block":"H\"3","row":12,"weight_kg":0.42,"none":null,"cause":null,"arms":[1,2]},"geometry":{"type":"Point","coordinates":[11.37,-45.1]}},
{"type":"Feature","properties":{},"geometry":null}
]}
`, b.String())
}

func TestWriter_Empty(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, NewWriter(&b).Close())
	fc, err := orbjson.UnmarshalFeatureCollection(b.Bytes())
	require.NoError(t, err)
	require.Empty(t, fc.Features)
}

// Rings leave as RFC 7946 section 3.1.6 wants, whatever way they came.
func TestAppendGeometry_Winding(t *testing.T) {
	clockwise := orb.Polygon{{{0, 0}, {0, 4}, {4, 4}, {4, 0}, {0, 0}}, {{1, 1}, {2, 1}, {2, 2}, {1, 2}, {1, 1}}}
	g, err := orbjson.UnmarshalGeometry(AppendGeometry(nil, clockwise))
	require.NoError(t, err)
	pg := g.Geometry().(orb.Polygon)
	require.Equal(t, orb.CCW, pg[0].Orientation())
	require.Equal(t, orb.CW, pg[1].Orientation())
	require.Equal(t, orb.CW, clockwise[0].Orientation(), "the argument is left as it was")
}

// Shapes across 180° leave cut in two (RFC 7946 section 3.1.9). Case 08 of
// testdata/geojson leaves GDAL 3.6.2 with RFC7946=YES as the same two parts.
func TestCut(t *testing.T) {
	beyond := orb.Polygon{{{179.99, -16.82}, {180.01, -16.82}, {180.01, -16.80}, {179.99, -16.80}, {179.99, -16.82}}}
	jump := orb.Polygon{{{179.99, -16.82}, {-179.99, -16.82}, {-179.99, -16.80}, {179.99, -16.80}, {179.99, -16.82}}}
	for name, pg := range map[string]orb.Polygon{"beyond 180": beyond, "stepping over": jump} {
		t.Run(name, func(t *testing.T) {
			parts, ok := Cut(pg).(orb.MultiPolygon)
			require.True(t, ok)
			require.Len(t, parts, 2)
			var west, east orb.Bound
			west, east = parts[0].Bound(), parts[1].Bound()
			if west.Min[0] > east.Min[0] {
				west, east = east, west
			}
			require.InDelta(t, -180, west.Min[0], 1e-9)
			require.InDelta(t, -179.99, west.Max[0], 1e-9)
			require.InDelta(t, 179.99, east.Min[0], 1e-9)
			require.InDelta(t, 180, east.Max[0], 1e-9)
		})
	}
	line := orb.LineString{{179.9, 0}, {-179.9, 1}}
	require.Len(t, Cut(line), 2)
	plain := orb.LineString{{11, 45}, {12, 45}}
	require.Equal(t, plain, Cut(plain))
}

// What is written is read as the same by another reader, to 8 places.
func TestAppendGeometry_ReadByAnother(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")}
		line := orb.LineString{p, {p[0] / 2, p[1] / 2}}
		for _, g := range []orb.Geometry{p, orb.MultiPoint{p, p}, line, orb.MultiLineString{line, line}, orb.Collection{p, line}} {
			read, err := orbjson.UnmarshalGeometry(AppendGeometry(nil, g))
			require.NoError(t, err)
			a, b := points(g), points(read.Geometry())
			require.Len(t, b, len(a))
			for i := range a {
				require.InDelta(t, a[i][0], b[i][0], 0.51e-8)
				require.InDelta(t, a[i][1], b[i][1], 0.51e-8)
			}
		}
	})
}

func points(g orb.Geometry) []orb.Point {
	switch g := g.(type) {
	case orb.Point:
		return []orb.Point{g}
	case orb.MultiPoint:
		return g
	case orb.LineString:
		return g
	case orb.MultiLineString:
		var out []orb.Point
		for _, l := range g {
			out = append(out, l...)
		}
		return out
	case orb.Collection:
		var out []orb.Point
		for _, part := range g {
			out = append(out, points(part)...)
		}
		return out
	}
	return nil
}

func TestAppendText_LikeEncodingJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		var got string
		require.NoError(t, json.Unmarshal(AppendText(nil, text), &got))
		require.Equal(t, text, got)
	})
}
