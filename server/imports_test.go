package server

import (
	"bytes"
	"encoding/json"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/server/work"
)

// files makes the body of an import: an order, and files by name.
func files(t *testing.T, order string, files ...[2]string) (body, kind string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	if order != "" {
		require.NoError(t, w.WriteField("order", order))
	}
	for _, f := range files {
		part, err := w.CreateFormFile("file", f[0])
		require.NoError(t, err)
		_, err = part.Write([]byte(f[1]))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return b.String(), w.FormDataContentType()
}

func onDisk(t *testing.T, path string) [2]string {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return [2]string{filepath.Base(path), string(b)}
}

const casesDir = "../testdata/import/"

// A try keeps nothing and says the same as the import that follows; taken in
// again, nothing changes.
func TestImports_TryThenDo(t *testing.T) {
	f := newFixture(t)
	body, kind := files(t, `{"form":"auto","season":2025}`, onDisk(t, "../testdata/base/blocks.geojson"), onDisk(t, "../testdata/base/rows.geojson"), onDisk(t, "../testdata/base/vines.csv"))
	var tried, did, again work.Report
	for path, into := range map[string]*work.Report{"/api/imports/try": &tried} {
		a := f.ask(http.MethodPost, path, body, "Content-Type", kind)
		require.Equal(t, http.StatusOK, a.status, "%s", a.body)
		require.NoError(t, json.Unmarshal(a.body, into))
	}
	require.True(t, tried.DryRun)
	require.Equal(t, work.Count{Read: 168, Made: 168}, tried.Vines)
	require.Len(t, tried.Seen, 3)
	require.Len(t, tried.Seen[1].Shapes, 8)
	require.Equal(t, "line", tried.Seen[1].Shapes[0].Kind)
	require.Len(t, tried.Seen[2].Lines, 20)
	blocks, err := f.store.Blocks(t.Context())
	require.NoError(t, err)
	require.Len(t, blocks, 2, "nothing was kept")
	for _, into := range []*work.Report{&did, &again} {
		a := f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind)
		require.Equal(t, http.StatusOK, a.status, "%s", a.body)
		require.NoError(t, json.Unmarshal(a.body, into))
	}
	require.Equal(t, []work.Count{tried.Blocks, tried.Rows, tried.Vines}, []work.Count{did.Blocks, did.Rows, did.Vines})
	require.Equal(t, tried.Records, did.Records)
	require.False(t, again.Changed())
}

// A refusal is a client's error with what is wrong and the question that would
// settle it; nothing is kept.
func TestImports_Refusals(t *testing.T) {
	f := newFixture(t)
	for _, c := range []struct {
		name, order string
		file        [2]string
		status      int
		detail, ask string
	}{
		{"metres", "", onDisk(t, casesDir+"o04_metres_no_crs.geojson"), 422, "cannot be a longitude", "crs"},
		{"a comma too many", "", onDisk(t, casesDir+"o17_trailing_comma.geojson"), 422, "line 46", ""},
		{"swells", "", onDisk(t, casesDir+"o20_padded_200MB.geojson.gz"), 413, "swells beyond reason", ""},
		{"several kinds", "", onDisk(t, casesDir+"o42_waypoints_route_two_segments.gpx"), 422, "more than one kind of things", "layers"},
		{"no file", "{}", [2]string{}, 422, "no file is named", ""},
		{"an order that is not one", `{"colour":1}`, onDisk(t, casesDir+"o22_utf8_bom.csv"), 400, "unknown field", ""},
		{"a form that is not one", `{"form":"drawing"}`, onDisk(t, casesDir+"o22_utf8_bom.csv"), 422, "not a form of file", ""},
		{"a mark that is not one", `{"decimal":"dot"}`, onDisk(t, casesDir+"o22_utf8_bom.csv"), 422, "not a decimal mark", ""},
		{"a day that is not one", `{"date":"31.1.2027"}`, onDisk(t, casesDir+"o22_utf8_bom.csv"), 422, "2027-01-31", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := [][2]string{c.file}
			if c.file[0] == "" {
				list = nil
			}
			body, kind := files(t, c.order, list...)
			a := f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind)
			require.Equal(t, c.status, a.status, "%s", a.body)
			require.Equal(t, "application/problem+json", a.header.Get("Content-Type"))
			var got struct {
				Detail string
				Report work.Report
			}
			require.NoError(t, json.Unmarshal(dropProblems(t, a.body), &got))
			require.Contains(t, got.Detail, c.detail)
			require.Contains(t, string(a.body), c.ask)
		})
	}
	body, kind := files(t, "", onDisk(t, casesDir+"o19_rows.geojson.gz"))
	require.Equal(t, 415, f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind, "Content-Encoding", "gzip").status)
	require.Equal(t, 415, f.ask(http.MethodPost, "/api/imports", "{}", "Content-Type", "application/json").status)
	require.Equal(t, 400, f.ask(http.MethodPost, "/api/imports", "--", "Content-Type", kind).status)
	var fields struct {
		Fields []struct {
			Name  string
			Units []string
		}
	}
	f.get("/api/imports").into(t, &fields)
	require.Contains(t, fields.Fields, struct {
		Name  string
		Units []string
	}{"pruning_weight", []string{"g", "kg", "oz", "lb"}})
}

// dropProblems takes the list of problems out of an answer: it is written to be
// read by people and pages, not back by the program.
func dropProblems(t *testing.T, body []byte) []byte {
	t.Helper()
	var all map[string]any
	require.NoError(t, json.Unmarshal(body, &all))
	if report, ok := all["report"].(map[string]any); ok {
		delete(report, "problems")
	}
	out, err := json.Marshal(all)
	require.NoError(t, err)
	return out
}

// What was imported is listed and can be taken back; what a crew recorded on it
// since keeps it, and is named.
func TestImports_Undo(t *testing.T) {
	f := newFixture(t)
	body, kind := files(t, `{"season":2025,"by":"Ana"}`, onDisk(t, "../testdata/base/blocks.geojson"), onDisk(t, "../testdata/base/rows.geojson"))
	var report work.Report
	a := f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind)
	require.NoError(t, json.Unmarshal(a.body, &report))
	require.NotEmpty(t, report.ID)
	var list struct{ Imports []work.Taken }
	f.get("/api/imports/done").into(t, &list)
	require.Len(t, list.Imports, 1)
	require.Equal(t, []any{report.ID, "Ana", 168}, []any{list.Imports[0].ID, list.Imports[0].By, list.Imports[0].Vines.Made})
	require.Nil(t, list.Imports[0].Trace, "how it could be taken back is no client's business")

	var tried, did work.UndoReport
	url := "/api/imports/" + report.ID + "/undo"
	f.send(t, http.MethodPost, url+"/try", map[string]any{}, 200, &tried)
	require.Equal(t, 168, tried.Vines.Gone)
	f.get("/api/blocks/B1?season=2027").into(t, &struct{}{})

	found, err := f.store.FindLabel(t.Context(), "B1/1/1")
	require.NoError(t, err)
	dead := map[string]any{"id": "0192f000-0000-7000-8000-0000000000a1", "device": "phone", "seq": 1, "at": "2027-01-20T10:00:00Z", "season": 2027, "block": found[0].Block, "vines": []int64{found[0].ID}, "kind": "condition", "value": map[string]any{"condition": "dead"}}
	f.send(t, http.MethodPost, "/api/events", map[string]any{"sent_at": "2027-01-20T10:00:00Z", "events": []any{dead}}, 200, nil)
	a = f.ask(http.MethodPost, url, map[string]any{})
	require.Equal(t, 409, a.status, "%s", a.body)
	require.Contains(t, string(a.body), "nothing was changed: vine B1/1/1 was recorded since: dead")
	void := map[string]any{"id": "0192f000-0000-7000-8000-0000000000a2", "device": "phone", "seq": 2, "at": "2027-01-20T10:01:00Z", "season": 2027, "block": found[0].Block, "vines": []int64{found[0].ID}, "kind": "void", "value": map[string]any{"event": dead["id"]}}
	f.send(t, http.MethodPost, "/api/events", map[string]any{"sent_at": "2027-01-20T10:01:00Z", "events": []any{void}}, 200, nil)
	f.send(t, http.MethodPost, url, map[string]any{"by": "Bo"}, 200, &did)
	require.Equal(t, tried.Vines, did.Vines)
	require.Equal(t, 404, f.get("/api/blocks/B1?season=2027").status)
	var again work.UndoReport
	f.send(t, http.MethodPost, url, map[string]any{}, 200, &again)
	require.True(t, again.Already)
	require.Equal(t, "Bo", again.Import.Undone.By)
	require.Equal(t, 404, f.ask(http.MethodPost, "/api/imports/nothing/undo", map[string]any{}).status)
	require.Equal(t, 400, f.ask(http.MethodPost, url, map[string]any{"colour": 1}).status)
}

// An image is asked what it leaves open, and what it says becomes a measure of
// each vine.
func TestImports_Image(t *testing.T) {
	f := newFixture(t)
	body, kind := files(t, `{}`, onDisk(t, "../testdata/base/blocks.geojson"), onDisk(t, "../testdata/base/rows.geojson"))
	require.Equal(t, 200, f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind).status)
	image := onDisk(t, "../testdata/raster/o50b_nodata_undeclared.tif")
	order := map[string]any{}
	for _, c := range []struct {
		asked  string
		answer map[string]any
	}{
		{`"ask":{"option":"date"`, map[string]any{"date": "2025-08-01"}},
		{`"ask":{"option":"canopy_index"`, map[string]any{"units": map[string]string{"canopy_index": "NDVI"}}},
		{`"ask":{"option":"no_value","choices":["-9999","sure"]}`, map[string]any{"no_value": []float64{-9999}}},
	} {
		said, err := json.Marshal(order)
		require.NoError(t, err)
		body, kind = files(t, string(said), image)
		a := f.ask(http.MethodPost, "/api/imports/try", body, "Content-Type", kind)
		require.Equal(t, 200, a.status)
		require.Contains(t, string(a.body), c.asked)
		for k, v := range c.answer {
			order[k] = v
		}
	}
	said, err := json.Marshal(order)
	require.NoError(t, err)
	body, kind = files(t, string(said), image)
	var report work.Report
	a := f.ask(http.MethodPost, "/api/imports/try", body, "Content-Type", kind)
	require.NoError(t, json.Unmarshal(a.body, &report), "%s", a.body)
	require.Equal(t, work.FormImage, report.Seen[0].Form)
	require.Len(t, report.Seen[0].Shapes, 162, "of 168 vines 6 lie in the hole of the image")
	require.Len(t, report.Near, 9, "an outline and 8 rows")
	require.Equal(t, []work.Records{{What: "canopy_index", Made: 162}}, report.Records)
	require.Equal(t, 200, f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind).status)

	body, kind = files(t, `{"as":"rows","date":"2025-08-01"}`, image)
	a = f.ask(http.MethodPost, "/api/imports", body, "Content-Type", kind)
	require.Equal(t, 422, a.status)
	require.Contains(t, string(a.body), "an image cannot be a file of rows")
}
