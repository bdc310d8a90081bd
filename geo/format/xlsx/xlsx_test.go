package xlsx

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"courson/geo/format"
)

func book(t testing.TB, fill func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	require.NoError(t, f.Close())
	return b.Bytes()
}

// Cells come as they are stored (ECMA-376 part 1, section 18.3.1.4), not as a
// format shows them: 0.4249 shown as 0.42 keeps its digits, days are numbers.
func TestRead_AsStored(t *testing.T) {
	b := book(t, func(f *excelize.File) {
		require.NoError(t, f.SetSheetRow("Sheet1", "A1", &[]any{"row", "kg", "note", "day"}))
		require.NoError(t, f.SetSheetRow("Sheet1", "A3", &[]any{"007", 0.4249, "a \"b\"\tc\nd", 45691}))
		two, err := f.NewStyle(&excelize.Style{NumFmt: 2})
		require.NoError(t, err)
		require.NoError(t, f.SetCellStyle("Sheet1", "B3", "B3", two))
		_, err = f.NewSheet("empty")
		require.NoError(t, err)
		_, err = f.NewSheet("hidden")
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("hidden", "A1", "x"))
		require.NoError(t, f.SetSheetVisible("hidden", false))
	})
	sheets, notices, err := Read(bytes.NewReader(b), int64(len(b)), Options{})
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	require.Equal(t, [][]string{{"row", "kg", "note", "day"}, nil, {"007", "0.4249", "a \"b\"\tc d", "45691"}}, sheets[0].Rows)
	require.Equal(t, "row\tkg\tnote\tday\n\t\t\t\n007\t0.4249\t\"a \"\"b\"\"\tc d\"\t45691\n", string(sheets[0].Text()))
	require.Len(t, notices, 2)
	require.Equal(t, "line 3, Sheet1: line ends in a cell are read as blanks", notices[0].String())
	require.Equal(t, "hidden: a hidden sheet; left out", notices[1].String())
}

func TestRead_Refuses(t *testing.T) {
	year := book(t, func(f *excelize.File) {
		yes := true
		require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	})
	var swollen bytes.Buffer
	z := zip.NewWriter(&swollen)
	w, err := z.Create("xl/worksheets/sheet1.xml")
	require.NoError(t, err)
	for range 64 {
		_, err = io.WriteString(w, strings.Repeat(" ", 1<<20))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	for want, b := range map[string][]byte{
		"counts days from 1904": year,
		"not a workbook":        []byte("PK\x03\x04 and nothing"),
		"swells beyond reason":  swollen.Bytes(),
	} {
		_, _, err := Read(bytes.NewReader(b), int64(len(b)), Options{})
		require.ErrorContains(t, err, want)
	}
	b := book(t, func(*excelize.File) {})
	_, _, err = Read(bytes.NewReader(b), int64(len(b)), Options{Limits: format.Limits{MaxBytes: 100}})
	require.ErrorIs(t, err, format.ErrTooLarge)
}

func FuzzRead(f *testing.F) {
	f.Add(book(f, func(x *excelize.File) { require.NoError(f, x.SetCellValue("Sheet1", "A1", "row")) }))
	f.Fuzz(func(t *testing.T, b []byte) {
		sheets, _, err := Read(bytes.NewReader(b), int64(len(b)), Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err == nil {
			for _, s := range sheets {
				require.NotEmpty(t, s.Rows)
			}
		}
	})
}
