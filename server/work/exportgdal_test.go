package work

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/format/shp"
	"courson/geo/rate"
	"courson/store"
	"courson/store/peers"
)

// estateToExport is the scene of testdata/base with a plan, notes and odd texts.
func estateToExport(t *testing.T) store.Store {
	t.Helper()
	ctx := context.Background()
	st := openGpkg(t)
	take(t, st, ImportJob{By: "Ada"}, base()...)
	take(t, st, ImportJob{Season: 2025}, inMemory("notes.csv", "vine_id,note,prun_g\n1-1,\"=2+3\",320.125\n1-2,\"says \"\"no\"\", twice; über den Bach <&>\",\n1-3,\"two\nlines\",410.5\n"))
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	var entries []store.PlanEntry
	n := 0
	for v, err := range st.Vines(ctx, blocks[0].ID) {
		require.NoError(t, err)
		if n++; n%3 == 0 {
			entries = append(entries, store.PlanEntry{Vine: v.ID, Nodes: 4 + n%20, Canes: 1, Spurs: -1, Reason: "space"})
		}
	}
	require.NoError(t, st.Update(ctx, func(tx store.Tx) error {
		if _, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2025, Block: blocks[0].ID, Made: clock(), By: "Ada", Source: "rule"}, entries); err != nil {
			return err
		}
		return savePaper(tx, store.Paper{Kind: PaperZones, Key: zonesKey(blocks[0].ID, 2025), Season: 2025, Block: blocks[0].ID, By: "Ada", Made: clock()}, zonesToExport())
	}))
	return st
}

// zonesToExport is a kept version of two zones, the second in two parts with a hole.
func zonesToExport() *KeptZones {
	square := func(x, y, side float64) orb.Ring {
		return orb.Ring{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}
	}
	hole := square(11.002, 45.002, 0.001)
	hole.Reverse()
	ground := geojson.NewFeatureCollection()
	ground.Append(geojson.NewFeature(orb.MultiPolygon{{square(11, 45, 0.001)}}))
	ground.Append(geojson.NewFeature(orb.MultiPolygon{{square(11.001, 45.001, 0.004), hole}, {square(11.01, 45, 0.001)}}))
	k := &KeptZones{ID: "v", Note: "trial"}
	k.View = ZonesView{Season: 2025, Code: "B1", Ground: ground, Zones: []rate.Zone{{Number: 1, Vines: 60, Living: 50, Gaps: 10, AreaM2: 120, RowM: 66, Parts: 1, Sure: 0.91}, {Number: 2, Vines: 108, Living: 108, AreaM2: 240.5, RowM: 118.8, Parts: 2, Sure: -1}},
		Rates: &RatesView{Material: "Compost", Aim: "even out", Unit: rate.TPerHa, Measure: "kg", Zones: []rate.ZoneRate{{Zone: 1, Rate: 15, Quantity: 180}, {Zone: 2, Rate: 7.5, Quantity: 180.375}}}}
	return k
}

// exportTo writes a layer into a file.
func exportTo(t *testing.T, st store.Store, k Kind, form Form, us bool) (path string, n int, notices []format.Notice) {
	t.Helper()
	info, ok := InfoOf(form)
	require.True(t, ok)
	path = filepath.Join(t.TempDir(), string(k)+info.Suffix)
	f, err := os.Create(path)
	require.NoError(t, err)
	job := ExportJob{What: k, Form: form, Season: 2025, USUnits: us, Now: clock, Notice: func(x format.Notice) { notices = append(notices, x) }}
	n, err = Export(context.Background(), st, job, f)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	return path, n, notices
}

// gdalRead lets GDAL turn a file into GeoJSON.
func gdalRead(t *testing.T, path string, form Form, l *format.Layer) *geojson.FeatureCollection {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out.geojson")
	args := []string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", "-lco", "RFC7946=NO", out}
	switch form {
	case Shapefile:
		args = append(args, "/vsizip/"+path, l.Name)
	case Table:
		args = append(args, "-oo", "X_POSSIBLE_NAMES=longitude", "-oo", "Y_POSSIBLE_NAMES=latitude", "-oo", "GEOM_POSSIBLE_NAMES=wkt", "-oo", "KEEP_GEOM_COLUMNS=NO", path)
	default:
		args = append(args, path, l.Name)
	}
	said, err := exec.Command(peers.Program(t, "ogr2ogr"), args...).CombinedOutput()
	require.NoError(t, err, "%s", said)
	raw, err := os.ReadFile(out)
	require.NoError(t, err)
	all, err := geojson.UnmarshalFeatureCollection(raw)
	require.NoError(t, err)
	return all
}

// shapeOf gives the geometry that GDAL read, wherever the format has it.
func shapeOf(t *testing.T, f *geojson.Feature, form Form) orb.Geometry {
	t.Helper()
	if form != Workbook {
		return f.Geometry
	}
	if text, ok := f.Properties["wkt"].(string); ok {
		g, err := wkt.Unmarshal(text)
		require.NoError(t, err)
		return g
	}
	if lon, ok := f.Properties["longitude"].(float64); ok {
		return orb.Point{lon, f.Properties["latitude"].(float64)}
	}
	return nil
}

// sameShape compares the places of two geometries in their order, whatever winding
// and grouping the formats want.
func sameShape(t *testing.T, want, got orb.Geometry, note string) {
	t.Helper()
	if want == nil {
		assert.Nil(t, got, note)
		return
	}
	require.NotNil(t, got, note)
	a, b := want.Bound(), got.Bound()
	for i := range 2 {
		assert.InDelta(t, a.Min[i], b.Min[i], 2e-8, note)
		assert.InDelta(t, a.Max[i], b.Max[i], 2e-8, note)
	}
	ws, ok1 := format.Of(want)
	gs, ok2 := format.Of(got)
	assert.True(t, ok1 && ok2 && ws == gs, "%s: %s %s", note, want.GeoJSONType(), got.GeoJSONType())
	assert.Equal(t, len(pointsIn(want)), len(pointsIn(got)), note)
}

func pointsIn(g orb.Geometry) (out []orb.Point) {
	switch g := g.(type) {
	case orb.Point:
		return []orb.Point{g}
	case orb.LineString:
		return g
	case orb.MultiLineString:
		for _, l := range g {
			out = append(out, l...)
		}
	case orb.Polygon:
		for _, r := range g {
			out = append(out, r...)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			out = append(out, pointsIn(p)...)
		}
	}
	return out
}

// TestExport_GDALReadsEveryFormat: every layer in every format, read by GDAL (the
// Geospatial Data Abstraction Library of the Open Source Geospatial Foundation),
// has the things, fields, values and places of the GeoJSON.
func TestExport_GDALReadsEveryFormat(t *testing.T) {
	st := estateToExport(t)
	for _, us := range []bool{false, true} {
		for _, k := range LayerKinds() {
			if us && k != Vines && k != VigourLayer {
				continue // the same way of writing
			}
			path, count, _ := exportTo(t, st, k, GeoJSON, us)
			raw, err := os.ReadFile(path)
			require.NoError(t, err)
			want, err := geojson.UnmarshalFeatureCollection(raw)
			require.NoError(t, err)
			require.Len(t, want.Features, count)
			if k != PatchLayer {
				require.NotZero(t, count, k)
			}
			l, err := LayerOf(k, 2025, us)
			require.NoError(t, err)
			for _, f := range Forms() {
				if us && f.Form != Table && f.Form != GeoPackage {
					continue
				}
				t.Run(fmt.Sprintf("%s %s us %t", k, f.Form, us), func(t *testing.T) {
					path, n, _ := exportTo(t, st, k, f.Form, us)
					require.Equal(t, count, n)
					if f.Form == GeoJSON {
						gdalSame(t, l, f.Form, want, gdalReadAny(t, path))
						return
					}
					gdalFields(t, path, f.Form, l)
					gdalSame(t, l, f.Form, want, gdalRead(t, path, f.Form, l))
				})
			}
		}
	}
}

// gdalReadAny reads the only layer of a file.
func gdalReadAny(t *testing.T, path string) *geojson.FeatureCollection {
	t.Helper()
	said, err := exec.Command(peers.Program(t, "ogr2ogr"), "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", "/vsistdout/", path).Output()
	require.NoError(t, err)
	all, err := geojson.UnmarshalFeatureCollection(said)
	require.NoError(t, err)
	return all
}

// gdalFields looks whether GDAL finds every field, also those without a value.
func gdalFields(t *testing.T, path string, form Form, l *format.Layer) {
	t.Helper()
	if form == Shapefile {
		path = "/vsizip/" + path
	}
	said, err := exec.Command(peers.Program(t, "ogrinfo"), "-so", "-al", path).Output()
	require.NoError(t, err)
	for _, name := range namesIn(form, l) {
		assert.Contains(t, string(said), "\n"+name+": ", form)
	}
}

func namesIn(form Form, l *format.Layer) (names []string) {
	for _, c := range l.Columns {
		names = append(names, c.Name)
	}
	switch form {
	case Shapefile:
		return shp.Names(names)
	case KML:
		if i := slices.Index(names, "name"); i >= 0 {
			names[i] = "own_name"
		}
	}
	return names
}

func gdalSame(t *testing.T, l *format.Layer, form Form, want, got *geojson.FeatureCollection) {
	t.Helper()
	require.Len(t, got.Features, len(want.Features))
	names := namesIn(form, l)
	for i, w := range want.Features {
		g := got.Features[i]
		sameShape(t, w.Geometry, shapeOf(t, g, form), fmt.Sprint(l.Name, " ", i))
		for k, c := range l.Columns {
			note := fmt.Sprintf("%s %d %s", l.Name, i, c.Name)
			sameValue(t, c, form, w.Properties[c.Name], g.Properties[names[k]], note)
		}
	}
}

// sameValue compares what GDAL read with the GeoJSON's value.
func sameValue(t *testing.T, c format.Column, form Form, want, got any, note string) {
	t.Helper()
	if want == nil || want == "" {
		assert.True(t, got == nil || got == "", "%s: found %v", note, got)
		return
	}
	if c.Kind == format.Text {
		text := fmt.Sprint(want)
		if form == Table && strings.ContainsAny(text[:1], "=+-@") {
			text = "'" + text
		}
		if form == Shapefile {
			text = strings.TrimRight(text, " ")
		}
		assert.Equal(t, text, fmt.Sprint(got), note)
		return
	}
	v, ok := got.(float64)
	if text, isText := got.(string); isText { // formats without types
		var err error
		v, err = strconv.ParseFloat(text, 64)
		ok = err == nil
	}
	require.True(t, ok, "%s: %v is no number", note, got)
	assert.InDelta(t, want, v, 1e-9*math.Max(1, math.Abs(v)), note)
}

// TestExport_SaysWhatIsLost: properties of an import that only GeoJSON holds, and
// texts that a shapefile cuts, are told.
func TestExport_SaysWhatIsLost(t *testing.T) {
	st := openGpkg(t)
	files := base()
	raw, err := os.ReadFile(baseDir + "blocks.geojson")
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(raw, &doc))
	doc["features"].([]any)[0].(map[string]any)["properties"].(map[string]any)["soil_of_ours"] = "loam"
	raw, err = json.Marshal(doc)
	require.NoError(t, err)
	files[2] = inMemory("blocks.geojson", string(raw))
	take(t, st, ImportJob{By: "Ada"}, files...)
	take(t, st, ImportJob{Season: 2025}, inMemory("notes.csv", "vine_id,note\n1-1,"+strings.Repeat("ü", 200)+"\n"))

	for _, f := range Forms() {
		_, _, notices := exportTo(t, st, Blocks, f.Form, false)
		text := fmt.Sprint(notices)
		assert.Equal(t, f.Form != GeoJSON, strings.Contains(text, "soil_of_ours"), "%s: %s", f.Form, text)
	}
	_, _, notices := exportTo(t, st, Vines, Shapefile, false)
	assert.Contains(t, fmt.Sprint(notices), "note: text cut to 254 bytes")
	_, _, notices = exportTo(t, st, Vines, GeoPackage, false)
	assert.Empty(t, notices)
}

// TestExport_Refused: what cannot be written is said before anything is.
func TestExport_Refused(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	for _, c := range []struct {
		job  ExportJob
		want string
	}{
		{ExportJob{What: "trees", Form: Table}, "cannot be exported"},
		{ExportJob{What: PatchLayer, Form: Table}, "say which"},
		{ExportJob{What: Vines, Form: "dxf"}, "not a format"},
		{ExportJob{What: Vines, Form: Table, Blocks: []string{"Q9"}}, "Q9"},
	} {
		var b bytes.Buffer
		_, err := Export(context.Background(), st, c.job, &b)
		require.Error(t, err)
		assert.Contains(t, err.Error(), c.want)
		assert.Zero(t, b.Len())
	}
}

// TestExport_LeavesNothingBehind: files beside the export are taken away.
func TestExport_LeavesNothingBehind(t *testing.T) {
	st := estateToExport(t)
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	for _, f := range Forms() {
		_, err := Export(context.Background(), st, ExportJob{What: Vines, Form: f.Form, Season: 2025, Now: clock}, &bytes.Buffer{})
		require.NoError(t, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Export(ctx, st, ExportJob{What: Vines, Form: GeoPackage, Season: 2025, Now: clock}, &bytes.Buffer{})
	require.Error(t, err)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
}
