package server

import (
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRoutes(t *testing.T) {
	f := newFixture(t)
	block := strconv.FormatInt(f.home.ID, 10)
	vine := strconv.FormatInt(f.home.vines[3].ID, 10)
	for _, c := range []struct {
		name, path  string
		status      int
		contentType string
	}{
		{"map page", "/", 200, "text/html; charset=utf-8"},
		{"report page", "/report", 200, "text/html; charset=utf-8"},
		{"module", "/assets/map/main.js", 200, "text/javascript; charset=utf-8"},
		{"module of another ending", "/assets/vendor/map.mjs", 200, "text/javascript; charset=utf-8"},
		{"manifest", "/assets/app.webmanifest", 200, "application/manifest+json"},
		{"font", "/assets/text/letter.woff2", 200, "font/woff2"},
		{"asset that is not there", "/assets/map/other.js", 404, "application/problem+json"},
		{"folder of assets", "/assets/map", 404, "application/problem+json"},
		{"estate", "/api/estate", 200, "application/json"},
		{"blocks", "/api/blocks?season=2027", 200, "application/json"},
		{"blocks of the season to open", "/api/blocks", 200, "application/json"},
		{"blocks of a season out of range", "/api/blocks?season=1999", 404, "application/problem+json"},
		{"blocks of no season", "/api/blocks?season=x", 404, "application/problem+json"},
		{"block by id", "/api/blocks/" + block, 200, "application/json"},
		{"block by code", "/api/blocks/H3?season=2027", 200, "application/json"},
		{"block by code in lower case", "/api/blocks/h3", 200, "application/json"},
		{"no such block", "/api/blocks/Q9", 404, "application/problem+json"},
		{"stand", "/api/blocks/H3/stand/2027", 200, "application/vnd.courson.stand"},
		{"stand since", "/api/blocks/H3/stand/2027?since=0", 200, "application/json"},
		{"stand since nonsense", "/api/blocks/H3/stand/2027?since=-1", 400, "application/problem+json"},
		{"stand of no block", "/api/blocks/Q9/stand/2027", 404, "application/problem+json"},
		{"stand of no season", "/api/blocks/H3/stand/3027", 404, "application/problem+json"},
		{"vine", "/api/vines/" + vine, 200, "application/json"},
		{"no such vine", "/api/vines/999999999", 404, "application/problem+json"},
		{"no vine at all", "/api/vines/H3", 404, "application/problem+json"},
		{"find", "/api/vines?find=H3/1/4", 200, "application/json"},
		{"find nothing", "/api/vines", 400, "application/problem+json"},
		{"legends", "/api/legends", 200, "application/json"},
		{"description", "/api/openapi.json", 200, "application/json"},
		{"tilejson", "/tiles/2027.json", 200, "application/json"},
		{"tilejson of no season", "/tiles/1700.json", 404, "application/problem+json"},
		{"tilejson without its ending", "/tiles/2027", 404, "application/problem+json"},
		{"tile", tilePath(t, f.home, 17), 200, "application/vnd.mapbox-vector-tile"},
		{"picture", picturePath(t, f.home, "condition", 17), 200, "image/png"},
		{"picture of no theme", picturePath(t, f.home, "weather", 17), 404, "application/problem+json"},
		{"base map that is not there", "/base/1/0/0", 404, "application/problem+json"},
		{"health", "/healthz", 200, "text/plain; charset=utf-8"},
		{"ready", "/readyz", 200, "text/plain; charset=utf-8"},
		{"unknown", "/api/unknown", 404, "application/problem+json"},
		{"unknown at the top", "/admin", 404, "application/problem+json"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := f.get(c.path)
			require.Equal(t, c.status, a.status, "%s", a.body)
			assert.Equal(t, c.contentType, a.header.Get("Content-Type"))
			if c.status >= 400 {
				a.problem(t)
			}
			h := f.ask(http.MethodHead, c.path, nil)
			assert.Equal(t, c.status, h.status, "HEAD")
			assert.Empty(t, h.body, "HEAD has no body")
			assert.Equal(t, a.header.Get("ETag"), h.header.Get("ETag"), "HEAD has the same tag")
		})
	}
}

func TestWrongMethod(t *testing.T) {
	f := newFixture(t)
	for _, c := range []struct{ method, path, allow string }{
		{http.MethodPut, "/api/events", "GET, HEAD, POST"},
		{http.MethodPost, "/api/estate", "GET, HEAD"},
		{http.MethodPut, "/api/blocks", "GET, HEAD, POST"},
		{http.MethodDelete, "/api/blocks/H3", "GET, HEAD"},
		{http.MethodPut, "/tiles/2027/1/0/0.mvt", "GET, HEAD"},
	} {
		t.Run(c.method+" "+c.path, func(t *testing.T) {
			a := f.ask(c.method, c.path, nil)
			require.Equal(t, http.StatusMethodNotAllowed, a.status)
			assert.Equal(t, c.allow, a.header.Get("Allow"))
			a.problem(t)
		})
	}
}

func TestMetrics(t *testing.T) {
	f := newFixture(t)
	f.get(tilePath(t, f.home, 17))
	f.post(f.done(f.home, f.home.vines[0].ID))
	f.get("/api/blocks/H3")
	text := string(f.get("/metrics").body)
	for _, want := range []string{
		`courson_http_requests_total{method="GET",route="/api/blocks/{block}",status="200"} 1`,
		`courson_http_requests_total{method="GET",route="/tiles/{season}/{z}/{x}/{y}",status="200"} 1`,
		`courson_events_total{result="stored"} 1`,
		`courson_tiles_rendered_total{format="mvt"} 1`,
		`courson_stands_held 1`,
		"courson_stand_cache_bytes",
	} {
		assert.Contains(t, text, want)
	}
	for _, secret := range []string{"H3", strconv.FormatInt(f.home.ID, 10) + `"`} {
		assert.NotContains(t, text, `route="/api/blocks/`+secret, "routes are named by pattern")
	}
}

func TestAssets_Revalidated(t *testing.T) {
	f := newFixture(t)
	a := f.get("/")
	assert.Equal(t, "no-cache", a.header.Get("Cache-Control"))
	assert.Equal(t, "gzip", a.header.Get("Content-Encoding"))
	assert.True(t, strings.HasPrefix(string(a.body), "<!doctype html>"))
	again := f.get("/", "If-None-Match", a.header.Get("ETag"))
	assert.Equal(t, http.StatusNotModified, again.status)
	assert.Empty(t, again.body)
	plain := f.get("/", "Accept-Encoding", "identity")
	assert.Empty(t, plain.header.Get("Content-Encoding"))
	assert.Equal(t, a.body, plain.body)
	assert.NotEqual(t, a.header.Get("ETag"), plain.header.Get("ETag"), "other bytes, other strong tag")
	assert.Equal(t, http.StatusNotModified, f.get("/", "If-None-Match", `"x", W/`+plain.header.Get("ETag")).status)
}
