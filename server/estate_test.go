package server

import (
	"bytes"
	"compress/gzip"

	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"courson/geo/frame"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.Cleanup(func(status int) {
		dropPostgis()
		os.Exit(status)
	}))
}

// The invented estate of these tests: two blocks a kilometre apart, so that at
// zoom 17 no tile shows both.
const (
	testRows  = 4
	testVines = 10 // in a row
	rowM      = 2.5
	vineM     = 1.2
)

var (
	testNow = time.Date(2027, time.January, 20, 10, 0, 0, 0, time.UTC) // season 2027
	homeAt  = orb.Point{8.12, 49.21}
	farAt   = orb.Point{8.134, 49.21}
)

// testBlock is a block as the tests know it.
type testBlock struct {
	store.Block
	rows  []store.Row
	vines []store.Vine
}

// plantBlock writes a block of rows running north.
func plantBlock(tx store.Tx, code string, at orb.Point, planted int) (testBlock, error) {
	return plantBlockOf(tx, code, at, planted, testRows, testVines)
}

// plantBlockOf writes a block of so many rows of so many vines.
func plantBlockOf(tx store.Tx, code string, at orb.Point, planted, rows, inRow int) (testBlock, error) {
	f := frame.New(at)
	width, height := rowM*float64(rows), vineM*float64(inRow)
	ring := orb.Ring{f.Inverse(0, 0), f.Inverse(width, 0), f.Inverse(width, height), f.Inverse(0, height), f.Inverse(0, 0)}
	b := testBlock{Block: store.Block{Code: code, Name: "Block " + code, Variety: "Riesling", Planted: planted,
		RowSpacingM: rowM, VineSpacingM: vineM, System: "single cane", Outline: orb.MultiPolygon{{ring}}}}
	blocks := []store.Block{b.Block}
	if err := tx.SaveBlocks(blocks); err != nil {
		return b, err
	}
	b.Block = blocks[0]
	for r := range rows {
		x := (float64(r) + 0.5) * rowM
		b.rows = append(b.rows, store.Row{Block: b.ID, Label: fmt.Sprint(r + 1), Ord: r + 1, LengthM: height,
			Line: orb.MultiLineString{{f.Inverse(x, 0), f.Inverse(x, height)}}})
	}
	if err := tx.SaveRows(b.rows); err != nil {
		return b, err
	}
	for r := range rows {
		for v := range inRow {
			along := (float64(v) + 0.5) * vineM
			b.vines = append(b.vines, store.Vine{Block: b.ID, Row: b.rows[r].ID, Number: v + 1,
				Point: f.Inverse((float64(r)+0.5)*rowM, along), ChainageM: along})
		}
	}
	return b, tx.SaveVines(b.vines)
}

// place is a store to test with.
type place struct {
	name string
	// open opens the store; a second call opens the same data again, as another
	// process would.
	open func(t testing.TB) store.Store
}

// gpkgPlace is a GeoPackage file in a folder of the test's own.
func gpkgPlace(t testing.TB) place {
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	return place{"gpkg", func(t testing.TB) store.Store {
		st, err := gpkg.Open(t.Context(), path, gpkg.Options{Create: true})
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, st.Close()) })
		return st
	}}
}

// fixture is a planted estate and a server for it.
type fixture struct {
	t      testing.TB
	place  place
	store  store.Store
	home   testBlock
	far    testBlock
	server *Server
	web    *httptest.Server
	seq    uint64
}

// newFixture plants the estate in a GeoPackage and serves it.
func newFixture(t testing.TB, change ...func(*Config)) *fixture {
	return newFixtureIn(t, gpkgPlace(t), change...)
}

func newFixtureIn(t testing.TB, p place, change ...func(*Config)) *fixture {
	f := &fixture{t: t, place: p, store: p.open(t)}
	err := f.store.Update(t.Context(), func(tx store.Tx) (err error) {
		if err = tx.SaveEstate(store.Estate{Name: "Trockenried", Zone: "Europe/Berlin", ScoreScale: "1-5"}); err != nil {
			return err
		}
		if f.home, err = plantBlock(tx, "H3", homeAt, 2005); err != nil {
			return err
		}
		f.far, err = plantBlock(tx, "L1", farAt, 2020)
		return err
	})
	require.NoError(t, err)
	f.server, f.web = serve(t, f.store, change...)
	return f
}

// serve starts a server for a store.
func serve(t testing.TB, st store.Store, change ...func(*Config)) (*Server, *httptest.Server) {
	cfg := Config{Store: st, Now: func() time.Time { return testNow }, Version: "test", Pages: testPages(),
		FindAfter: time.Hour} // findings come in tests of their own
	for _, c := range change {
		c(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	web := httptest.NewServer(s.Handler())
	t.Cleanup(func() {
		require.NoError(t, s.Close())
		web.CloseClientConnections()
		web.Close()
	})
	return s, web
}

func testPages() fstest.MapFS {
	return fstest.MapFS{
		"report.html":       {Data: []byte("<!doctype html><title>Report</title>")},
		"index.html":        {Data: []byte("<!doctype html><title>Courson</title>" + strings.Repeat("<p>vine", 400))},
		"map/main.js":       {Data: []byte("export {};")},
		"vendor/map.mjs":    {Data: []byte("export {};")},
		"app.webmanifest":   {Data: []byte("{}")},
		"text/letter.woff2": {Data: []byte("wOF2")},
	}
}

// answer is what a request came to, uncompressed.
type answer struct {
	status int
	header http.Header
	body   []byte
}

// ask sends a request with headers given as name, value, …
func (f *fixture) ask(method, path string, body any, headers ...string) answer {
	f.t.Helper()
	return askAt(f.t, f.web.URL, method, path, body, headers...)
}

func (f *fixture) get(path string, headers ...string) answer {
	f.t.Helper()
	return f.ask(http.MethodGet, path, nil, headers...)
}

func askAt(t testing.TB, base, method, path string, body any, headers ...string) answer {
	t.Helper()
	var send io.Reader
	switch b := body.(type) {
	case nil:
	case string:
		send = strings.NewReader(b)
	default:
		raw, err := json.Marshal(b)
		require.NoError(t, err)
		send = bytes.NewReader(raw)
	}
	req, err := http.NewRequestWithContext(t.Context(), method, base+path, send)
	require.NoError(t, err)
	if send != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	req.Header.Set("Accept-Encoding", "gzip")
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			req.Host = headers[i+1]
			continue
		}
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := (&http.Client{Transport: &http.Transport{DisableKeepAlives: true, DisableCompression: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	if res.Header.Get("Content-Encoding") == "gzip" && len(raw) > 0 {
		zr, err := gzip.NewReader(bytes.NewReader(raw))
		require.NoError(t, err)
		raw, err = io.ReadAll(zr)
		require.NoError(t, err)
	}
	return answer{res.StatusCode, res.Header, raw}
}

// into decodes a JSON answer of status 200.
func (a answer) into(t testing.TB, v any) {
	t.Helper()
	require.Equal(t, http.StatusOK, a.status, "%s", a.body)
	require.NoError(t, json.Unmarshal(a.body, v), "%s", a.body)
}

// problem decodes an error answer and checks its form.
func (a answer) problem(t testing.TB) problem {
	t.Helper()
	var p problem
	require.Equal(t, "application/problem+json", a.header.Get("Content-Type"), "%s", a.body)
	require.NoError(t, json.Unmarshal(a.body, &p))
	require.Equal(t, a.status, p.Status)
	require.NotEmpty(t, p.Title)
	require.NotEmpty(t, p.Detail)
	require.Regexp(t, `^urn:uuid:[0-9a-f-]{36}$`, p.Instance)
	return p
}

// event makes an event as a phone would.
func (f *fixture) event(b testBlock, kind vine.Kind, value any, vines ...vine.ID) map[string]any {
	f.seq++
	id, err := uuid.NewV7()
	require.NoError(f.t, err)
	return map[string]any{"id": id.String(), "device": "phone-1", "seq": f.seq, "at": testNow.Add(-time.Minute), "by": "Ada",
		"season": 2027, "block": b.ID, "vines": vines, "kind": kind, "value": value}
}

func (f *fixture) done(b testBlock, vines ...vine.ID) map[string]any {
	return f.event(b, vine.KindWork, map[string]any{"operation": "pruning", "progress": "done"}, vines...)
}

// post sends events and gives the answers.
func (f *fixture) post(events ...map[string]any) batchAnswer {
	f.t.Helper()
	var ans batchAnswer
	f.ask(http.MethodPost, "/api/events", map[string]any{"sent_at": testNow, "events": events}).into(f.t, &ans)
	return ans
}

// tilePath is the vector tile of a zoom over a block's first vine.
func tilePath(t testing.TB, b testBlock, z uint8) string {
	at, err := tile.At(b.vines[0].Point[0], b.vines[0].Point[1], z)
	require.NoError(t, err)
	return fmt.Sprintf("/tiles/2027/%s.mvt", at)
}
