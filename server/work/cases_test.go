package work

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

const (
	caseDir = "../../testdata/import/"
	shpDir  = "../../geo/format/shp/testdata/"
)

// casePath gives where a file lies: of testdata/import, or with its folder.
func casePath(name string) string {
	if strings.Contains(name, "/") {
		return name
	}
	return caseDir + name
}

// outcome is what is right for a file of testdata/import. The figures were
// worked out apart from the program.
type outcome struct {
	file    string
	job     ImportJob
	fresh   bool     // into an empty store, else on the base scene
	refused []string // parts of the problems
	asked   string   // the option that would settle it
	notices []string // parts of the notices, where accepted
	check   func(t *testing.T, st store.Store, r Report)
}

func outcomes() []outcome {
	season := ImportJob{Season: 2025}
	return []outcome{
		{file: "o01_rows_z.geojson", notices: []string{"heights are left out", "5 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: "o02_rows_zm.geojson", notices: []string{"more than three numbers", "6 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: "o03_crs_32632.geojson", fresh: true, notices: []string{"brought from EPSG:32632", "row_spacing"}, check: func(t *testing.T, st store.Store, r Report) {
			area(t, st, "B1", 360.0)
			rowsAre("B1", 2, 22.00, 21)(t, st, r)
			require.InDelta(t, 11.369982704, block0(t, st).Outline[0][0][0][0], 2.5e-7) // 2 cm
		}},
		{file: "o04_metres_no_crs.geojson", fresh: true, refused: []string{"feature 0", "686107.02 cannot be a longitude; it looks like projected metres"}, asked: "crs"},
		{file: "o04_metres_no_crs.geojson", fresh: true, job: ImportJob{CRS: "EPSG:32632"}, notices: []string{"brought from EPSG:32632", "row_spacing"}, check: rowsAre("B1", 2, 22.00, 21)},
		{file: "o05_swapped_out_of_range.geojson", fresh: true, refused: []string{"the pairs look swapped, latitude first", "147.19"}},
		{file: "o06_clockwise_with_hole.geojson", fresh: true, notices: []string{"outer rings run counter-clockwise", "holes run clockwise"}, check: func(t *testing.T, st store.Store, r Report) {
			area(t, st, "B1", 351.0)
		}},
		{file: "o07_bowtie_block.geojson", fresh: true, refused: []string{"feature 0 (line 2)", "crosses or touches itself; found a crossing at [11.3701"}},
		{file: "o08_geometrycollection.geojson", refused: []string{"feature 0 (line 2)", "a GeometryCollection with 1 Point, 1 Polygon, 2 LineString"}},
		{file: "o09_row_gap_road.geojson", notices: []string{"7 stored rows", "3 of its vines have no place on it any more and stay where they were: 10, 11, 12"}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, Count{Changed: 9}, r.Vines, "only the part of the row changes; history stays with the place")
		}},
		{file: "o10_null_geometry.geojson", notices: []string{"feature 1, geometry: no place; the row is left out", "stored rows"}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, Count{Read: 3, Unchanged: 2, LeftOut: 1}, r.Rows)
		}},
		{file: "o11_duplicate_ids.geojson", refused: []string{"id used twice, by features 0 and 2 that differ"}},
		{file: "o12_mixed_id_types.geojson", refused: []string{"row 7 used twice", `"07" beside`, `"007" beside`}},
		{file: "o13_unclosed_ring.geojson", fresh: true, notices: []string{"feature 0, ring 0: not closed"}, check: func(t *testing.T, st store.Store, r Report) { area(t, st, "B1", 360.0) }},
		{file: "o14_antimeridian.geojson", fresh: true, notices: []string{"row_spacing"}, check: func(t *testing.T, st store.Store, r Report) {
			area(t, st, "AM", 360.0)
			rowsAre("AM", 2, 22.00, 21)(t, st, r)
		}},
		{file: "o15_zero_length_rows.geojson", refused: []string{"feature 1", "row 2 has no length; found 2 positions at one place", "feature 2", "a line has two positions or more; found 1"}},
		{file: "o16_repeated_vertices.geojson", notices: []string{"repeated positions", "stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: "o17_trailing_comma.geojson", refused: []string{"line 46", "a comma with nothing after it"}},
		{file: "o19_rows.geojson.gz", check: rowsAre("B1", 8, 22.00, 21)},
		{file: "o20_padded_200MB.geojson.gz", refused: []string{"swells beyond reason"}},

		{file: "o21_leading_zeros.csv", job: season, refused: []string{`block: a block that is not known; found "007"`}},
		{file: "o22_utf8_bom.csv", job: season, check: corners},
		{file: "o23_utf16le_bom_tabs.csv", job: season, notices: []string{"UTF-16"}, check: func(t *testing.T, st store.Store, r Report) {
			corners(t, st, r)
			require.ElementsMatch(t, []string{"côté fossé", "à arracher"}, notes(t, st))
		}},
		{file: "o24_semicolon_decimal_comma.csv", job: season, check: func(t *testing.T, st store.Store, r Report) {
			corners(t, st, r)
			for address, kg := range map[string]float64{"B1/1/1": 0.42, "B1/1/21": 0.61, "B1/8/1": 0.18, "B1/8/21": 1.05} {
				require.InDelta(t, kg*1000, stateOf(t, st, address, 2025).Measures[vine.PruningWeight].Value, 1e-9, address)
			}
		}},
		{file: "o25_dms.csv", job: season, check: corners},
		{file: "o26_hemisphere_letters.csv", job: season, refused: []string{"line 5, Lat: a minus and the letter N contradict each other"}},
		{file: "o27_thousands.csv", job: season, refused: []string{"line 5, prun_g: a comma stands for thousands in this column (line 3)"}},
		{file: "o28_one_group_ambiguous.csv", job: season, refused: []string{"line 3, prun_kg: the column has decimal commas (line 2), so the point may stand for thousands"}, asked: "decimal"},
		{file: "o29_spreadsheet_serial_dates.csv", job: season, notices: []string{"day numbers of a spreadsheet"}, check: prunedOn(map[string]string{"B1/1/1": "2025-02-03", "B1/1/2": "2025-02-04", "B1/1/3": "2025-02-04", "B1/1/4": "2025-02-05"})},
		{file: "o30a_day_first_settled.csv", job: season, check: prunedOn(map[string]string{"B1/1/1": "2025-02-03", "B1/1/2": "2025-02-14", "B1/1/3": "2025-03-05"})},
		{file: "o30b_both_orders.csv", job: season, refused: []string{"line 3 has the day first and line 4 the month"}},
		{file: "o31_ids_became_dates.csv", job: season, refused: []string{"line 2, vine_id: looks like an id that a spreadsheet made into a date", `perhaps "1-8"`, `perhaps "1-14"`}},
		{file: "o32_windows1252.csv", job: season, notices: []string{"Windows-1252"}, check: func(t *testing.T, st store.Store, r Report) {
			require.ElementsMatch(t, []string{"taille à deux yeux", "pied chétif – reprise l’an prochain", "Rückschnitt auf 2 Augen"}, notes(t, st))
		}},
		{file: "o33_trailing_commas.csv", job: season, refused: []string{`line 5: the 5. value has no column; found "left over"`}},
		{file: "o34_padded_headers_ids.csv", job: season, notices: []string{"Block: blanks around a label", "Vine: blanks around a label", `"b1" taken as block B1`}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, 5, r.Records[0].Made+r.Records[0].Unchanged)
			require.Len(t, blocksOf(t, st), 1)
		}},
		{file: "o35_formula_like_notes.csv", job: season, notices: []string{"vigour_change: not known; left out"}, check: func(t *testing.T, st store.Store, r Report) {
			require.ElementsMatch(t, []string{"=2+3", "+new cane low down", "-weak left arm", "@north end, near post", `=HYPERLINK("http://example.invalid/","see")`}, notes(t, st))
		}},

		{file: shpDir + "o36a_polylinez_m_nodata.zip", notices: []string{"heights are left out", "5 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: shpDir + "o36b_polylinez_no_m_part.zip", notices: []string{"heights are left out", "5 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: shpDir + "o37_no_prj_metres.zip", refused: []string{"the .prj is missing: nothing says in which coordinate system the numbers are"}, asked: "crs"},
		{file: shpDir + "o37_no_prj_metres.zip", job: ImportJob{CRS: "EPSG:32632"}, notices: []string{"brought from EPSG:32632", "5 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: shpDir + "o38_cut_field_names.zip", job: season, refused: []string{`names cut at ten characters: nothing says what each of the two columns is; found "prunweight" and "prunweig_1"`}, asked: "column"},
		{file: shpDir + "o38_cut_field_names.zip", job: ImportJob{Columns: map[string]string{"prunweight": "pruning_weight_kg", "prunweig_1": ""}}, notices: []string{"prunweig_1: the name looks cut", "6 stored rows"}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, 2, r.Rows.Changed)
			extra := extras(t, st)["1"]
			require.Contains(t, extra, "prunweight")
			require.NotContains(t, extra, "prunweig_1", "left out as said")
		}},
		{file: shpDir + "o39_nested_upper_macosx.zip", notices: []string{"5 stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
		{file: shpDir + "o40_latin1_dbf_no_cpg.zip", notices: []string{"Windows-1252", "6 stored rows"}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, "côté fossé", extras(t, st)["1"]["note"])
			require.Equal(t, "Böschung, spät", extras(t, st)["2"]["note"])
		}},
		{file: "o41_prefixed_nested.kml", fresh: true, job: ImportJob{VineSpacingM: 1.1}, refused: []string{"feature 0, block: a block needs its code"}, asked: "column"},
		{file: "o41_prefixed_nested.kml", fresh: true, job: ImportJob{VineSpacingM: 1.1, NumberingEnd: "S", Columns: map[string]string{"folder": "block"}}, notices: []string{"row_spacing"}, check: func(t *testing.T, st store.Store, r Report) {
			area(t, st, "B1", 360.0)
			rowsAre("B1", 3, 22.00, 21)(t, st, r)
		}},
		{file: "o42_waypoints_route_two_segments.gpx", refused: []string{"more than one kind of things, and nothing says which is meant; found waypoints, routes, tracks"}, asked: "layers"},
		{file: "o42_waypoints_route_two_segments.gpx", job: ImportJob{Block: "B1", Layers: []string{"tracks"}, Columns: map[string]string{"name": "row"}}, notices: []string{"the word for row", "7 stored rows", "3 of its vines have no place on it any more and stay where they were: 10, 11, 12"}, check: func(t *testing.T, st store.Store, r Report) {
			require.Equal(t, Count{Read: 1, Changed: 1}, Count{Read: r.Rows.Read, Changed: r.Rows.Changed})
		}},
		{file: "o44_alternating_direction.geojson", fresh: false, notices: []string{"4 stored rows"}, check: func(t *testing.T, st store.Store, r Report) {
			require.False(t, r.Changed(), "same ids and places as before")
		}},
		{file: "o45_rows_from_other_side.geojson", refused: []string{"row 8 of the file lies on stored row 1", "to renumber"}},
		{file: "o46_vines_from_zero.csv", job: season, refused: []string{"row B1/3: vine 0 is not known and vine 21 is absent: the file looks shifted by one"}},
		{file: "o47_two_rows_same_number.geojson", refused: []string{"row 5 used twice", "feature 1", "feature 2", "1.8 m apart", "unused: 6"}},
		{file: "o48_utm_zone_border.geojson", fresh: true, notices: []string{"row_spacing: block E1: 1.80 m taken from the lines"}, check: func(t *testing.T, st store.Store, r Report) {
			area(t, st, "E1", 360.0)
			rowsAre("E1", 8, 22.00, 21)(t, st, r)
		}},
		{file: "o49_spacing_units.geojson", job: ImportJob{VineSpacingM: 1.1}, notices: []string{"stored rows"}, check: rowsAre("B1", 8, 22.00, 21)},
	}
}

// run takes the file in and holds what became of it against what is right.
func (c outcome) run(t *testing.T) {
	st := openGpkg(t)
	if !c.fresh {
		take(t, st, ImportJob{}, base()...)
	}
	if c.refused != nil {
		report := refuse(t, st, c.job, onDisk(casePath(c.file)))
		for _, part := range c.refused {
			require.Contains(t, texts(report), part)
		}
		if c.asked != "" {
			require.NotNil(t, report.Problems[0].Ask)
			require.Equal(t, c.asked, report.Problems[0].Ask.Option)
		}
		return
	}
	report := take(t, st, c.job, onDisk(casePath(c.file)))
	all := ""
	for _, n := range report.Notices {
		all += n.String() + "\n"
	}
	for _, part := range c.notices {
		require.Contains(t, all, part)
	}
	require.LessOrEqual(t, len(report.Notices), len(c.notices), all)
	if c.check != nil {
		c.check(t, st, report)
	}
}

func blocksOf(t *testing.T, st store.Store) []store.Block {
	t.Helper()
	blocks, err := st.Blocks(context.Background())
	require.NoError(t, err)
	return blocks
}

func block0(t *testing.T, st store.Store) store.Block {
	t.Helper()
	blocks := blocksOf(t, st)
	require.NotEmpty(t, blocks)
	return blocks[0]
}

func area(t *testing.T, st store.Store, code string, want float64) {
	t.Helper()
	b := block0(t, st)
	require.Equal(t, code, b.Code)
	require.InDelta(t, want, frame.WGS84.MultiPolygonArea(b.Outline), 0.5)
}

// extras gives what was kept of rows beyond their fields, by label.
func extras(t *testing.T, st store.Store) map[string]map[string]any {
	t.Helper()
	rows, err := st.Rows(context.Background(), block0(t, st).ID)
	require.NoError(t, err)
	out := map[string]map[string]any{}
	for _, r := range rows {
		out[r.Label] = r.Extra
	}
	return out
}

// rowsAre wants a block's rows to be so many, so long, with so many vines.
func rowsAre(code string, rows int, lengthM float64, vines int) func(*testing.T, store.Store, Report) {
	return func(t *testing.T, st store.Store, _ Report) {
		t.Helper()
		g, b, list, err := LoadGround(context.Background(), st, block0(t, st).ID)
		require.NoError(t, err)
		require.Equal(t, code, b.Code)
		require.Len(t, list, rows)
		for i, r := range list {
			require.InDelta(t, lengthM, r.LengthM, 0.01)
			require.Equal(t, vines, g.Rows[i].Count)
			last := g.Rows[i].First + vines - 1
			require.InDelta(t, lengthM, float64(g.Chainage[last]), 0.01)
		}
	}
}

// corners wants the corner vines of the base scene to stand where they stood, to
// 2 cm, and no vine to be new.
func corners(t *testing.T, st store.Store, r Report) {
	t.Helper()
	require.Zero(t, r.Vines.Made)
	g, _, _, err := LoadGround(context.Background(), st, block0(t, st).ID)
	require.NoError(t, err)
	fresh := openGpkg(t)
	take(t, fresh, ImportJob{}, base()...)
	want, _, _, err := LoadGround(context.Background(), fresh, block0(t, fresh).ID)
	require.NoError(t, err)
	require.Equal(t, want.Len(), g.Len())
	for i := range want.Len() {
		require.Less(t, math.Hypot(float64(want.X[i]-g.X[i]), float64(want.Y[i]-g.Y[i])), 0.02)
	}
}

// prunedOn wants vines to be pruned on these days, as instructed.
func prunedOn(days map[string]string) func(*testing.T, store.Store, Report) {
	return func(t *testing.T, st store.Store, _ Report) {
		t.Helper()
		for address, day := range days {
			s := stateOf(t, st, address, 2025)
			require.NotNil(t, s.Pruned, address)
			require.Equal(t, day, s.PrunedAt.UTC().Format("2006-01-02"), address)
		}
	}
}

// notes gives the words of all notes but those of the base scene.
func notes(t *testing.T, st store.Store) (out []string) {
	t.Helper()
	events, err := st.Events(context.Background(), store.EventQuery{})
	require.NoError(t, err)
	for _, e := range events {
		if n, ok := e.Body.(vine.Note); ok && n.Text != "planted 2024" && n.Text != "stump left" {
			out = append(out, n.Text)
		}
	}
	return out
}
