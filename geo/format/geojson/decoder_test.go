package geojson

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/format"
)

const pointFeature = `{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[11.37,45.21]}}`

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",\n") + `]}`
}

func withGeometry(g string) string {
	return `{"type":"Feature","properties":{},"geometry":` + g + `}`
}

func withProperties(p string) string {
	return `{"type":"Feature","properties":` + p + `,"geometry":null}`
}

func TestDecoder_Refusals(t *testing.T) {
	deep := strings.Repeat("[", 200) + strings.Repeat("]", 200)
	for _, c := range []struct{ name, text, want string }{
		{"blank file", " \n\n ", "the file is empty"},
		{"not JSON", "vine,row\n1,2\n", "line 1: not JSON"},
		{"text after the end", collection(pointFeature) + "\n xyz", "line 2: not JSON"},
		{"cut inside a text", `{"type":"FeatureColl`, "the file ends in the middle"},
		{"cut after a feature", `{"type":"FeatureCollection","features":[` + pointFeature, "the file ends in the middle"},
		{"trailing comma in an object", `{"type":"FeatureCollection","features":[],}`, "a comma with nothing after it"},
		{"missing comma", `{"type":"FeatureCollection" "features":[]}`, "not JSON"},
		{"single quotes", `{'type':'FeatureCollection'}`, "a name in double quotes"},
		{"minus alone", collection(withProperties(`{"a":-}`)), "not a JSON number"},
		{"plus sign", collection(withProperties(`{"a":+1}`)), "not JSON"},
		{"leading zero", collection(withProperties(`{"a":012}`)), "not a JSON number"},
		{"dot alone", collection(withProperties(`{"a":1.}`)), "not a JSON number"},
		{"NaN property", collection(withProperties(`{"vigour":NaN}`)), `property vigour: not a JSON number; found "NaN"`},
		{"minus Infinity property", collection(withProperties(`{"vigour":-Infinity}`)), `property vigour: not a JSON number; found "-Infinity"`},
		{"number too large", collection(withProperties(`{"a":1e999}`)), "not a JSON number"},
		{"bad escape", collection(withProperties(`{"a":"\q"}`)), "unknown escape"},
		{"half a pair", collection(withProperties(`{"a":"\ud834"}`)), `half of a \u pair`},
		{"newline in a text", collection(withProperties("{\"a\":\"x\ny\"}")), "control character"},
		{"nested too deeply", collection(withProperties(`{"a":` + deep + `}`)), "nested too deeply"},
		{"coordinates nested too deeply", collection(withGeometry(`{"type":"Point","coordinates":` + deep + `}`)), "nested too deeply"},
		{"features twice", `{"type":"FeatureCollection","features":[],"features":[]}`, "features: the same name twice"},
		{"features not an array", `{"type":"FeatureCollection","features":{}}`, "an array of features"},
		{"collection with a geometry", `{"type":"FeatureCollection","features":[],"geometry":null}`, "RFC 7946 section 7.1"},
		{"unknown crs", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:99999"}},"features":[]}`, "EPSG:99999"},
		{"crs that is a link", `{"type":"FeatureCollection","crs":{"type":"link","properties":{"href":"x"}},"features":[]}`, "crs: "},
		{"wrong case of the type", `{"type":"featurecollection","features":[]}`, `wanted "FeatureCollection", with these capitals`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, problems, _, final := readAll([]byte(c.text), Options{})
			require.ErrorContains(t, final, c.want, "problems: %v", problems)
		})
	}
}

func TestDecoder_BadFeatures(t *testing.T) {
	for _, c := range []struct{ name, feature, want string }{
		{"not an object", `7`, "not a feature; found 7"},
		{"null", `null`, "not a feature; found null"},
		{"properties an array", `{"type":"Feature","properties":[1],"geometry":null}`, "not properties"},
		{"geometry a text", withGeometry(`"POINT (1 2)"`), "not a geometry"},
		{"geometry without type", withGeometry(`{"coordinates":[1,2]}`), "the geometry has no type"},
		{"geometry without coordinates", withGeometry(`{"type":"Point"}`), "missing in a Point"},
		{"unknown type", withGeometry(`{"type":"Circle","coordinates":[1,2]}`), `not a geometry type; found "Circle"`},
		{"a position of one number", withGeometry(`{"type":"Point","coordinates":[1]}`), "a position has two numbers"},
		{"levels mixed", withGeometry(`{"type":"LineString","coordinates":[[1,2],[[3,4]]]}`), "different levels"},
		{"an empty ring", withGeometry(`{"type":"Polygon","coordinates":[[]]}`), "an empty array"},
		{"minus Infinity", withGeometry(`{"type":"Point","coordinates":[1,-Infinity]}`), "not a JSON number"},
		{"feature with coordinates", `{"type":"Feature","properties":{},"geometry":null,"coordinates":[1,2]}`, "RFC 7946 section 7.1"},
		{"geometry with properties", withGeometry(`{"type":"Point","coordinates":[1,2],"properties":{}}`), "RFC 7946 section 7.1"},
		{"NUL in a text", withProperties(`{"a":"x\u0000y"}`), "NUL"},
		{"latitude too large", withGeometry(`{"type":"Point","coordinates":[50,91]}`), "swapped"},
		{"both too large", withGeometry(`{"type":"Point","coordinates":[150,95]}`), "95 cannot be a latitude"},
		{"two outlines that overlap", withGeometry(`{"type":"MultiPolygon","coordinates":[[[[0,0],[2,0],[2,2],[0,2],[0,0]]],[[[1,1],[3,1],[3,3],[1,3],[1,1]]]]}`), "polygon 0, ring 0 crosses polygon 1, ring 0"},
		{"figure of eight at a corner", withGeometry(`{"type":"Polygon","coordinates":[[[0,0],[1,1],[2,0],[2,2],[1,1],[0,2],[0,0]]]}`), "crosses or touches itself; found a crossing at [1, 1]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			features, problems, _, final := readAll([]byte(collection(pointFeature, c.feature, pointFeature)), Options{})
			require.NoError(t, final)
			require.Len(t, features, 2, "the features around the bad one are still read")
			require.Len(t, problems, 1)
			require.Contains(t, problems[0], c.want)
			require.Contains(t, problems[0], "feature 1 (line 2)")
		})
	}
}

func TestDecoder_AnyOrderOfMembers(t *testing.T) {
	text := `{"features":[{"geometry":{"coordinates":[[[0,0],[1,0],[1,1],[0,0]]],"type":"Polygon"},"properties":{"a":1},"id":"x","type":"Feature"}],"type":"FeatureCollection"}`
	features, problems, notices, final := readAll([]byte(text), Options{})
	require.NoError(t, final)
	require.Empty(t, problems)
	require.Empty(t, notices)
	require.Len(t, features, 1)
	require.Equal(t, orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}, features[0].Geometry)
	require.Equal(t, "x", features[0].ID.String())
}

func TestDecoder_CRSAfterTheFeatures(t *testing.T) {
	text := `{"type":"FeatureCollection","features":[` + pointFeature + `],"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::32632"}}}`
	_, _, _, final := readAll([]byte(text), Options{})
	var late *LateCRSError
	require.ErrorAs(t, final, &late)
	require.Equal(t, 32632, late.EPSG)
	_, problems, _, final := readAll([]byte(text), Options{CRS: "EPSG:32632"})
	require.NoError(t, final)
	require.Len(t, problems, 1, "degrees are no place in UTM: %v", problems)
	_, _, _, final = readAll([]byte(text), Options{CRS: "EPSG:4326"})
	require.ErrorContains(t, final, "another coordinate system than was stated")
	_, _, _, final = readAll([]byte(text), Options{CRS: "EPSG:1"})
	require.ErrorContains(t, final, "EPSG:1")
}

func TestDecoder_Gzip(t *testing.T) {
	pack := func(text string) []byte {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, err := z.Write([]byte(text))
		require.NoError(t, err)
		require.NoError(t, z.Close())
		return b.Bytes()
	}
	features, _, _, final := readAll(pack(collection(pointFeature)), Options{})
	require.NoError(t, final)
	require.Len(t, features, 1)

	packed := pack(collection(pointFeature))
	_, _, _, final = readAll(packed[:len(packed)-12], Options{})
	require.ErrorContains(t, final, "damaged or cut short")

	_, _, _, final = readAll(pack(strings.Repeat(" ", 40<<20)+collection()), Options{})
	require.ErrorIs(t, final, format.ErrTooLarge)
	_, _, _, final = readAll([]byte(collection(pointFeature)), Options{MaxBytes: 20})
	require.ErrorIs(t, final, format.ErrTooLarge)
}

func TestDecoder_ReaderBreaks(t *testing.T) {
	broken := errors.New("cable pulled")
	r := io.MultiReader(strings.NewReader(`{"type":"FeatureCollection","features":[`+pointFeature+`,`), iotest.ErrReader(broken))
	d, err := NewDecoder(r, Options{})
	require.NoError(t, err)
	_, err = d.Next()
	require.NoError(t, err)
	_, err = d.Next()
	require.ErrorIs(t, err, broken)
	_, again := d.Next()
	require.Equal(t, err, again)
}

// One byte at a time must give the same as all at once: no token may break at
// the edge of a window.
func TestDecoder_OneByteAtATime(t *testing.T) {
	text := collection(pointFeature, `{"type":"Feature","id":-1.5e3,"properties":{"né\"e":"aé\u00e9\ud834\udd1e\n","b":[1,{"c":null},"x"],"d":true},"geometry":{"type":"LineString","coordinates":[[1.123456789012345678,2],[3,-4.5E-1]]}}`)
	want, _, err := ReadAll(strings.NewReader(text), Options{})
	require.NoError(t, err)
	got, _, err := ReadAll(iotest.OneByteReader(strings.NewReader(text)), Options{})
	require.NoError(t, err)
	require.Equal(t, want, got)
	require.Equal(t, "aéé𝄞\n", got[1].Properties[0].String())
	require.Equal(t, `[1,{"c":null},"x"]`, got[1].Properties[1].String())
	require.Equal(t, "-1.5e3", got[1].ID.String())
}

// Numbers and texts must be read as encoding/json reads them.
func TestDecoder_ValuesLikeEncodingJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		if math.IsInf(v, 0) || math.IsNaN(v) {
			v = 0
		}
		text := rapid.String().Draw(t, "text")
		raw, err := json.Marshal(map[string]any{"v": v, "t": text})
		require.NoError(t, err)
		features, _, err := ReadAll(strings.NewReader(withProperties(string(raw))), Options{})
		if strings.ContainsRune(text, 0) {
			require.Error(t, err)
			return
		}
		require.NoError(t, err)
		got, _ := features[0].Get("v")
		f, ok := got.Float()
		require.True(t, ok)
		require.Equal(t, v, f)
		s, _ := features[0].Get("t")
		require.Equal(t, strings.ToValidUTF8(text, "\ufffd"), s.String())
	})
}

// parseNumber must agree with encoding/json on what is a number and with
// strconv on its value.
func TestParseNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?[0-9]{1,20}(\.[0-9]{0,20})?([eE][+-]?[0-9]{0,3})?`).Draw(t, "text")
		var want float64
		err := json.Unmarshal([]byte(text), &want)
		got, ok := parseNumber([]byte(text))
		require.Equal(t, err == nil, ok, text)
		if ok {
			require.Equal(t, want, got, text)
		}
	})
}

// The sweep must find a crossing exactly when trying all pairs finds one.
func TestCrossing_LikeAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		path := make([]orb.Point, 0, n+1)
		for i := range n {
			p := orb.Point{float64(rapid.IntRange(0, 9).Draw(t, "x")), float64(rapid.IntRange(0, 9).Draw(t, "y"))}
			if i > 0 && p == path[len(path)-1] {
				continue
			}
			path = append(path, p)
		}
		if len(path) < 3 || path[0] == path[len(path)-1] {
			return
		}
		rings := []ring{{path: append(path, path[0])}}
		_, _, _, got := crossing(rings)
		edges := sweepOrder(rings)
		want := false
		for i := range edges {
			for j := range i {
				if !neighbours(edges[i].at, edges[j].at, len(path)) {
					_, ok := meet(edges[j], edges[i])
					want = want || ok
				}
			}
		}
		require.Equal(t, want, got, fmt.Sprint(path))
	})
}

func FuzzDecoder(f *testing.F) {
	f.Add([]byte(collection(pointFeature)))
	f.Add([]byte(`{"type":"Feature","properties":{"a":[1,2,{"b":null}]},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}}`))
	f.Add([]byte("\x1e{}\n\x1e{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"MultiPoint\",\"coordinates\":[[1,2]]}]}"))
	f.Add([]byte{0x1f, 0x8b, 8, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		features, _, _, final := readAll(data, Options{MaxBytes: 1 << 20, MaxPositions: 1000})
		if final == nil && json.Valid(data) {
			// what is written again must be read as the same
			var b bytes.Buffer
			w := NewWriter(&b)
			for _, ft := range features {
				w.Begin(0)
				require.NoError(t, w.End(ft.Geometry))
			}
			require.NoError(t, w.Close())
			require.True(t, json.Valid(b.Bytes()))
		}
	})
}
