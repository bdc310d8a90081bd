package shp

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

var madeOn = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

// roomOnDisk gives scratch files of a test.
func roomOnDisk(t testing.TB) Scratch {
	return func() (io.ReadWriteSeeker, error) { return os.CreateTemp(t.TempDir(), "room") }
}

func streamLayer(shape format.Shape) *format.Layer {
	return &format.Layer{Name: "vines_2027", Title: "Vines", What: "All.", Shape: shape, Columns: []format.Column{
		{Name: "courson_id", Kind: format.Whole}, {Name: "pruning_weight_g", Kind: format.Number, Unit: "g", Title: "Weight, as weighed"}, {Name: "pruning_weight_mean_g", Kind: format.Number}, {Name: "note"}}}
}

func streamed(t testing.TB, l *format.Layer, each func(*StreamWriter), extra ...Extra) (*StreamWriter, []byte) {
	t.Helper()
	var b bytes.Buffer
	s, err := NewStreamWriter(&b, l, roomOnDisk(t), madeOn, extra...)
	require.NoError(t, err)
	each(s)
	require.NoError(t, s.Close())
	return s, b.Bytes()
}

func inZip(t testing.TB, b []byte, name string) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	f, err := z.Open(name)
	require.NoError(t, err)
	text, err := io.ReadAll(f)
	require.NoError(t, err)
	return string(text)
}

// What the stream writes is what WriteZip writes of the same columns.
func TestStreamWriter_AsWriteZip(t *testing.T) {
	shapes := []orb.Geometry{orb.Point{11.5, 45.25}, nil, orb.Point{-66.125, -38.5}}
	whole := &Layer{Name: "vines_2027", Kind: Points, Shapes: shapes, Columns: []Column{
		{Name: "courson_id", Numbers: []float64{1, -20, 300}}, {Name: Names([]string{"courson_id", "pruning_weight_g"})[1], Numbers: []float64{0.5, math.NaN(), 1234.125}, Decimals: 3},
		{Name: Names([]string{"", "", "pruning_weight_mean_g"})[2], Numbers: []float64{math.NaN(), 2, math.NaN()}}, {Name: "note", Texts: []string{"über", "", "x "}}}}
	var b bytes.Buffer
	_, err := WriteZip(&b, whole, madeOn)
	require.NoError(t, err)
	_, got := streamed(t, streamLayer(format.PointShape), func(s *StreamWriter) {
		for i, g := range shapes {
			cells := make([]format.Cell, 4)
			for k, c := range whole.Columns {
				if c.Numbers != nil && !math.IsNaN(c.Numbers[i]) {
					cells[k] = format.Cell{Known: true, Num: c.Numbers[i], Whole: int64(c.Numbers[i])}
				} else if c.Texts != nil {
					cells[k] = format.Cell{Known: true, Text: c.Texts[i]}
				}
			}
			require.NoError(t, s.Write(cells, g))
		}
	})
	for _, suffix := range []string{".shp", ".shx", ".dbf", ".prj", ".cpg"} {
		assert.Equal(t, inZip(t, b.Bytes(), "vines_2027"+suffix), inZip(t, got, "vines_2027"+suffix), suffix)
	}
}

func TestStreamWriter_NamesAndWords(t *testing.T) {
	s, b := streamed(t, streamLayer(format.PointShape), func(s *StreamWriter) {
		require.NoError(t, s.Write([]format.Cell{{Known: true, Whole: math.MaxInt64}, {Known: true, Num: 1.0 / 3}, {Known: true, Num: math.Inf(1)}, {Known: true, Text: strings.Repeat("ü", 200) + "\x00"}}, orb.Point{1, 2}))
		require.Error(t, s.Write(make([]format.Cell, 4), orb.Point{20, 95}), "not a place")
	}, Extra{"vines_2027.sld", []byte("<style/>")})
	layers, _, err := ReadZip(bytes.NewReader(b), int64(len(b)), Options{})
	require.NoError(t, err)
	require.Len(t, layers, 1)
	l := layers[0]
	assert.Equal(t, "9223372036854775807", l.Columns[0].Texts[0], "long whole numbers keep their digits")
	assert.InDelta(t, 1.0/3, l.Columns[1].Numbers[0], 1e-15)
	assert.True(t, math.IsNaN(l.Columns[2].Numbers[0]))
	assert.Equal(t, strings.Repeat("ü", 127), l.Columns[3].Texts[0])
	key := inZip(t, b, "vines_2027_fields.csv")
	assert.Contains(t, key, "field,name,unit,meaning\r\n")
	assert.Contains(t, key, ",pruning_weight_g,g,\"Weight, as weighed\"\r\n")
	for _, line := range strings.Split(strings.TrimSpace(key), "\r\n") {
		field, _, _ := strings.Cut(line, ",")
		assert.LessOrEqual(t, len(field), 10)
	}
	assert.Equal(t, "<style/>", inZip(t, b, "vines_2027.sld"))
	readme := inZip(t, b, "README.txt")
	assert.Contains(t, readme, "text cut to 254 bytes")
	assert.Contains(t, readme, "EPSG:4326")
	assert.Contains(t, fmt.Sprint(s.Notices()), "control characters")
}

// Numbers too long for a field of 19 characters are rounded, and that is said.
func TestStreamWriter_RoundsWhatDoesNotFit(t *testing.T) {
	s, b := streamed(t, streamLayer(format.NoShape), func(s *StreamWriter) {
		for _, v := range []float64{123456789012, 1.23456789012345} {
			require.NoError(t, s.Write([]format.Cell{{}, {Known: true, Num: v}, {}, {}}, nil))
		}
	})
	assert.Contains(t, fmt.Sprint(s.Notices()), "rounded to 6 decimals")
	assert.Contains(t, inZip(t, b, "vines_2027.dbf"), "123456789012.000000")
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	for _, f := range z.File {
		assert.NotContains(t, f.Name, ".shp", "a layer without shapes is a table only")
	}
}

func TestStreamWriter_Refused(t *testing.T) {
	l := streamLayer(format.PointShape)
	l.Name = "a/b"
	_, err := NewStreamWriter(io.Discard, l, roomOnDisk(t), madeOn)
	require.Error(t, err)
	_, err = NewStreamWriter(io.Discard, streamLayer(format.PointShape), func() (io.ReadWriteSeeker, error) { return nil, io.ErrShortWrite }, madeOn)
	assert.ErrorIs(t, err, io.ErrShortWrite)
}
