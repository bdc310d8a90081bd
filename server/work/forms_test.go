package work

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"courson/geo/vine"
	"courson/store"
	"courson/store/peers"
)

// ogr has GDAL write a file of the base scene; it is the reader of reference for
// what other programs hand over.
func ogr(t *testing.T, name string, args ...string) string {
	t.Helper()
	program := peers.Program(t, "ogr2ogr")
	to := filepath.Join(t.TempDir(), name)
	for i, a := range args {
		if a == "TO" {
			args[i] = to
		}
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	require.NoError(t, err, string(out))
	return to
}

// What GDAL writes of the base scene gives the base scene again, whatever the
// form.
func TestImport_FilesThatGDALWrote(t *testing.T) {
	blocks, rows := baseDir+"blocks.geojson", baseDir+"rows.geojson"
	for _, c := range []struct {
		name, file string
		form       FileForm
		blocks     []string
		rows       []string
		job        ImportJob
	}{
		{name: "KML", file: "x.kml", form: FormKML, blocks: []string{"-f", "KML", "TO", blocks}, rows: []string{"-f", "KML", "TO", rows}},
		{name: "KML by LIBKML", file: "x.kml", form: FormKML, blocks: []string{"-f", "LIBKML", "TO", blocks}, rows: []string{"-f", "LIBKML", "TO", rows}},
		{name: "KMZ", file: "x.kmz", form: FormKML, blocks: []string{"-f", "LIBKML", "TO", blocks}, rows: []string{"-f", "LIBKML", "TO", rows}},
		{name: "GeoPackage", file: "x.gpkg", form: FormGeoPackage, blocks: []string{"-f", "GPKG", "TO", blocks}, rows: []string{"-f", "GPKG", "TO", rows}},
		{name: "GeoPackage in metres", file: "x.gpkg", form: FormGeoPackage, blocks: []string{"-f", "GPKG", "-t_srs", "EPSG:32632", "TO", blocks}, rows: []string{"-f", "GPKG", "-t_srs", "EPSG:32632", "TO", rows}},
		{name: "shapefile", file: "x.shz", form: FormShapefile, blocks: []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8", "TO", blocks}, rows: []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8", "TO", rows}},
		{name: "shapefile in metres", file: "x.shz", form: FormShapefile, blocks: []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8", "-t_srs", "EPSG:25832", "TO", blocks}, rows: []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8", "-t_srs", "EPSG:25832", "TO", rows}},
		{name: "a feature a line", file: "x.geojsonl", form: FormGeoJSON, blocks: []string{"-f", "GeoJSONSeq", "-lco", "COORDINATE_PRECISION=9", "TO", blocks}, rows: []string{"-f", "GeoJSONSeq", "-lco", "COORDINATE_PRECISION=9", "TO", rows}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := openGpkg(t)
			// Names longer than ten characters are cut in shapefiles; the values that
			// are lost with them are said here.
			c.job.VineSpacingM, c.job.RowSpacingM, c.job.NumberingEnd = 1.1, 1.8, "S"
			report := take(t, st, c.job, onDisk(ogr(t, c.file, c.blocks...)))
			require.Equal(t, string(c.form), report.Files[0].Form)
			require.Equal(t, Count{Read: 1, Made: 1}, report.Blocks)
			report = take(t, st, c.job, onDisk(ogr(t, c.file, c.rows...)))
			require.Equal(t, Count{Read: 8, Made: 8}, report.Rows)
			area(t, st, "B1", 360.0)
			rowsAre("B1", 8, 22.00, 21)(t, st, report)
		})
	}
}

// A table that a spreadsheet program keeps is read cell by cell as it is stored.
func TestImport_Workbooks(t *testing.T) {
	st := based(t, openGpkg)
	path := ogr(t, "x.xlsx", "-f", "XLSX", "TO", baseDir+"vines.csv")
	report := take(t, st, ImportJob{Season: 2025}, onDisk(path))
	require.Equal(t, string(FormWorkbook), report.Files[0].Form)
	require.False(t, report.Changed(), "the same vines as the CSV file")
	require.Equal(t, Count{Read: 168, Unchanged: 168}, report.Vines)

	f := excelize.NewFile()
	_, err := f.NewSheet("key")
	require.NoError(t, err)
	require.NoError(t, f.SetSheetRow("key", "A1", &[]any{"what the columns mean"}))
	for i, row := range [][]any{{"block", "rang", "cep", "poids de taille (kg)", "taillé le", "remarque"}, {"B1", 1, 1, 0.42, 45691, "côté\nfossé"}, {"B1", "1", 2, 0.61, nil, "=2+3"}} {
		require.NoError(t, f.SetSheetRow("Sheet1", "A"+string(rune('1'+i)), &row))
	}
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	book := inMemory("winter.xlsx", b.String())
	refused := refuse(t, st, ImportJob{Season: 2025}, book)
	require.Contains(t, texts(refused), "more than one sheet, and nothing says which is meant; found Sheet1, key")
	require.Equal(t, []string{"Sheet1", "key"}, refused.Problems[0].Ask.Choices)
	report = take(t, st, ImportJob{Season: 2025, Layers: []string{"Sheet1"}, Look: true}, book)
	s := stateOf(t, st, "B1/1/1", 2025)
	require.InDelta(t, 420, s.Measures[vine.PruningWeight].Value, 1e-9)
	require.Equal(t, "2025-02-03", s.PrunedAt.UTC().Format("2006-01-02"))
	require.ElementsMatch(t, []string{"côté fossé", "=2+3"}, notes(t, st))
	require.Equal(t, "winter.xlsx Sheet1", report.Seen[0].Name)
}

// The contents decide, not the name.
func TestImport_FormsByContents(t *testing.T) {
	packed := func(names ...string) string {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, n := range names {
			w, err := z.Create(n)
			require.NoError(t, err)
			_, err = io.WriteString(w, "x")
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		return b.String()
	}
	for _, c := range []struct {
		name, text string
		form       FileForm
		wrong      string
	}{
		{"a.csv", "block,row\nB1,1\n", FormTable, ""},
		{"a.csv", `{"type":"FeatureCollection","features":[]}`, FormGeoJSON, ""},
		{"a.csv", "[a];b\n1;2\n", FormTable, ""},
		{"a", "block;row\nB1;1\n", FormTable, ""},
		{"a.json", "hello", FormGeoJSON, ""},
		{"a.txt", "<?xml version=\"1.0\"?><!-- x --><k:kml xmlns:k=\"x\"/>", FormKML, ""},
		{"a.txt", "\xef\xbb\xbf<gpx version=\"1.1\">", FormGPX, ""},
		{"a.xml", "<html><body>", "", `XML of a kind that is not known; found "html"`},
		{"a.txt", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\n", FormNMEA, ""},
		{"a.txt", "SQLite format 3\x00", FormGeoPackage, ""},
		{"a", packed("x/Rows.SHP", "__MACOSX/._Rows.SHP"), FormShapefile, ""},
		{"a", packed("doc.kml"), FormKML, ""},
		{"a", packed("xl/workbook.xml"), FormWorkbook, ""},
		{"a.zip", packed("photo.jpg"), "", `nothing in it that can be read; found "photo.jpg"`},
		{"a.zip", packed("doc.kml")[:40], "", "a zip that is damaged or cut short"},
		{"a.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "", "a workbook of the old kind"},
		{"a.tif", "II*\x00\x08\x00\x00\x00", FormImage, ""},
	} {
		form, err := fileForm(strings.NewReader(c.text), c.name, ImportJob{}.Limits)
		if c.wrong != "" {
			require.ErrorContains(t, err, c.wrong, c.name)
			continue
		}
		require.NoError(t, err, c.name)
		require.Equal(t, c.form, form, c.name)
	}
	_, err := ParseFileForm("drawing")
	require.ErrorContains(t, err, "auto, geojson, table, shapefile")
	form, err := ParseFileForm("gpx")
	require.NoError(t, err)
	require.Equal(t, FormGPX, form)
}

// What somebody said of the columns of a file holds for the next one with the same
// columns, and is said.
func TestImport_ColumnsAreKept(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		text := "parcelle;rang;cep;masse;divers\nB1;1;1;0,42;x\n"
		refused := refuse(t, st, ImportJob{Season: 2025, Columns: map[string]string{"mass": "pruning_weight_kg"}}, inMemory("a.csv", text))
		require.Contains(t, texts(refused), "mass: no file has a column of this name; wanted one of cep, divers, masse, parcelle, rang")
		refused = refuse(t, st, ImportJob{Season: 2025, Columns: map[string]string{"masse": "heaviness"}}, inMemory("a.csv", text))
		require.Contains(t, texts(refused), `the column is to be something that is not known; found "heaviness"`)
		take(t, st, ImportJob{Season: 2025, DryRun: true, Columns: map[string]string{"masse": "pruning_weight_kg", "divers": ""}}, inMemory("a.csv", text))
		report := take(t, st, ImportJob{Season: 2025, DryRun: true}, inMemory("a.csv", text))
		require.False(t, report.Changed(), "a dry run keeps nothing")

		take(t, st, ImportJob{Season: 2025, Columns: map[string]string{"masse": "pruning_weight_kg", "divers": ""}}, inMemory("a.csv", text))
		require.InDelta(t, 420, stateOf(t, st, "B1/1/1", 2025).Measures[vine.PruningWeight].Value, 1e-9)
		report = take(t, st, ImportJob{Season: 2025, Look: true}, inMemory("next.csv", strings.Replace(text, "0,42", "0,55", 1)))
		require.InDelta(t, 550, stateOf(t, st, "B1/1/1", 2025).Measures[vine.PruningWeight].Value, 1e-9)
		all := ""
		for _, n := range report.Notices {
			all += n.String() + "\n"
		}
		require.Contains(t, all, "masse: taken as pruning_weight_kg, as was said last time")
		require.Contains(t, all, "divers: left out, as was said last time")
		require.Equal(t, SeenCol{Name: "masse", Field: "pruning_weight", Unit: "kg", Said: true, Filled: 1}, report.Seen[0].Columns[3])
		require.True(t, report.Seen[0].Columns[4].Left)
		require.Equal(t, "semicolon", report.Seen[0].Delimiter)
		require.Equal(t, "comma", report.Seen[0].Decimal)

		report = take(t, st, ImportJob{Season: 2025}, inMemory("other.csv", "parcelle;rang;cep;masse\nB1;1;1;0,70\n"))
		require.False(t, report.Changed(), "other columns: nothing is kept of them")
	})
}

// What an import said of columns goes with it when it is taken back: what held before
// holds again, also where imports are taken back out of turn, and never what an
// import said that was itself taken back.
func TestUndo_WhatWasSaidOfColumns(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		hour := 0
		teach := func(field, value string) string {
			hour++
			text := "parcelle;rang;cep;masse\nB1;1;1;" + value + "\n"
			take(t, st, ImportJob{Season: 2025, Columns: map[string]string{"masse": field}, Now: hoursLater(hour)}, inMemory("a.csv", text))
			list, err := Imports(t.Context(), st)
			require.NoError(t, err)
			return list[0].ID
		}
		held := func() string {
			kept, err := papersOf[keptColumns](t.Context(), st, store.PaperQuery{Kind: PaperColumns})
			require.NoError(t, err)
			require.Len(t, kept, 1)
			return kept[0].Columns["masse"]
		}
		back := func(id string) string {
			hour++
			return strings.Join(undoNow(t, st, id, hour).Notes, "\n")
		}
		first := teach("pruning_weight_kg", "0,42")
		require.Contains(t, back(first), "is forgotten")
		require.Empty(t, held())
		report := take(t, st, ImportJob{Season: 2025, DryRun: true}, inMemory("a.csv", "parcelle;rang;cep;masse\nB1;1;1;0,42\n"))
		require.False(t, report.Changed(), "nothing comes back in silence")

		right, wrong, third := teach("pruning_weight_kg", "0,52"), teach("yield_kg", "0,62"), teach("trunk_girth_mm", "72")
		require.Contains(t, back(wrong), "what a later import said of its columns stays")
		require.Equal(t, "trunk_girth_mm", held())
		require.Contains(t, back(third), "before holds again")
		require.Equal(t, "pruning_weight_kg", held(), "not what the import said that was taken back")
		require.Contains(t, back(right), "is forgotten")
		require.Empty(t, held())
	})
}

// A layer that fails in the middle is refused as a whole, and the writer of its
// features ends.
func TestImport_LayerThatFails(t *testing.T) {
	st := based(t, openGpkg)
	report := refuse(t, st, ImportJob{}, inMemory("a.kml", `<kml><Document><Placemark><name>x</name><Point><coordinates>11.37,95.2</coordinates></Point></Placemark></Document></kml>`))
	require.Contains(t, texts(report), "a.kml, feature 0, coordinates: ")
	report = refuse(t, st, ImportJob{}, inMemory("a.kml", `<kml><Document><Placemark>`))
	require.Contains(t, texts(report), "a.kml, line 1: not well-formed XML")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := Import(ctx, st, ImportJob{Files: []File{onDisk(caseDir + "o41_prefixed_nested.kml")}})
	require.ErrorIs(t, err, context.Canceled)
}

// The parts of a shapefile that come one by one are one file.
func TestImport_LooseShapefile(t *testing.T) {
	dir := ogr(t, "loose", "-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8", "TO", baseDir+"rows.geojson")
	st := openGpkg(t)
	take(t, st, ImportJob{}, onDisk(baseDir+"blocks.geojson"))
	var files []File
	parts, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, p := range parts {
		files = append(files, File{Name: p.Name(), Open: func() (io.ReadSeeker, error) { return os.Open(filepath.Join(dir, p.Name())) }})
	}
	require.GreaterOrEqual(t, len(files), 4)
	report := take(t, st, ImportJob{VineSpacingM: 1.1, NumberingEnd: "S"}, files...)
	require.Equal(t, Count{Read: 8, Made: 8}, report.Rows)
	require.Len(t, report.Files, 1)
}
