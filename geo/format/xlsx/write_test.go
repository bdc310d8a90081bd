package xlsx

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"courson/geo/format"
)

func layer(shape format.Shape) *format.Layer {
	return &format.Layer{Name: "vines_2027", Title: "Vines, season 2027", What: "All of them.", Shape: shape, Columns: []format.Column{
		{Name: "courson_id", Title: "Lasting id", Kind: format.Whole}, {Name: "note", Title: "Notes"}, {Name: "weight_g", Title: "Weight", Unit: "g", Kind: format.Number}}}
}

func cells(id int64, note string, weight float64) []format.Cell {
	return []format.Cell{{Known: true, Whole: id}, {Known: true, Text: note}, {Known: true, Num: weight}}
}

// written reads a workbook back.
func written(t *testing.T, l *format.Layer, most int, write func(x *Writer)) (*excelize.File, *Writer) {
	t.Helper()
	var b bytes.Buffer
	x, err := NewWriter(&b, l)
	require.NoError(t, err)
	if most > 0 {
		x.most = most
	}
	write(x)
	require.NoError(t, x.Close())
	f, err := excelize.OpenReader(&b)
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	return f, x
}

func TestWriter_TextsAreNeverFormulas(t *testing.T) {
	odd := []string{"=1+1", "+49", "-weak", "@x", "'quoted", " blank ", "two\nlines", "<&>\"", "über", "0012"}
	f, _ := written(t, layer(format.PointShape), 0, func(x *Writer) {
		for i, s := range odd {
			require.NoError(t, x.Write(cells(int64(i), s, 0.1), orb.Point{11.123456789, 45.5}))
		}
	})
	for i, s := range odd {
		at := fmt.Sprintf("B%d", i+2)
		formula, err := f.GetCellFormula("vines_2027", at)
		require.NoError(t, err)
		assert.Empty(t, formula)
		got, err := f.GetCellValue("vines_2027", at)
		require.NoError(t, err)
		assert.Equal(t, s, got)
	}
	rows, err := f.GetRows("vines_2027", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	assert.Equal(t, []string{"courson_id", "note", "weight_g", "longitude", "latitude"}, rows[0])
	assert.Equal(t, []string{"0", "=1+1", "0.1", "11.12345679", "45.5"}, rows[1])
}

// A whole number of more than 15 digits would lose its last ones as a number: it
// is a text. What a cell cannot hold is cut, and said.
func TestWriter_WhatCellsHold(t *testing.T) {
	long := strings.Repeat("ü", 40_000)
	line := make(orb.LineString, 10_000)
	f, x := written(t, layer(format.LineShape), 0, func(x *Writer) {
		require.NoError(t, x.Write(cells(1234567890123456789, long, 1), orb.LineString{{1, 2}, {3, 4}}))
		require.NoError(t, x.Write([]format.Cell{{}, {Known: true, Text: "a\x01b"}, {}}, line))
		require.Error(t, x.Write(cells(1, "", 1), orb.Point{1, 2}), "a point among lines")
		require.Error(t, x.Write(nil, nil), "no values")
	})
	rows, err := f.GetRows("vines_2027", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	assert.Equal(t, "1234567890123456789", rows[1][0])
	assert.Equal(t, excelize.TotalCellChars, len([]rune(rows[1][1])))
	assert.Equal(t, "LINESTRING(1 2,3 4)", rows[1][3])
	assert.Equal(t, "ab", rows[2][1])
	said := fmt.Sprint(x.Notices())
	assert.Contains(t, said, "text cut to 32767 characters")
	assert.Contains(t, said, "shape of more than 32767 characters")
	assert.Contains(t, said, "control characters")
	columns, err := f.GetRows("columns")
	require.NoError(t, err)
	assert.Equal(t, []string{"weight_g", "g", "Weight"}, columns[4])
	assert.Contains(t, fmt.Sprint(columns), "text cut to 32767", "said in the workbook too")
}

func TestWriter_FullSheetsGoOn(t *testing.T) {
	f, _ := written(t, layer(format.NoShape), 4, func(x *Writer) {
		for i := range 7 {
			require.NoError(t, x.Write(cells(int64(i), "", 1), nil))
		}
	})
	assert.Equal(t, []string{"vines_2027", "vines_2027 2", "vines_2027 3", "columns"}, f.GetSheetList())
	var ids []string
	for _, sheet := range f.GetSheetList()[:3] {
		rows, err := f.GetRows(sheet)
		require.NoError(t, err)
		assert.Equal(t, "courson_id", rows[0][0], "each sheet has its heading")
		for _, r := range rows[1:] {
			ids = append(ids, r[0])
		}
	}
	assert.Equal(t, []string{"0", "1", "2", "3", "4", "5", "6"}, ids)
}
