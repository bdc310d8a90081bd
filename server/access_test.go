package server

import (
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/server/access"
	"courson/store"
)

const goodPassword = "vier Reben am Hang"

// gated is the estate with users, and a clock that tests move.
type gated struct {
	*fixture
	clock *atomic.Int64
}

// newGated makes an estate with a user of every role: Ada manages, Ben is the
// agronomist, Cia looks, Dan belongs to the crew North.
func newGated(t testing.TB, p place, change ...func(*Config)) *gated {
	clock := &atomic.Int64{}
	clock.Store(testNow.UnixNano())
	now := func() time.Time { return time.Unix(0, clock.Load()).UTC() }
	f := newFixtureIn(t, p, append([]func(*Config){func(c *Config) {
		c.Now = now
		c.Pages = pagesWith(map[string]string{"signin.html": `<form method="post"><p id="wrong" hidden>wrong</p><p id="often" hidden>often</p></form>`, "join.html": "join"})
	}}, change...)...)
	g := access.New(access.Config{Store: f.store, Now: now})
	for _, u := range []access.UserChange{{Name: "Ada", Role: access.RoleManager}, {Name: "Ben", Role: access.RoleAgronomist},
		{Name: "Cia", Role: access.RoleViewer}, {Name: "Dan", Role: access.RoleCrew, Crew: "North"}} {
		u.Password = goodPassword
		_, _, err := g.SaveUser(t.Context(), "test", u)
		require.NoError(t, err)
	}
	return &gated{f, clock}
}

func (g *gated) wait(d time.Duration) { g.clock.Add(int64(d)) }

// cookieOf gives the cookie that an answer sets.
func cookieOf(t testing.TB, a answer) *http.Cookie {
	t.Helper()
	list := (&http.Response{Header: a.header}).Cookies()
	require.Len(t, list, 1, "status %d: %s", a.status, a.body)
	return list[0]
}

func with(c *http.Cookie) []string { return []string{"Cookie", c.Name + "=" + c.Value} }

// signIn gives the headers of a session.
func (g *gated) signIn(name string) []string {
	g.t.Helper()
	a := g.ask(http.MethodPost, "/api/signin", map[string]string{"name": name, "password": goodPassword})
	require.Equal(g.t, http.StatusOK, a.status, "%s", a.body)
	return with(cookieOf(g.t, a))
}

// token gives the headers of a program.
func (g *gated) token(role string) []string {
	g.t.Helper()
	var made tokenMade
	g.made(http.MethodPost, "/api/tokens", map[string]any{"name": "probe " + role, "role": role}, &made)
	return []string{"Authorization", "Bearer " + made.Secret}
}

func (g *gated) made(method, path string, body, into any) {
	g.t.Helper()
	a := g.ask(method, path, body, g.signIn("Ada")...)
	require.Equal(g.t, http.StatusCreated, a.status, "%s", a.body)
	a.status = http.StatusOK
	a.into(g.t, into)
}

// link makes a link and gives it with its code.
func (g *gated) link(crew string) (linkMade, string) {
	g.t.Helper()
	var made linkMade
	g.made(http.MethodPost, "/api/crew-links", map[string]any{"crew": crew}, &made)
	return made, strings.TrimPrefix(made.Path, "/join#")
}

// join gives the headers of a device that has joined, and its link.
func (g *gated) join(crew string) ([]string, linkMade) {
	g.t.Helper()
	l, code := g.link(crew)
	a := g.ask(http.MethodPost, "/api/join", map[string]string{"code": code, "device": "Ana's phone"})
	require.Equal(g.t, http.StatusOK, a.status, "%s", a.body)
	return with(cookieOf(g.t, a)), l
}

// order keeps a crew's order for rows of a block.
func (g *gated) order(key, crew, state string, b testBlock, rows ...int) {
	g.t.Helper()
	list := make([]string, len(rows))
	for i, r := range rows {
		list[i] = fmt.Sprintf(`{"row": %d}`, b.rows[r].ID)
	}
	value := fmt.Sprintf(`{"crew": %q, "block": %d, "state": %q, "season": 2027, "rows": [%s]}`, crew, b.ID, state, strings.Join(list, ","))
	require.NoError(g.t, g.store.Update(g.t.Context(), func(tx store.Tx) error {
		return tx.SavePaper(store.Paper{Kind: "order", Key: key, Season: 2027, Block: b.ID, Value: []byte(value)})
	}))
}

// What each role may do, said apart from the table of the program: reading is for
// all but crews, writing for agronomists and managers; these are the exceptions.
var (
	forAll = []string{"GET /signin", "POST /signin", "GET /join", "POST /api/signin", "POST /api/signout", "POST /api/join",
		"GET /assets/*", "GET /healthz", "GET /readyz", "GET /field/sw.js", "GET /field/app.webmanifest"}
	alsoForCrews = []string{"GET /field", "GET /people", "GET /api/field", "GET /api/me", "POST /api/events", "PUT /api/me/password"}
	alsoForView  = []string{"PUT /api/me/password", "POST /api/pruning/renewal"}
	notForView   = []string{"GET /import", "GET /api/imports", "GET /api/imports/done"}
	forManagers  = []string{"GET /api/users", "GET /api/users/{name}", "PUT /api/users/{name}", "DELETE /api/users/{name}",
		"GET /api/tokens", "POST /api/tokens", "DELETE /api/tokens/{id}", "GET /api/crew-links", "POST /api/crew-links",
		"DELETE /api/crew-links/{id}", "GET /api/audit", "PUT /api/crews/{name}", "DELETE /api/crews/{name}",
		"PUT /api/operations", "PUT /api/progress/deadline",
		"GET /ground", "POST /api/blocks", "POST /api/blocks/try", "POST /api/blocks/{block}/rows", "POST /api/blocks/{block}/rows/try",
		"POST /api/blocks/{block}/numbers", "POST /api/blocks/{block}/numbers/try", "POST /api/blocks/{block}/split", "POST /api/blocks/{block}/split/try",
		"POST /api/blocks/{block}/join", "POST /api/blocks/{block}/join/try", "DELETE /api/blocks/{block}/ground/{id}"}
)

func mayDo(role, route string) bool {
	switch {
	case slices.Contains(forAll, route), role == "manager":
		return true
	case role == "crew":
		return slices.Contains(alsoForCrews, route)
	case slices.Contains(forManagers, route):
		return false
	case role == "viewer":
		return strings.HasPrefix(route, "GET ") && !slices.Contains(notForView, route) || slices.Contains(alsoForView, route)
	}
	return role == "agronomist"
}

// isPage tells a page for people from what programs ask for.
func isPage(route string) bool {
	path, get := strings.CutPrefix(route, "GET ")
	for _, p := range []string{"/api/", "/ogc", "/tiles/", "/base/", "/metrics"} {
		get = get && !strings.HasPrefix(path, p)
	}
	return get
}

func TestAccess_EveryRouteEveryRole(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	device, _ := g.join("North")
	callers := []struct {
		name, role string
		headers    []string
	}{
		{"nobody", "", nil},
		{"manager", "manager", g.signIn("Ada")}, {"agronomist", "agronomist", g.signIn("Ben")},
		{"viewer", "viewer", g.signIn("Cia")}, {"crew", "crew", g.signIn("Dan")}, {"device", "crew", device},
		{"manager's token", "manager", g.token("manager")}, {"agronomist's token", "agronomist", g.token("agronomist")},
		{"viewer's token", "viewer", g.token("viewer")},
		{"forged cookie", "", []string{"Cookie", "courson=" + strings.Repeat("A", 43)}},
		{"forged token", "", []string{"Authorization", "Bearer courson_" + strings.Repeat("A", 43)}},
	}
	fill := strings.NewReplacer("{block}", "H3", "{season}", "2027", "{theme}", "condition", "{z}", "1", "{x}", "0", "{y}", "0",
		"{id}", "7", "{name}", "nobody", "{collection}", "vines", "/*", "/map/main.js")
	for _, rt := range g.server.routes() {
		route := rt.method + " " + rt.pattern
		path, method, body := fill.Replace(rt.pattern), rt.method, any(nil)
		if unlimited(rt.pattern) {
			method = http.MethodHead // it would not end
		}
		if rt.method != http.MethodGet {
			body = "{}"
		}
		for _, c := range callers {
			headers := c.headers
			if rt.pattern == "/api/signout" {
				headers = nil // the others still need their sessions
			}
			a := g.ask(method, path, body, headers...)
			at := fmt.Sprintf("%s as %s: %d %s", route, c.name, a.status, a.body)
			switch {
			case mayDo(c.role, route) && (c.role != "" || slices.Contains(forAll, route)):
				if route != "POST /api/signin" {
					assert.NotContains(t, []int{http.StatusUnauthorized, http.StatusSeeOther}, a.status, at)
				}
				if route != "POST /api/join" { // refused for want of a code
					assert.NotEqual(t, http.StatusForbidden, a.status, at)
				}
				assert.NotEqual(t, http.StatusInternalServerError, a.status, at)
			case c.role != "":
				assert.Equal(t, http.StatusForbidden, a.status, at)
			case isPage(route):
				assert.Equal(t, http.StatusSeeOther, a.status, at)
				assert.Equal(t, "/signin?then="+url.QueryEscape(path), a.header.Get("Location"), at)
			default:
				assert.Equal(t, http.StatusUnauthorized, a.status, at)
				assert.Contains(t, a.header.Get("WWW-Authenticate"), "Bearer", at)
			}
		}
	}
}

// A route that nobody put into the table is for nobody.
func TestAccess_EveryRouteHasARule(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	for _, rt := range g.server.routes() {
		_, ok := access.RuleOf(rt.method, rt.pattern)
		assert.True(t, ok, "%s %s: say in server/access/rules.go who may use it", rt.method, rt.pattern)
	}
	called := false
	h := g.server.guard(route{method: http.MethodGet, pattern: "/new"}, http.HandlerFunc(func(http.ResponseWriter, *http.Request) { called = true }))
	r := requestOver(t, nil)
	r.Header.Set("Cookie", g.signIn("Ada")[1])
	rec := &recorder{ResponseWriter: discard{}}
	h.ServeHTTP(rec, r)
	assert.Equal(t, http.StatusForbidden, rec.status)
	assert.False(t, called)
}

// discard is an answer that nobody reads.
type discard struct{}

func (discard) Header() http.Header         { return http.Header{} }
func (discard) Write(p []byte) (int, error) { return len(p), nil }
func (discard) WriteHeader(int)             {}

// Without users everybody on this machine may do everything, and only they.
func TestAccess_Open(t *testing.T) {
	f := newFixture(t)
	var me meJSON
	f.get("/api/me").into(t, &me)
	assert.Equal(t, meJSON{Role: "open"}, me)
	assert.Equal(t, http.StatusOK, f.get("/api/audit").status)
	h := f.server.guard(route{method: http.MethodGet, pattern: "/api/estate"}, f.server.wrap(f.server.getEstate))
	r := requestOver(t, tcp("192.0.2.7"))
	rec := &recorder{ResponseWriter: discard{}}
	h.ServeHTTP(rec, r)
	assert.Equal(t, http.StatusForbidden, rec.status, "another machine")

	_, _, err := access.New(access.Config{Store: f.store}).SaveUser(t.Context(), "test", access.UserChange{Name: "Ada", Role: "manager", Password: goodPassword})
	require.NoError(t, err)
	assert.Equal(t, http.StatusUnauthorized, f.get("/api/me").status, "from the first user on, also on a running server")
	assert.Equal(t, http.StatusUnauthorized, f.get("/api/me", "Authorization", "Basic QWRhOng=").status, "a proxy's password is none of ours")
}

func TestAccess_OpenOnThisMachine(t *testing.T) {
	g := newGated(t, gpkgPlace(t), func(c *Config) { c.Access.OpenHere = true })
	assert.Equal(t, http.StatusOK, g.get("/api/estate").status)
	for _, name := range []string{"X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"} {
		assert.Equal(t, http.StatusUnauthorized, g.get("/api/estate", name, "192.0.2.7").status, "passed on by a proxy: %s", name)
	}
	var me meJSON
	g.get("/api/me", g.signIn("Cia")...).into(t, &me)
	assert.Equal(t, "Cia", me.Name, "who signs in is known")
}

// Writes with a cookie are for JSON from our own pages only.
func TestAccess_ForeignPages(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	ada := g.signIn("Ada")
	for _, headers := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://evil.example"}} {
		for _, c := range []struct{ method, path string }{{http.MethodPost, "/api/events"}, {http.MethodPut, "/api/users/Eve"},
			{http.MethodDelete, "/api/users/Cia"}, {http.MethodPost, "/api/tokens"}, {http.MethodPost, "/api/signout"}} {
			a := g.ask(c.method, c.path, "{}", append(slices.Clone(ada), headers...)...)
			assert.Equal(t, http.StatusForbidden, a.status, "%s %s", c.method, c.path)
		}
	}
	for _, kind := range []string{"text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""} {
		for method, path := range map[string]string{http.MethodPost: "/api/events", http.MethodPut: "/api/users/Eve"} {
			a := g.ask(method, path, "{}", append(slices.Clone(ada), "Content-Type", kind)...)
			assert.Equal(t, http.StatusUnsupportedMediaType, a.status, "%s as %q", path, kind)
		}
	}
	assert.Equal(t, http.StatusOK, g.get("/api/users/Cia", ada...).status, "still there")
}

func TestAccess_TwoServers(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		g := newGated(t, p)
		_, other := serve(t, p.open(t), func(c *Config) { c.Now = g.server.cfg.Now })
		there := func(headers []string, path string) int {
			return askAt(t, other.URL, http.MethodGet, path, nil, headers...).status
		}
		cia, again := g.signIn("Cia"), g.signIn("Cia")
		assert.Equal(t, 200, there(cia, "/api/estate"))
		assert.Equal(t, http.StatusNoContent, g.ask(http.MethodPost, "/api/signout", map[string]bool{"everywhere": true}, cia...).status)
		assert.Equal(t, 401, there(cia, "/api/estate"))
		assert.Equal(t, 401, there(again, "/api/estate"))

		cia = g.signIn("Cia")
		a := g.ask(http.MethodPut, "/api/me/password", map[string]string{"now": goodPassword, "new": "sieben Reben im Tal"}, cia...)
		require.Equal(t, 200, a.status, "%s", a.body)
		assert.Equal(t, 401, there(cia, "/api/estate"))
		assert.Equal(t, 200, there(with(cookieOf(t, a)), "/api/estate"))

		device, link := g.join("North")
		g.order("1", "North", "open", g.home, 0)
		assert.Equal(t, 200, there(device, "/api/field"))
		assert.Equal(t, 403, there(device, "/api/estate"))
		assert.Equal(t, http.StatusNoContent, g.ask(http.MethodDelete, "/api/crew-links/"+link.ID, nil, g.signIn("Ada")...).status)
		assert.Equal(t, 401, there(device, "/api/field"), "withdrawn")
		assert.Equal(t, 401, g.get("/api/field", device...).status)

		ben := g.signIn("Ben")
		require.Equal(t, http.StatusNoContent, g.ask(http.MethodDelete, "/api/users/ben", nil, g.signIn("Ada")...).status)
		assert.Equal(t, 401, there(ben, "/api/estate"))

		dan := g.signIn("Dan")
		g.wait(24 * time.Hour)
		assert.Equal(t, 401, there(dan, "/api/me"), "not used for a day")
	})
}

func tcp(ip string) net.Addr { return &net.TCPAddr{IP: net.ParseIP(ip)} }

// pagesWith is the pages of the tests and some more.
func pagesWith(more map[string]string) fstest.MapFS {
	pages := testPages()
	for name, text := range more {
		pages[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return pages
}
