package work

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"courson/store"
)

const baseOutline = `{"type":"Polygon","coordinates":[[[11.369982704,45.209990087],[11.370154953,45.209945771],[11.370263796,45.210157154],[11.370091547,45.21020147],[11.369982704,45.209990087]]]}`

func feature(properties, geometry string) string {
	return `{"type":"Feature","properties":` + properties + `,"geometry":` + geometry + `}`
}

func features(list ...string) string {
	return `{"type":"FeatureCollection","features":[` + "\n" + strings.Join(list, ",\n") + "\n]}"
}

// What is wrong is said with file, feature or line, field, what was found and
// what is wanted; and nothing is stored.
func TestImport_Refusals(t *testing.T) {
	line := `{"type":"LineString","coordinates":[[11.37,45.21],[11.370095782,45.210186018]]}`
	far := `{"type":"LineString","coordinates":[[11.3705,45.21],[11.370595782,45.210186018]]}`
	point := `{"type":"Point","coordinates":[11.37,45.21]}`
	for _, c := range []struct {
		name string
		job  ImportJob
		file File
		want []string // parts of the problems
	}{
		{"not JSON", ImportJob{}, inMemory("b.geojson", "hello"), []string{"b.geojson, line 1: not JSON", `found "hello"`, "wanted GeoJSON"}},
		{"truncated", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B2"}`, baseOutline))[:120]), []string{"b.geojson, feature 0 (line 2): the file ends in the middle"}},
		{"wrong geometry for blocks", ImportJob{As: Blocks}, inMemory("b.geojson", features(feature(`{"block":"B2"}`, line))), []string{"b.geojson, feature 0 (line 2), geometry: wrong geometry type for a file of blocks; found LineString; wanted a Polygon or MultiPolygon"}},
		{"wrong geometry for rows", ImportJob{As: Rows}, inMemory("r.geojson", features(feature(`{"block":"B1","row":9}`, point))), []string{"feature 0", "wrong geometry type for a file of rows; found Point; wanted a LineString"}},
		{"wrong geometry for vines", ImportJob{As: Vines}, inMemory("v.geojson", features(feature(`{"block":"B1","row":1}`, line))), []string{"wrong geometry type for a file of vines; found LineString; wanted a Point"}},
		{"points together", ImportJob{}, inMemory("v.geojson", features(feature(`{"block":"B1","row":1}`, `{"type":"MultiPoint","coordinates":[[11.37,45.21]]}`))), []string{"none of block, row or vine; found a MultiPoint of 1 positions"}},
		{"unknown block, row", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B7","row":9}`, line))), []string{`r.geojson, feature 0 (line 2), block: a block that is not known; found "B7"; wanted one of B1; or its outline first`}},
		{"unknown block, table", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,status\nX9,1,1,ok\n"), []string{`v.csv, line 2, block: a block that is not known; found "X9"; wanted one of B1`}},
		{"unknown block, points in a known one", ImportJob{}, inMemory("v.geojson", features(feature(`{"block":"B7","row":1,"vine":1}`, point))), []string{`block: a block that is not known; found "B7"; wanted B1, within whose outline these vines stand`}},
		{"row outside its block", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":9,"vine_spacing_m":1.1}`, far))), []string{"feature 0 (line 2), geometry: row 9 lies outside block B1; found 100 % of its length outside; wanted rows inside the outline"}},
		{"duplicate address", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,status\nB1,1,1,ok\nB1,1,2,ok\nB1,1,1,dead\n"), []string{"v.csv, line 4: the same vine twice: B1/1/1; found here and in v.csv, line 2; wanted each vine once"}},
		{"duplicate block", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B1"}`, baseOutline), feature(`{"block":"B1"}`, baseOutline))), []string{`feature 1 (line 3), block: the same block twice; found "B1" here and in b.geojson, feature 0`}},
		{"self-crossing block", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B2"}`, `{"type":"Polygon","coordinates":[[[0,0],[1,1],[1,0],[0,1],[0,0]]]}`))), []string{"feature 0 (line 2), ring 0: the outline crosses or touches itself; found a crossing at [0.5, 0.5]; wanted an outline without crossings"}},
		{"NaN in GeoJSON", ImportJob{Season: 2025}, inMemory("v.geojson", features(feature(`{"block":"B1","row":1,"vine":1,"vigour":NaN}`, "null"))), []string{`feature 0 (line 2), property vigour: not a JSON number; found "NaN"`}},
		{"NaN in a table", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,yield_kg\nB1,1,1,NaN\n"), []string{`v.csv, line 2, yield_kg: not a number; found "NaN"; wanted 0 to 200 kg`}},
		{"score out of range", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,vigour\nB1,1,1,7\n"), []string{`v.csv, line 2, vigour: out of range; found "7"; wanted a score from 1 to 5`}},
		{"score 0 of a living vine", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,vigour,status\nB1,1,1,0,ok\n"), []string{`vigour: out of range; found "0"`}},
		{"weight out of range", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,prun_kg\nB1,1,1,420\n"), []string{`prun_kg: out of range; found "420"; wanted 0 to 20 kg`}},
		{"negative", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,buds\nB1,1,1,-3\n"), []string{`buds: out of range; found "-3"; wanted a whole number from 0 to 254`}},
		{"half a bud", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,buds\nB1,1,1,2.5\n"), []string{`buds: not a whole number; found "2.5"`}},
		{"quantity without unit", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,yield\nB1,1,1,2.5\n"), []string{`yield: a quantity without its unit; found "2.5"; wanted the unit in the name: yield_g, yield_kg, yield_oz, yield_lb`}},
		{"spacing without unit", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":1,"spacing":1.1}`, line))), []string{"spacing: a quantity without its unit; found 1.1; wanted the unit in the name: spacing_cm, spacing_m"}},
		{"misspelt column", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vien,status\nB1,1,1,ok\nB1,1,2,ok\n"), []string{`v.csv, line 1, vine: the table has no column "vine"; found nothing; wanted a column "vine"; "vien" is not known, "vine" may be meant`}},
		{"misspelt property", ImportJob{}, inMemory("b.geojson", features(feature(`{"blokc":"B2"}`, baseOutline))), []string{`block: a block needs its code; found nothing; wanted a property "block"; "blokc" is not known, "block" may be meant`}},
		{"unknown word", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,status\nB1,1,1,poorly\n"), []string{`status: not a condition; found "poorly"; wanted ok, bearing, young`}},
		{"swapped, but in range", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B2"}`, `{"type":"Polygon","coordinates":[[[45.22,11.38],[45.221,11.38],[45.221,11.381],[45.22,11.38]]]}`))), []string{"feature 0 (line 2), coordinates: far from the estate as written, within it if latitude comes first: the pairs look swapped"}},
		{"known block swapped", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B1"}`, `{"type":"Polygon","coordinates":[[[45.21,11.37],[45.2103,11.37],[45.2103,11.3703],[45.21,11.37]]]}`))), []string{"feature 0 (line 2), coordinates: far from the estate as written, within it if latitude comes first"}},
		{"row swapped", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":1}`, `{"type":"LineString","coordinates":[[45.21,11.37],[45.210186018,11.370095782]]}`))), []string{"coordinates: far from the estate as written, within it if latitude comes first", "longitude first, about 11.370"}},
		{"vine swapped", ImportJob{}, inMemory("v.csv", "block,row,vine,lon,lat\nB1,1,1,45.21,11.37\n"), []string{"v.csv, line 2, coordinates: far from the estate as written, within it if latitude comes first"}},
		{"block moved from its rows", ImportJob{}, inMemory("b.geojson", features(feature(`{"block":"B1"}`, `{"type":"Polygon","coordinates":[[[11.40,45.21],[11.4003,45.21],[11.4003,45.2103],[11.40,45.21]]]}`))), []string{`geometry: the outline lies elsewhere than block "B1", whose 8 rows would stay behind`, " m from where the block is"}},
		{"season out of range", ImportJob{Season: 20255}, inMemory("v.csv", "block,row,vine,status\nB1,1,1,ok\n"), []string{"season: not a season; found 20255; wanted a harvest year from 1850 to 2200"}},
		{"season before planting", ImportJob{Season: 2019}, inMemory("v.csv", "block,row,vine,status\nB1,1,1,ok\n"), []string{"season: wrong season: block B1 was planted in 2021, after it; found 2019; wanted 2021 or later"}},
		{"season of the days", ImportJob{Season: 2024}, inMemory("v.csv", "block,row,vine,pruned_on\nB1,1,1,2025-02-04\n"), []string{"v.csv, line 2, pruned_on: wrong season: this day is in season 2025; found 2025-02-04; wanted a day in season 2024"}},
		{"season of the file", ImportJob{Season: 2024}, inMemory("v.csv", "block,row,vine,status,season\nB1,1,1,ok,2025\n"), []string{"season: another season than was stated; found 2025; wanted 2024"}},
		{"no season", ImportJob{}, inMemory("v.csv", "block,row,vine,status\nB1,1,1,ok\n"), []string{"season: the files hold records, but not of which season"}},
		{"two seasons", ImportJob{}, inMemory("v.csv", "block,row,vine,pruned_on\nB1,1,1,2025-02-04\nB1,1,2,2024-02-04\n"), []string{"line 3, pruned_on: pruning days of two seasons"}},
		{"day to come", ImportJob{}, inMemory("v.csv", "block,row,vine,pruned_on\nB1,1,1,2099-02-04\n"), []string{"pruned_on: a day that is still to come; found 2099-02-04"}},
		{"unknown vine", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,status\nB1,1,22,ok\n"), []string{"v.csv, line 2, vine: a vine that is not known in row B1/1; found 22; wanted a number from 1 to 21"}},
		{"unknown row", ImportJob{Season: 2025}, inMemory("v.csv", "block,row,vine,status\nB1,9,1,ok\n"), []string{`v.csv, line 2, row: a row that is not known in block B1; found "9"; wanted one of its rows, 1 to 8`}},
		{"unknown tag", ImportJob{Season: 2025}, inMemory("v.csv", "vine_id,status\n9-99,ok\n"), []string{`tag: no vine has this tag; found "9-99"`}},
		{"vine far from its row", ImportJob{}, inMemory("v.geojson", features(feature(`{"block":"B1","row":8,"vine":1}`, point))), []string{"feature 0 (line 2), geometry: vine 1 stands far from its row B1/8; found 12.60 m away; wanted at most 0.81 m"}},
		{"one coordinate", ImportJob{}, inMemory("v.csv", "block,row,vine,lat,lon\nB1,1,1,45.21,\n"), []string{"latitude, longitude: one of the two is missing"}},
		{"row moved onto another", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":9,"vine_spacing_m":1.1}`, line))), []string{"row 9 of the file lies on stored row 1"}},
		{"too close", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":1,"vine_spacing_m":0.01}`, line))), []string{"vine_spacing_m: out of range; found 0.01; wanted a length from 0.2 to 20 m"}},
		{"other end", ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":1,"vine1_end":"up"}`, line))), []string{`numbering_end: row 1: numbering end "up": not a compass word`}},
		{"empty zip", ImportJob{}, inMemory("v.zip", "PK\x05\x06"+strings.Repeat("\x00", 18)), []string{"v.zip: the zip is empty"}},
		{"empty file", ImportJob{}, inMemory("v.csv", ""), []string{"v.csv: the file is empty"}},
		{"no files", ImportJob{}, File{}, []string{"no file is named"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := openGpkg(t)
			take(t, st, ImportJob{}, base()...)
			files := []File{c.file}
			if c.file.Open == nil {
				files = nil
			}
			report := refuse(t, st, c.job, files...)
			for _, part := range c.want {
				require.Contains(t, texts(report), part)
			}
			require.Len(t, report.Problems, 1, texts(report))
		})
	}
}

// A good file beside a bad one is not stored either.
func TestImport_OneBadFileKeepsAllOut(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		report := refuse(t, st, ImportJob{Season: 2025}, onDisk(baseDir+"blocks.geojson"), onDisk(baseDir+"rows.geojson"),
			inMemory("v.csv", "block,row,vine,status\nB1,1,1,ok\nB1,1,99,ok\n"))
		require.Contains(t, texts(report), "v.csv, line 3")
		blocks, err := st.Blocks(context.Background())
		require.NoError(t, err)
		require.Empty(t, blocks)
	})
}

// Many problems are counted, the first are listed.
func TestImport_ListsTheFirstProblems(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	var b strings.Builder
	b.WriteString("block,row,vine,vigour\n")
	for i := range 100 {
		fmt.Fprintf(&b, "B1,1,1,%d\n", 100+i)
	}
	report := refuse(t, st, ImportJob{Season: 2025, MaxProblems: 5}, inMemory("v.csv", b.String()))
	require.Len(t, report.Problems, 5)
	require.Equal(t, 95, report.MoreProblems)
}

// Faults are not refusals: the disk, and a caller who goes away.
func TestImport_Faults(t *testing.T) {
	st := openGpkg(t)
	before := dump(t, st)
	broken := errors.New("the disk is gone")
	_, err := Import(context.Background(), st, ImportJob{Files: []File{{Name: "x.geojson", Open: func() (io.ReadSeeker, error) { return nil, broken }}}})
	require.ErrorIs(t, err, broken)
	require.NotErrorIs(t, err, ErrRefused)

	failing := struct {
		io.Reader
		io.Seeker
	}{iotest.ErrReader(broken), strings.NewReader("")}
	_, err = Import(context.Background(), st, ImportJob{Files: []File{{Name: "x.geojson", Open: func() (io.ReadSeeker, error) { return failing, nil }}}})
	require.ErrorIs(t, err, broken)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Import(ctx, st, ImportJob{Files: base()})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, before, dump(t, st))
}
